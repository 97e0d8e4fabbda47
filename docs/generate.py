"""Write the reference pages from what the code declares; ``--check`` only says whether they are up to date.

python docs/generate.py [--check]
"""

from __future__ import annotations

import functools
import importlib
import inspect
import pkgutil
import re
import shlex
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path
from types import ModuleType

HERE = Path(__file__).parent
MADE = "<!-- made by docs/generate.py from the code: change the code, then run it -->\n"


def modules(package: str) -> Iterator[ModuleType]:
    """A package's modules that have a public name."""
    root = importlib.import_module(package)
    for found in sorted(pkgutil.iter_modules(root.__path__), key=lambda one: one.name):
        if not found.name.startswith("_"):
            yield importlib.import_module(f"{package}.{found.name}")


def public(module: ModuleType) -> list[tuple[str, Callable[..., object]]]:
    """Functions and classes that a module defines itself, in its own order."""
    return [
        (name, thing)
        for name, thing in vars(module).items()
        if not name.startswith("_")
        and (inspect.isfunction(thing) or inspect.isclass(thing))
        and thing.__module__ == module.__name__
    ]


def docstring(thing: object) -> str:
    """A docstring for Markdown: headings in bold; examples are left to the source, where they are run."""
    text = inspect.getdoc(thing) or ""
    text = re.sub(r"^(\w[\w ]*)\n-{3,}$", r"**\1**\n", text, flags=re.MULTILINE)
    text = re.sub(r"^\.\. \[(\d+)\]", r"[\1]", text, flags=re.MULTILINE)
    out: list[str] = []
    for line in text.partition("\n**Examples**")[0].splitlines():
        listed = re.match(r"^(\w[\w, ]*) : (.+)$", line)
        if listed:
            out.append(f"- `{listed[1]}`: {listed[2]}.")
        elif line.startswith("    ") and out and out[-1].startswith(("- ", "  ")):
            out.append(f"  {line.strip()}")
        elif not line.strip().startswith((">>>", "...")):
            out.append(line.strip() if line.startswith("    ") else line)
    return re.sub(r"\n{3,}", "\n\n", "\n".join(out)).strip()


def signature(name: str, thing: Callable[..., object]) -> str:
    """``name(argument, other)`` without the types."""
    if inspect.isclass(thing):
        return name
    shown: list[str] = []
    for parameter in inspect.signature(thing).parameters.values():
        default = parameter.default
        plain = default is inspect.Parameter.empty
        shown.append(parameter.name if plain else f"{parameter.name}={default!r}")
    return f"{name}({', '.join(shown)})"


def python_page(title: str, lead: str, found: Iterator[ModuleType]) -> str:
    """Every public name of some modules."""
    out = [MADE, f"# {title}\n", f"{lead}\n"]
    for module in found:
        names = public(module)
        if not names:
            continue
        out.append(f"## {module.__name__}\n")
        out.append(docstring(module) + "\n")
        for name, thing in names:
            out.append(f"### `{signature(name, thing)}`\n")
            out.append(docstring(thing) + "\n")
    return "\n".join(out)


def cell(text: object) -> str:
    """Text that may stand in a Markdown table."""
    return str(text).replace("|", "\\|").replace("\n", " ")


def glossary_page() -> str:
    """Every quantity."""
    from brinehouse import glossary

    out = [MADE, "# Glossary: every quantity once\n", "| word | symbol | unit | means | can be | usually |",
           "| --- | --- | --- | --- | --- | --- |"]  # fmt: skip
    for one in glossary.quantities():
        possible, plausible = one.possible, one.plausible
        row = (
            one.word, one.symbol, one.unit, one.meaning,
            f"{possible[0]:g} to {possible[1]:g}", f"{plausible[0]:g} to {plausible[1]:g}",
        )  # fmt: skip
        out.append("| " + " | ".join(map(cell, row)) + " |")
    return "\n".join(out) + "\n"


def words_page() -> str:
    """Every word of the facility file."""
    from brinehouse.facility import words

    out = [MADE, "# The facility file: every word\n"]
    for table in words.catalogue().values():
        out += [f"## {table.heading}\n", f"{table.meaning}\n", "| word | kind | needed | means | example |",
                "| --- | --- | --- | --- | --- |"]  # fmt: skip
        for word in table.words.values():
            row = (
                f"`{word.name}`",
                word.kind,
                "yes" if word.required else "",
                word.meaning,
                f"`{word.example}`",
            )
            out.append("| " + " | ".join(map(cell, row)) + " |")
        out.append("")
    return "\n".join(out)


def codes_page() -> str:
    """Every finding code."""
    from brinehouse import findings

    out = [MADE, "# Findings: every code and what it means\n", "| code | means |", "| --- | --- |"]
    out += [f"| `{code}` | {cell(meaning)} |" for code, meaning in sorted(findings.codes().items())]
    return "\n".join(out) + "\n"


def units_page() -> str:
    """Every unit."""
    from brinehouse import units

    out = [MADE, "# Units: the closed table\n", "| kind | unit | also written |", "| --- | --- | --- |"]
    out += [
        f"| {unit.kind} | {cell(unit.symbol)} | {cell(', '.join(unit.spellings))} |" for unit in units.UNITS
    ]
    return "\n".join(out) + "\n"


def questions_page() -> str:
    """Every engine's question."""
    from brinehouse.workbench import asking

    out = [MADE, "# Engines: every question\n"]
    for name in asking.names():
        asked = asking.question(name)
        out += [
            f"## {name}\n",
            f"*{asked.title}*\n",
            "| input | unit | for example | |",
            "| --- | --- | --- | --- |",
        ]
        out += [
            f"| `{item.name}` {cell(item.label)} | {item.unit} | {cell(item.example)} | {cell(item.help)} |"
            for item in asked.inputs
        ]
        out += ["", "| output | unit | |", "| --- | --- | --- |"]
        out += [
            f"| `{item.name}` {cell(item.label)} | {cell(item.unit)} | {cell(item.help)} |"
            for item in asked.outputs
        ]
        out.append("")
    return "\n".join(out)


def commands_page() -> str:
    """Every command's own help."""
    import click

    from brinehouse.cli import running

    context = click.Context(running.root, info_name="brinehouse", max_content_width=96, terminal_width=96)
    out = [MADE, "# Commands\n", "```", running.root.get_help(context), "```\n"]
    for verb in running.VERBS:
        command = running.root.get_command(context, verb)
        assert command is not None
        inner = click.Context(
            command, info_name=verb, parent=context, max_content_width=96, terminal_width=96
        )
        out += [f"## brinehouse {verb}\n", "```", command.get_help(inner), "```\n"]
    return "\n".join(out)


PAGES: dict[str, Callable[[], str]] = {
    "science.md": lambda: python_page(
        "Science: published relations on arrays",
        "Temperatures in °C (ITS-90), practical salinity, pressures in Pa, amounts per kilogram.",
        modules("brinehouse.science"),
    ),
    "glossary.md": glossary_page,
    "facility-file.md": words_page,
    "findings.md": codes_page,
    "units.md": units_page,
    "questions.md": questions_page,
    "commands.md": commands_page,
}


def ran(command: str, folder: Path) -> list[str]:
    """What a command says, as lines, run where a reader would run it."""
    words = shlex.split(command)
    program = [sys.executable, "-m", "brinehouse", *words[1:]]
    surroundings = {"COLUMNS": "100", "NO_COLOR": "1", "PATH": "/usr/bin:/bin", "PYTHONUTF8": "1"}
    done = subprocess.run(program, cwd=folder, capture_output=True, text=True, env=surroundings, check=False)
    return [line.rstrip() for line in (done.stdout + done.stderr).splitlines()]


def howto_page(page: Path) -> str:
    """A how-to with every ``console`` block run afresh, one after another in one folder."""
    out: list[str] = []
    inside = False
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for sample in (HERE.parent / "tests" / "data").glob("*.csv"):
            shutil.copy(sample, folder)
        for line in page.read_text("utf-8").splitlines():
            if line.startswith("```"):
                inside = line == "```console"
            if not inside or line.startswith("```"):
                out.append(line)
            elif line.startswith("$ "):
                out += [line, *ran(line[2:], folder)]
    return "\n".join(out) + "\n"


def main() -> int:
    """Write, or check."""
    stale: list[str] = []
    pages = {HERE / "reference" / name: make for name, make in PAGES.items()}
    for found in sorted((HERE / "howto").glob("*.md")):
        pages[found] = functools.partial(howto_page, found)
    for page, make in pages.items():
        name, text = page.name, make()
        if page.exists() and page.read_text("utf-8") == text:
            continue
        stale.append(name)
        if "--check" not in sys.argv:
            page.write_text(text, encoding="utf-8")
    if stale:
        sys.stdout.write(("stale: " if "--check" in sys.argv else "written: ") + ", ".join(stale) + "\n")
    return 1 if stale and "--check" in sys.argv else 0


if __name__ == "__main__":
    sys.exit(main())
