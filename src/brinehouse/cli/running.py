"""One command line: verbs loaded when they are called, one voice, no traceback.

Exit status: 0 fine, 1 findings that need a person, 2 refused.
"""

from __future__ import annotations

import importlib
import io
import os
import sys
from collections.abc import Sequence
from typing import Any

import click

from brinehouse import _version, findings

FINE, NEEDS_A_PERSON, REFUSED = 0, 1, 2
_ONLY_HELP: Any = getattr(click.exceptions, "NoArgsIsHelpError", ())  # click 8.1 has it not
_TRY = "\n    try: "  # parts a usage error from its way out

VERBS: dict[str, tuple[str, str]] = {
    "init": (
        "brinehouse.cli.starting:init",
        "Five questions, and a commented facility file that passes check.",
    ),
    "check": (
        "brinehouse.cli.starting:check",
        "Every fault of a facility file, with its place and a way out.",
    ),
    "set": ("brinehouse.cli.planting:set_", "Change one value of the plant; looked at first."),
    "words": ("brinehouse.cli.starting:words", "Every word a facility file knows."),
    "read": ("brinehouse.cli.reading:read", "Write one reading into the logbook."),
    "note": ("brinehouse.cli.reading:note", "Write a note into the logbook."),
    "round": ("brinehouse.cli.rounds:round_", "Which rounds are due, their stops, and a sheet to write on."),
    "import": ("brinehouse.cli.importing:import_", "Readings from a CSV, XLSX or JSON file; dry run first."),
    "imports": ("brinehouse.cli.importing:imports", "What was imported, and taking an import back whole."),
    "gas": ("brinehouse.cli.gas:gas", "The gas investigation, and its parts."),
    "flows": ("brinehouse.cli.flows:flows", "What the flows really are, and which meter does not fit."),
    "profile": (
        "brinehouse.cli.profile:profile",
        "Each system drawn the way its water goes: heights, static head, gas line.",
    ),
    "balance": (
        "brinehouse.cli.balance:balance",
        "Where the water settles, and what a change of plant would do.",
    ),
    "time-in-hand": (
        "brinehouse.cli.time_in_hand:time_in_hand",
        "Every failure: how long the animals have, and what to do first.",
    ),
    "standby": ("brinehouse.cli.standby:standby", "What standby pumps are worth, and what would help most."),
    "turns": ("brinehouse.cli.turns:turns", "Which pumps run tomorrow, and when each is due."),
    "settle": ("brinehouse.cli.asking:settle", "What a gas trial will settle at, and whether it is settled."),
    "instruments": (
        "brinehouse.cli.asking:instruments",
        "Which meter is off, and what each place really reads.",
    ),
    "ask": ("brinehouse.cli.asking:ask", "Any engine's question, from what it declares."),
    "now": ("brinehouse.cli.looking:now", "What is not as it should be, oldest first."),
    "notices": (
        "brinehouse.cli.notices:notices",
        "What asks somebody for something, how it stands, and how much of it there is.",
    ),
    "hand-over": ("brinehouse.cli.notices:hand_over", "What one shift tells the next, written by the day."),
    "log": ("brinehouse.cli.looking:log", "The logbook: filter, trail, supersede."),
    "verify": ("brinehouse.cli.looking:verify", "Walk the chain: has anything been changed?"),
    "people": ("brinehouse.cli.people:people", "Who may come in, and as what."),
    "backup": (
        "brinehouse.cli.keeping:backup",
        "Copy the whole hall, also while it is served; each copy is tried.",
    ),
    "restore": ("brinehouse.cli.keeping:restore", "Bring a hall back from a copy into an empty folder."),
    "doctor": ("brinehouse.cli.keeping:doctor", "Store, disk, clock, copies: is anything about to go wrong?"),
    "export": (
        "brinehouse.cli.keeping:export",
        "Everything out: CSV, SQLite, photos, and what each column means.",
    ),
    "move-in": ("brinehouse.cli.keeping:move_in", "Bring an export into an empty folder or database."),
    "serve": ("brinehouse.cli.serving:serve", "The pages, on this machine only."),
    "tls": ("brinehouse.cli.serving:tls", "The hall's own certificate authority, for pages by https."),
    "demo": ("brinehouse.cli.serving:demo", "Highmoor Sea Hall, an invented hall with hidden faults."),
    "sweep": (
        "brinehouse.cli.sweeping:sweep",
        "Intervals of time in hand over many samples; on a cluster too.",
    ),
    "warm": ("brinehouse.cli.warming:warm", "Compile once what 'how long have we got' is worked out by."),
}


class Verbs(click.Group):
    """A group that imports a verb's module only when the verb is used."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """In the order of the work, not of the alphabet."""
        return list(VERBS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Load one verb."""
        if cmd_name not in VERBS:
            return None
        module, _, name = VERBS[cmd_name][0].partition(":")
        return getattr(importlib.import_module(module), name)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """List the verbs from the table above, so that help loads nothing."""
        with formatter.section("Verbs"):
            formatter.write_dl([(name, text) for name, (_, text) in VERBS.items()])

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Name the nearest verb where one is misspelt."""
        if args and args[0] not in VERBS and not args[0].startswith("-"):
            from brinehouse import glossary

            near = glossary.nearest(args[0], list(VERBS))
            hint = f"did you mean '{near[0]}'?" if near else "'brinehouse --help' lists the verbs"
            raise click.UsageError(f"'{args[0]}' is not a verb{_TRY}{hint}")
        return super().resolve_command(ctx, args)


@click.group(
    cls=Verbs,
    subcommand_metavar="VERB ...",
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
)
@click.version_option(_version.__version__, message="brinehouse %(version)s")
def root() -> None:
    """Brinehouse: know the water, find out why, keep the plant running.

    It advises and records; it never commands equipment. FOLDER is always the last argument and is the
    current folder where it is left out. Every verb has --json.
    """


def run(arguments: Sequence[str]) -> int:
    """Run one command and give its exit status; whatever goes wrong ends in a sentence."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")  # a terminal without ΔP still gets its words
    if broken := [argument for argument in arguments if not _is_text(argument)]:
        return _refused([_not_text(broken[0])], arguments)
    try:
        answer: Any = root.main(args=list(arguments), prog_name="brinehouse", standalone_mode=False)
    except click.exceptions.Exit as stop:
        return stop.exit_code
    except (click.Abort, KeyboardInterrupt):
        sys.stderr.write("stopped\n")
        return REFUSED
    except _ONLY_HELP as fault:
        sys.stdout.write(f"{fault.format_message()}\n")
        return FINE
    except click.ClickException as fault:
        return _refused(_usage(fault), arguments)
    except BrokenPipeError:
        _leave_quietly()
        return FINE
    except Exception as fault:  # noqa: BLE001 - the last line before a person
        from brinehouse.workbench import mishaps

        return _refused(mishaps.told(fault), arguments)
    return answer if isinstance(answer, int) else FINE


def _is_text(argument: str) -> bool:
    """Whether a word can name a file: half a sign, as a broken paste leaves it, cannot."""
    try:
        os.fsencode(argument)
    except UnicodeEncodeError:
        return False
    return True


def _not_text(argument: str) -> findings.Finding:
    text = f"{argument!a} holds half a sign, which is no text"
    return findings.Finding(
        code="cli/not-text", level=findings.Level.STOP, text=text, hint="type the word anew"
    )


def _usage(fault: click.ClickException) -> Sequence[findings.Finding]:
    """What was typed that no verb understands, and where the way out is written."""
    path = fault.ctx.command_path if isinstance(fault, click.UsageError) and fault.ctx else "brinehouse"
    said, _, hint = fault.format_message().replace("\ue000", "").partition(_TRY)
    hint = hint or f"'{path} --help' says what it takes"
    return [findings.Finding(code="cli/usage", level=findings.Level.STOP, text=said.strip(), hint=hint)]


def _refused(found: Sequence[findings.Finding], arguments: Sequence[str]) -> int:
    """Say why, for a person or as JSON."""
    from brinehouse.cli import voice

    if "--json" in arguments:
        voice.say_json({"findings": [finding.as_json() for finding in found]})
    for finding in found:
        sys.stderr.write(voice.plain(finding) + "\n")
    return REFUSED


def _leave_quietly() -> None:
    """Whoever read our output has gone: what is still to be written goes nowhere."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, sys.stdout.fileno())
    os.close(nowhere)
