"""Sheet ``plant_edit``: the plant changed in forms, shown as a difference, written back; and its versions."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any
from urllib.parse import quote

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from brinehouse.facility import boxes
from brinehouse.web import forms, sheets
from brinehouse.web.routing import router as make_router
from brinehouse.workbench import plant_edit, plant_things, plant_versions

router = make_router()
PAGE = "plant_edit"
FIRST = ("tank", "point", "instrument", "limit", "animals", "pump", "equipment", "duty", "upkeep", "board")
"""Tables that are changed most, in the order in which they are offered."""


@router.get("/plant/edit")
def everything(request: Request) -> Response:
    """Every thing of one table, each with a way to its form."""
    hall = sheets.desk_of(request).hall()
    counts = plant_things.counts(hall)
    names = [*FIRST, *(name for name in counts if name not in FIRST)]
    chosen = request.query_params.get("table", FIRST[0])
    table = plant_things.table_of(chosen if chosen in counts else FIRST[0])
    done = request.query_params.get("done", "")
    fact = hall.book.get(done) if done and hall.has_book(hall.folder) else None
    return sheets.render(
        request,
        "plant_edit.html",
        PAGE,
        tables=[(name, counts[name], _listed(name)) for name in names],
        table=table,
        things=plant_things.things(hall, table.name),
        done=fact,
        address=_address,
    )


@router.get("/plant/edit/{table}/{key}")
def thing(request: Request, table: str, key: str) -> Response:
    """The form of one thing."""
    name, made, was = plant_things.form(sheets.desk_of(request).hall(), table, key)
    return _form(request, plant_edit.Asked(table=table, key=key, was=was), name, made)


@router.post("/plant/edit/{table}/{key}")
def change(request: Request, table: str, key: str, given: forms.Given) -> Response:
    """A change: looked at, then written."""
    return _step(request, plant_edit.Asked.read(table, key, given), given)


@router.post("/plant/remove/{table}/{key}")
def remove(request: Request, table: str, key: str, given: forms.Given) -> Response:
    """Taken out of the file, where the log does not speak of it."""
    return _step(request, plant_edit.Asked.read(table, key, given, "remove"), given)


@router.get("/plant/add/{table}")
def new(request: Request, table: str) -> Response:
    """An empty form."""
    _, made, _ = plant_things.form(sheets.desk_of(request).hall(), table, new=True)
    return _form(request, plant_edit.Asked(table=table, what="add"), "", made)


@router.post("/plant/add/{table}")
def add(request: Request, table: str, given: forms.Given) -> Response:
    """A new thing: looked at, then written."""
    return _step(request, plant_edit.Asked.read(table, given.get("id", "").strip(), given, "add"), given)


def _step(request: Request, asked: plant_edit.Asked, given: Mapping[str, str]) -> Response:
    """The form again, the difference, or done."""
    hall = sheets.desk_of(request).hall()
    step = given.get("step", "")
    if step == "write":
        looked = plant_edit.write(hall, asked, sheets.writer(request, given.get("by", "")))
        if looked.written:
            return RedirectResponse(f"{_listed(asked.table)}&done={looked.written}", status_code=303)
    else:
        looked = plant_edit.look(hall, asked)
    at_the_end = {"reason", "since"}
    only_late = looked.stopped and {one.spot.field for one in looked.findings} <= at_the_end
    if step != "form" and not looked.nothing and (not looked.stopped or (only_late and not looked.clashes)):
        return _difference(request, looked, given)
    return _again(request, looked, back=step == "form")


def _again(request: Request, looked: plant_edit.Looked, *, back: bool) -> Response:
    """The form with what was typed, and what is to be put right."""
    hall = sheets.desk_of(request).hall()
    asked, table = looked.again, plant_things.table_of(looked.asked.table)
    if asked.what == "remove":
        asked = plant_edit.Asked(table=asked.table, key=asked.key, was=looked.was, boxes=looked.was)
    made = plant_things.boxes_of(hall, table, asked.boxes)
    return _form(request, asked, looked.name, made, looked, status=200 if back else 422)


def _form(
    request: Request,
    asked: plant_edit.Asked,
    name: str,
    made: Sequence[plant_things.Box],
    looked: plant_edit.Looked | None = None,
    status: int = 200,
) -> Response:
    t = sheets.words_of(request)
    table = plant_things.table_of(asked.table)
    faults = dict(looked.faults) if looked else {}
    for clash in looked.clashes if looked else ():
        faults[clash.word] = t(
            "edit.clash", theirs=clash.theirs or t("edit.empty"), mine=clash.mine or t("edit.empty")
        )
    shown = [_field(box, faults) for box in made]
    found = [one for one in (looked.findings if looked else ()) if one.text not in faults.values()]
    return sheets.render(
        request,
        "plant_form.html",
        PAGE,
        status=status,
        name=name or asked.key,
        asked=asked,
        table=table,
        fields=[one for one in shown if one["filled"]],
        more=[one for one in shown if not one["filled"]],
        was=asked.was,
        found=found,
        faults=faults,
        clashes=looked.clashes if looked else (),
        moved=bool(looked and looked.moved),
        nothing=bool(looked and looked.nothing and not found and not faults),
        address=_address,
        listed=_listed(asked.table),
    )


def _field(box: plant_things.Box, faults: Mapping[str, str]) -> dict[str, Any]:
    """One box as the templates draw it."""
    word = box.word
    kind = boxes.kind(word)
    if box.many:
        drawn = "long"
    elif kind in ("choice", "bool", "id"):
        drawn = "choice"
    else:
        drawn = {"date": "date", "whole": "number", "number": "number"}.get(kind, "text")
    return {
        "name": plant_edit.BOX + word.name,
        "label": word.name.replace("_", " "),
        "value": box.value,
        "hint": word.meaning,
        "example": "" if drawn in ("choice", "date") else _example(word, many=box.many),
        "kind": drawn,
        "choices": box.choices if drawn == "choice" else (),
        "required": word.required,
        "fault": faults.get(word.name, ""),
        "filled": word.required or bool(box.value) or word.name in faults or word.name == "name",
        "rows": max(2, min(8, box.value.count("\n") + 2)),
    }


def _example(word: Any, *, many: bool) -> str:
    """The example of a word as a person types it into its box."""
    import tomllib

    text = boxes.shown(word, tomllib.loads(f"x = {word.example}")["x"])
    return text.replace("\n", " / ") if many else text


def _difference(request: Request, looked: plant_edit.Looked, given: Mapping[str, str]) -> Response:
    """What would change, with the boxes for when and why."""
    asked, late = looked.again, {"reason", "since"}
    faults = {one.spot.field: one.text for one in looked.findings if one.spot.field in late}
    carried = {plant_edit.WAS + word: text for word, text in asked.was.items()}
    if asked.what != "remove":
        carried |= {plant_edit.BOX + word: text for word, text in asked.boxes.items()}
    return sheets.render(
        request,
        "plant_difference.html",
        PAGE,
        status=422 if faults else 200,
        looked=looked,
        asked=asked,
        carried=carried,
        found=[one for one in looked.findings if one.spot.field not in late],
        faults=faults,
        given=dict(given),
        open_hall=sheets.who(request).role == "open",
        action=_address(asked.what if asked.what != "change" else "edit", asked.table, asked.key),
        listed=_listed(asked.table),
    )


@router.get("/plant/versions")
def versions(request: Request) -> Response:
    """Every version of the facility file: from when, who, why, what."""
    found = plant_versions.versions(sheets.desk_of(request).hall())
    return sheets.render(request, "plant_versions.html", PAGE, versions=found)


@router.get("/plant/versions/{number}")
def version(request: Request, number: int) -> Response:
    """One version as it was then, and what it changed."""
    one, lines = plant_versions.version(sheets.desk_of(request).hall(), number)
    return sheets.render(request, "plant_version.html", PAGE, one=one, lines_of=lines)


def _address(step: str, table: str, key: str = "") -> str:
    """The address of a form; a key may hold anything but a stroke."""
    if step == "add":
        return f"/plant/add/{quote(table)}"
    return f"/plant/{step}/{quote(table)}/{quote(key or '-', safe='')}"


def _listed(table: str) -> str:
    return f"/plant/edit?table={quote(table)}"
