"""Sheet ``log``, imports: look at a file first, answer what is in doubt, store it, take it back whole."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Mapping, Sequence
from typing import Annotated, Any

from fastapi import Depends
from starlette.datastructures import UploadFile
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from brinehouse import findings
from brinehouse.web import forms, sheets
from brinehouse.web.routing import router as make_router
from brinehouse.workbench import hall as halls
from brinehouse.workbench import importing, logging_book, mishaps

router = make_router()
SHOWN = 100  # findings of one kind on a page
PREFIX = "answer:"


class Shelf:
    """Files that were looked at and not stored yet: the last few, in memory, lost with the program."""

    def __init__(self, most: int = 4, largest: int = forms.LARGEST) -> None:
        self.most, self.largest = most, largest
        self._files: OrderedDict[str, tuple[str, bytes]] = OrderedDict()
        self._lock = threading.Lock()

    def put(self, digest: str, name: str, content: bytes) -> None:
        """Keep a file; the oldest make room."""
        with self._lock:
            self._files[digest] = (name, content)
            self._files.move_to_end(digest)
            while len(self._files) > 1 and (len(self._files) > self.most or self._size() > self.largest):
                self._files.popitem(last=False)

    def get(self, digest: str) -> tuple[str, bytes]:
        """A file's name and content; refused where it is no longer here."""
        with self._lock:
            kept = self._files.get(digest)
        if kept is None:
            raise mishaps.Refused(
                findings.Finding(
                    code="page/file-gone",
                    level=findings.Level.STOP,
                    text="This file is no longer held; nothing of it was stored",
                    hint="send it again",
                )
            )
        return kept

    def _size(self) -> int:
        return sum(len(content) for _, content in self._files.values())


async def _sent(request: Request) -> tuple[str, bytes, dict[str, str]]:
    """The file of a form with its name, and the boxes beside it."""
    async with request.form(max_files=1, max_fields=50) as form:
        given = forms.signed(request, forms.texts(form.items()))
        file = form.get("file")
        if not isinstance(file, UploadFile) or not file.filename:
            return "", b"", given
        if (file.size or 0) > forms.LARGEST:
            raise HTTPException(413)
        return forms.clean(file.filename)[-120:], await file.read(), given


Sent = Annotated[tuple[str, bytes, dict[str, str]], Depends(_sent)]


@router.get("/log/imports")
def imports(request: Request) -> Response:
    """Every file that was taken in, and a form that looks at another."""
    return _list(request, {}, (), status=200)


@router.post("/log/imports")
def look(request: Request, sent: Sent) -> Response:
    """Look at a file and store nothing."""
    name, content, given = sent
    if not name:
        return _list(request, given, [_no_file()], status=422)
    answered, found = _answers(given)
    if found:
        return _list(request, given, found, status=422)
    return _look(request, name, content, answered, given.get("by", ""))


@router.post("/log/imports/again")
def again(request: Request, given: forms.Given) -> Response:
    """Look at the same file once more, with the answers to its questions."""
    name, content = _shelf(request).get(given.get("sha", ""))
    return _look(request, name, content, _answered(given), given.get("by", ""))


@router.post("/log/imports/store")
def store(request: Request, given: forms.Given) -> Response:
    """Store what was looked at: all rows, or the good ones."""
    hall = sheets.desk_of(request).hall()
    name, content = _shelf(request).get(given.get("sha", ""))
    answered, by = _answered(given), given.get("by", "")
    seen = importing.examine_upload(hall, name, content, answered)
    try:
        done = importing.store(hall, seen, by=by, keep_good=bool(given.get("good")))
    except mishaps.Refused as refusal:
        return _seen(request, seen, answered, by, refusal.findings, status=422)
    return RedirectResponse(f"/log/imports?stored={done.new}", status_code=303)


@router.post("/log/imports/{id}/withdraw")
def withdraw(request: Request, id: str, given: forms.Given) -> Response:
    """Take back every row of a file, with a reason."""
    return _change(request, id, given, importing.take_back)


@router.post("/log/imports/{id}/back")
def bring_back(request: Request, id: str, given: forms.Given) -> Response:
    """Bring back what was taken back."""
    return _change(request, id, given, importing.bring_back)


def _change(request: Request, id: str, given: Mapping[str, str], change: Any) -> Response:
    hall = sheets.desk_of(request).hall()
    reason = given.get("reason", "").strip()
    if not reason:
        return _list(request, {}, [_no_reason()], status=422)
    change(hall, id, reason, by=given.get("by", ""))
    return RedirectResponse("/log/imports", status_code=303)


def _shelf(request: Request) -> Shelf:
    state = request.app.state
    if not hasattr(state, "shelf"):
        state.shelf = Shelf()
    return state.shelf


def _answers(given: Mapping[str, str]) -> tuple[dict[str, str], list[findings.Finding]]:
    """What was said of the whole file before it was looked at."""
    answered = {name: given[name].strip() for name in ("at", "with", "by") if given.get(name, "").strip()}
    by = answered.get("by", "")
    if by and not importing.is_automatic(by):
        answered[f"person:{by}"] = "new"  # who sends a file names themselves: no need to ask who that is
    found: list[findings.Finding] = []
    for line in forms.lines(given.get("maps", "")):
        column, equals, told = line.partition("=")
        if not equals or not column.strip() or not told.strip():
            found.append(_no_map(line))
            continue
        answered[f"map:{column.strip()}"] = told.strip()
    return answered, found


def _answered(given: Mapping[str, str]) -> dict[str, str]:
    """Answers so far, those of the questions' boxes, and those written one a line."""
    told = {
        name.removeprefix(PREFIX): text.strip()
        for name, text in given.items()
        if name.startswith(PREFIX) and text.strip()
    }
    for line in forms.lines(given.get("answers", "")):
        key, equals, text = line.partition("=")
        if equals and key.strip() and text.strip():
            told[key.strip()] = text.strip()
    return told


def _look(request: Request, name: str, content: bytes, answered: dict[str, str], by: str) -> Response:
    seen = importing.examine_upload(sheets.desk_of(request).hall(), name, content, answered)
    _shelf(request).put(seen.sha256, name, content)
    return _seen(request, seen, answered, by, (), status=422 if seen.verdict == "reject-file" else 200)


def _seen(
    request: Request,
    seen: importing.Examined,
    answered: Mapping[str, str],
    by: str,
    refused: Sequence[findings.Finding],
    status: int,
) -> Response:
    return sheets.render(
        request,
        "import_look.html",
        "imports",
        status=status,
        as_of=seen.span[1] if seen.span else None,
        seen=seen,
        answered=answered,
        sender=by,
        refused=refused,
        groups=_groups(seen),
        preview=importing.preview(seen),
        may_store=seen.may_store and seen.count > 0,
        may_keep_good=seen.verdict == "reject-rows" and seen.rows_ok > 0,
    )


def _groups(seen: importing.Examined) -> list[dict[str, Any]]:
    """The findings by code, heaviest first; at most a hundred of each are written out."""
    order = list(findings.Level)
    by_code: dict[str, list[findings.Finding]] = {}
    for finding in seen.findings:
        by_code.setdefault(finding.code, []).append(finding)
    meanings = findings.codes()
    groups = [
        {
            "code": code,
            "text": meanings.get(code, found[0].text),
            "level": max((finding.level for finding in found), key=order.index),
            "shown": found[:SHOWN],
            "count": max(len(found), seen.counts.get(code, 0)),
        }
        for code, found in by_code.items()
    ]
    return sorted(groups, key=lambda group: -order.index(group["level"]))


def _list(
    request: Request, given: Mapping[str, str], found: Sequence[findings.Finding], status: int
) -> Response:
    hall = sheets.desk_of(request).hall()
    files = list(reversed(importing.imports(hall)))
    stored = request.query_params.get("stored", "")
    return sheets.render(
        request,
        "imports.html",
        "imports",
        status=status,
        as_of=files[0].at if files else None,
        given=given,
        found=found,
        files=files,
        people=logging_book.people(hall) if halls.Hall.has_book(hall.folder) else {},
        choices=logging_book.choices(hall),
        stored=int(stored) if stored.isdecimal() and stored.isascii() and len(stored) < 9 else None,
    )


def _no_file() -> findings.Finding:
    return findings.Finding(
        code="page/no-file", level=findings.Level.STOP, text="No file was sent", hint="choose one first",
        spot=findings.Spot(field="file"),
    )  # fmt: skip


def _no_reason() -> findings.Finding:
    return findings.Finding(
        code="workbench/no-reason", level=findings.Level.STOP, text="Taking a file back needs a reason.",
        hint="say why: it stays with the file", spot=findings.Spot(field="reason"),
    )  # fmt: skip


def _no_map(line: str) -> findings.Finding:
    return findings.Finding(
        code="page/no-map", level=findings.Level.STOP, text=f"'{line}' does not say what a column is",
        hint="write COLUMN = QUANTITY", spot=findings.Spot(field="maps"),
    )  # fmt: skip
