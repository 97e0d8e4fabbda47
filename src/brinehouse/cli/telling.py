"""The gas investigation in the terminal's voice."""

from __future__ import annotations

from brinehouse import answers, findings
from brinehouse.cli import voice
from brinehouse.workbench import investigation as found_by

ABOUT_METERS = (
    "gas/meter-salinity-zero",
    "gas/barometer-sea-level",
    "instruments/odd-reading",
    "instruments/not-steady",
)


def investigation(found: found_by.Investigation) -> None:
    """Print the whole: meters, water, what would explain it, which pump, what to read next."""
    voice.say(found.title)
    voice.say(voice.paragraph(found.sentence))
    _meters(found)
    _water(found)
    _series(found)
    _explanations(found)
    _changes(found)
    if found.next_readings:
        voice.say()
        voice.say(voice.paragraph(f"Read next: {_sentence(found.next_readings[0])}"))
    voice.say()
    voice.say(
        voice.paragraph(
            "Advice, not a command. Sick animals go to the veterinarian; isolate pumps by your own "
            "procedure. Compressed gas, confined sumps and electricity by water: local codes rule."
        )
    )


def _sentence(text: str) -> str:
    return f"{text[0].upper()}{text[1:]}".rstrip(".") + "."


def _meters(found: found_by.Investigation) -> None:
    rows = [[name, _reads(offset), _so(offset)] for name, offset in found_by.offsets_of(found.meters).items()]
    told = [f for f in [*found.meters.findings, *found.water.findings] if f.code in ABOUT_METERS]
    if not rows and not told:
        return
    voice.say("\nWhich meters to believe")
    if rows:
        voice.say(voice.table(["", "", ""], rows).split("\n", 1)[1])
    for finding in told:
        voice.say(voice.hanging(f"{voice.MARKS[finding.level.value]} ", finding.text))


def _reads(offset: answers.Value) -> str:
    value, span = offset.value or 0.0, offset.interval()
    half = (span[1] - span[0]) / 2.0 if span else 0.0
    way = "high" if value > 0 else "low"
    return f"reads {abs(value):.1f} ± {half:.1f} points {way}"


def _so(offset: answers.Value) -> str:
    span = offset.interval()
    if span is None or span[0] <= 0.0 <= span[1]:
        return "use it as it is"
    return "zero it in dry air, or let the correction stand"


def _water(found: found_by.Investigation) -> None:
    budget = next((table for table in found.water.tables if table.name == "budget"), None)
    if budget is None:
        if not found.series:
            voice.say(f"\n{found.water.sentence}")
        return
    voice.say("\nWhat the water holds, meters' errors taken off")
    acts = {
        finding.spot.thing: finding.level
        for finding in reversed(found.water.findings)
        if finding.level in (findings.Level.ACT, findings.Level.WATCH) and finding.spot.thing in found.names
    }
    rows: list[list[str]] = []
    for row in budget.rows:
        place = str(row["place"])
        mark = f"{voice.MARKS[acts[place].value]} " if place in acts else ""
        cells = [
            voice.with_interval(row[name], decimals) if isinstance(row.get(name), answers.Value) else ""
            for name, decimals in (
                ("total_gas_pressure", 1),
                ("oxygen_percent", 0),
                ("nitrogen_percent", 1),
                ("delta_p", 0),
                ("animals_at", 2),
                ("gas_line_at", 2),
            )
        ]
        cells[4] = cells[4].split(" ±")[0]
        rows.append([mark + found.names.get(place, place), *cells, _margin(row.get("margin"))])
    head = ["", "TGP %", "O2 %", "N2+Ar %", "ΔP mmHg", "animals m", "gas line m", ""]
    voice.say(voice.table(head, rows, frozenset(range(1, 7))))


def _margin(margin: object) -> str:
    if not isinstance(margin, answers.Value) or margin.value is None:
        return ""
    span = margin.interval() or (margin.value, margin.value)
    if span[1] < 0.0:
        return f"{-margin.value:.2f} m too shallow"
    return "may be too shallow" if span[0] < 0.0 else ""


def _explanations(found: found_by.Investigation) -> None:
    told = [item for item in found.water.explanations if item.code != "gas/closes" and item.weight >= 0.05]
    if told:
        voice.say("\nWhat would make the meters' numbers true together")
        for place, item in enumerate(told, 1):
            fits, of = item.visits
            voice.say(voice.hanging(f"{place}  ", f"{item.text}  fits {fits} of {of} visits"))
    for item in found.water.not_excluded[:3]:
        voice.say(voice.hanging("", f"not excluded: {item.text} ({item.next_reading.rstrip('.')})"))


def _changes(found: found_by.Investigation) -> None:
    for system, answer in found.changes.items():
        if answer.state != "found" and len(answer.findings) == 1 and not answer.tables:
            continue  # nothing to compare there: the pages say so, the terminal need not
        voice.say(f"\nWhich pump goes with the gas of system {system}")
        for finding in answer.findings:
            voice.say(voice.hanging(f"{voice.marked(finding.level)} ", finding.text))
        for place, item in enumerate(answer.explanations, 1):
            if item.weight >= 0.02 or place == 1:
                voice.say(voice.hanging(f"{place}  {item.weight:>4.0%}  ", item.text))
        ratio = answer.values.get("ratio")
        if ratio is not None:
            voice.say(voice.hanging("", f"N2 rose {voice.with_interval(ratio, 1)} times as fast as O2"))
        for table in answer.tables:
            if table.name == "changes" and table.rows:
                voice.say("\nWhat each change of plant did to ΔP")
                voice.say(voice.answer_table(table))


def _series(found: found_by.Investigation) -> None:
    for place, answer in found.series.items():
        voice.say(f"\nWhat the log of {found.names.get(place, place)} says of itself")
        voice.say(voice.hanging("", answer.sentence))
        labels = {output.name: output for output in answer.question.outputs}
        rows = [
            [labels[name].label if name in labels else name.replace("_", " "),
             voice.with_interval(value, labels[name].decimals if name in labels else 1), value.unit]
            for name, value in answer.values.items()
        ]  # fmt: skip
        if rows:
            voice.say(voice.table(["", "", ""], rows, frozenset({1})).split("\n", 1)[1])
        for table in answer.tables:
            voice.say(f"  {table.title}")
            voice.say(voice.answer_table(table))
        for finding in answer.findings:
            voice.say(voice.hanging(f"{voice.marked(finding.level)} ", finding.text))
