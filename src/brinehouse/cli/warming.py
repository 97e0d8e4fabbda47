"""``warm``: what the first question would have to wait for, made ready."""

from __future__ import annotations

import click

from brinehouse.cli import voice
from brinehouse.workbench import warming


@click.command()
@click.option("--json", "as_json", is_flag=True, help="As JSON.")
def warm(as_json: bool) -> int:
    """Compile what answers 'how long have we got'; a minute or two, once for each installation."""
    made = warming.warm()
    if as_json:
        voice.say_json({"seconds": made.seconds, "findings": [one.as_json() for one in made.findings]})
        return 0
    if not made.findings:
        voice.say(f"ready ({made.seconds:.1f} s)")
    voice.show_findings(made.findings)
    return 0
