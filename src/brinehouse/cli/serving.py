"""``serve`` and ``demo``: the pages on this machine, and the invented hall."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from brinehouse import findings
from brinehouse.cli import voice

if TYPE_CHECKING:
    from brinehouse.web import serving as pages_served
    from brinehouse.workbench import tls as authority

LOOPBACK = ("127.0.0.1", "localhost", "::1")


@click.command()
@click.argument("folder", default=".", type=click.Path(path_type=Path))
@click.option("--port", default=8750, show_default=True, help="Where the pages are.")
@click.option(
    "--host",
    default="127.0.0.1",
    show_default=True,
    help="Beyond this machine only once there is an administrator.",
)
@click.option("--tls", is_flag=True, help="By https, with a certificate authority of the hall's own.")
@click.option("--name", "names", multiple=True, help="A name or address by which phones call this machine.")
@click.option("--plain-port", type=int, help="With --tls: where plain http leads to it; the port after it.")
@click.option("--json", "as_json", is_flag=True, help="The address as JSON, once it is served.")
def serve(folder: Path, port: int, host: str, tls: bool, names: tuple[str, ...], plain_port: int | None,
          as_json: bool) -> int:  # fmt: skip
    """Serve the pages of FOLDER on this machine; an empty folder opens with five questions."""
    if host not in LOOPBACK:
        from brinehouse.workbench import mishaps, people

        if not people.has_administrator(folder):
            raise mishaps.Refused(
                findings.Finding(
                    code="serve/loopback-only",
                    level=findings.Level.STOP,
                    text=f"{host} is not this machine: a hall without people is open to its own machine only",
                    hint="make the first account at /people/first on this machine, or with 'brinehouse "
                    "people add NAME --role administrator', then serve again",
                )
            )
    from brinehouse.web import serving

    return serving.serve(
        folder, host=host, port=port, names=names, https=tls, plain_port=plain_port,
        told=lambda told: _told(told, as_json),
    )  # fmt: skip


def _told(told: pages_served.Told, as_json: bool) -> None:
    if as_json:
        more = {"trust": told.trust, "fingerprint": told.ready.state.fingerprint} if told.ready else {}
        voice.say_json({"address": told.address, **more})
    else:
        voice.say(f"The pages are at {told.address}  (Ctrl-C ends)")
        if told.ready:
            voice.say(f"A phone learns to trust them at {told.trust}")
            voice.say(voice.paragraph(f"fingerprint {told.ready.state.fingerprint}", 2))
            voice.show_findings(told.ready.findings)
    sys.stdout.flush()  # whoever waits for the address may read it through a pipe


@click.command()
@click.argument("folder", default=".", type=click.Path(path_type=Path))
@click.option("--name", "names", multiple=True, help="With --anew: a name or address it may sign for.")
@click.option("--anew", is_flag=True, help="Make it anew; every phone has to trust the new one.")
@click.option("--json", "as_json", is_flag=True, help="As JSON.")
def tls(folder: Path, names: tuple[str, ...], anew: bool, as_json: bool) -> int:
    """The hall's own certificate authority: its fingerprint, what it may sign for, and how to remove it."""
    from brinehouse.workbench import hall as halls
    from brinehouse.workbench import mishaps
    from brinehouse.workbench import tls as authority

    hall = halls.open_hall(folder)
    if anew:
        authority.make(folder, hall.facility.name, names)
    state = authority.state(folder)
    if state is None:
        raise mishaps.Refused(
            findings.Finding(
                code="tls/not-made",
                level=findings.Level.STOP,
                text=f"{folder} has no certificate authority yet",
                hint="'brinehouse serve --tls' makes one when it is first served so",
            )
        )
    if as_json:
        voice.say_json(authority.as_json(state))
    else:
        _show_authority(state)
    return 0


def _show_authority(state: authority.State) -> None:
    voice.say(state.name)
    voice.say(voice.paragraph(f"fingerprint {state.fingerprint}", 2))
    voice.say(voice.paragraph(f"signs for {', '.join(state.covers)} and nothing else", 2))
    voice.say(f"  from {state.made:%Y-%m-%d} until {state.until:%Y-%m-%d}")
    if state.serves_until:
        voice.say(
            f"  the pages' own certificate until {state.serves_until:%Y-%m-%d}; it is renewed by itself"
        )
    voice.say()
    voice.say("To take it off a phone: open its settings, look for 'certificate', and in the list of those")
    voice.say(
        f"that were added by hand remove '{state.name}'. Once no phone has it, the folder 'tls' may go."
    )


@click.command()
@click.argument("folder", default="demo-hall", type=click.Path(path_type=Path))
@click.option(
    "--seed", default=1, show_default=True, help="Another seed, another history with other hidden faults."
)
@click.option("--days", default=90, show_default=True, help="How many days of history.")
@click.option("--end", help="When the history ends, '2026-03-14 06:40'; the present where left out.")
@click.option("--serve/--no-serve", "serving", default=True, help="Serve the pages afterwards.")
@click.option("--port", default=8750, show_default=True, help="Where the pages are.")
@click.option("--json", "as_json", is_flag=True, help="The investigation as JSON.")
def demo(folder: Path, seed: int, days: int, end: str | None, serving: bool, port: int, as_json: bool) -> int:
    """Build Highmoor Sea Hall in FOLDER, investigate its gas in the terminal, and serve its pages.

    The hall, its people and its history are invented; nothing of it is ever mixed with a hall of yours.
    """
    from brinehouse.cli import telling
    from brinehouse.demo import building
    from brinehouse.workbench import hall as halls
    from brinehouse.workbench import investigation

    built = building.build(folder, seed=seed, days=days, end=end)
    if not as_json:
        voice.say(built.sentence)
        voice.say()
    with halls.open_hall(folder) as hall:
        found = investigation.investigate(hall)
    if as_json:
        voice.say_json(found.as_json())
    else:
        telling.investigation(found)
    if not serving:
        return 0
    from brinehouse.web import serving as pages

    voice.say()
    return pages.serve(folder, host="127.0.0.1", port=port, told=lambda told: _told(told, as_json))
