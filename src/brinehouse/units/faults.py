"""What a written number or amount is when it cannot be understood, or was never measured."""

from __future__ import annotations

from dataclasses import dataclass


class NotUnderstood(ValueError):  # noqa: N818 (a refusal to guess, not an error of ours)
    """A written number, unit or amount that is refused: data for a finding, never shown raw.

    Attributes
    ----------
    code : str
        Permanent, e.g. ``units/unknown-unit``.
    found : str
        What was written.
    why : str
        What is wrong with it.
    hint : str
        What would be right.
    choices : tuple of str
        Where two readings are possible: what a person may choose from.
    """

    def __init__(self, code: str, found: str, why: str, hint: str, choices: tuple[str, ...] = ()) -> None:
        super().__init__(code, found, why, hint, choices)
        self.code = code
        self.found = found
        self.why = why
        self.hint = hint
        self.choices = choices

    def __str__(self) -> str:
        """One line, for a log or a test."""
        return f"{self.found!r}: {self.why}; {self.hint} [{self.code}]"


@dataclass(frozen=True, slots=True)
class Missing:
    """Nothing was measured: the text as typed, and why."""

    text: str
    why: str = "not measured"
