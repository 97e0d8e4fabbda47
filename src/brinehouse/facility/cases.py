"""One file under check: what was understood of it, the model made of that, and the text itself."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from brinehouse import findings
from brinehouse.facility import model, shape


@dataclass(frozen=True, slots=True)
class Case:
    """Everything a check may look at, and where it says what it found."""

    draft: shape.Draft
    facility: model.Facility
    raw: Mapping[str, Any]
    text: str

    def say(
        self,
        code: str,
        path: shape.Path,
        text: str,
        hint: str = "",
        *,
        key: bool = False,
        about: str = "",
        **data: Any,
    ) -> None:
        """A stopping finding."""
        self.draft.say(code, path, text, hint, key=key, about=about, **data)

    def ask(self, code: str, path: shape.Path, text: str, hint: str, *, about: str = "", **data: Any) -> None:
        """A finding that a person must answer before the thing in doubt is used."""
        self.draft.say(code, path, text, hint, level=findings.Level.ASK, about=about, **data)

    def note(
        self, code: str, path: shape.Path, text: str, hint: str, *, about: str = "", **data: Any
    ) -> None:
        """A finding that only says what was seen."""
        self.draft.say(code, path, text, hint, key=True, level=findings.Level.NOTE, about=about, **data)

    @property
    def broken(self) -> bool:
        """Whether a name of something is wrong: what hangs on the drawing is then not judged."""
        codes = {"facility/dangling", "facility/wrong-reference", "facility/negative-flow"}
        return any(found.code in codes for found in self.draft.said)
