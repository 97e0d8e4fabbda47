"""The list that lies in every copy: what it holds, with the hash of each file, and where the chain ends."""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from brinehouse import findings
from brinehouse.workbench import mishaps, unpacking

NAME = "copy.json"
FORM = 1
BLOCK = 1 << 20


@dataclass(frozen=True, slots=True, kw_only=True)
class List:
    """What a copy says of itself.

    Attributes
    ----------
    kind : str
        ``copy``, or ``export`` where who may come in is left out and tables to read are added.
    hall : str
        The hall's name.
    begins : str
        The hash of the chain's first entry: copies of one hall have the same.
    head : tuple of int and str
        Where the chain ends.
    kept_in : str
        ``file`` or ``postgresql``: what it was copied from.
    files : mapping of str to tuple of int and str
        Path to size and SHA-256.
    """

    kind: str
    hall: str
    made: datetime
    version: str
    begins: str
    head: tuple[int, str]
    kept_in: str
    files: Mapping[str, tuple[int, str]]

    @property
    def size(self) -> int:
        """Bytes of all its files."""
        return sum(size for size, _ in self.files.values())


def sha256_of(path: Path) -> str:
    """The hash of a file's content."""
    digest = hashlib.sha256()
    with path.open("rb") as page:
        while block := page.read(BLOCK):
            digest.update(block)
    return digest.hexdigest()


def listed(folder: Path) -> dict[str, tuple[int, str]]:
    """Every file below a folder but the list itself, with its size and hash."""
    paths = sorted(path for path in folder.rglob("*") if path.is_file() and path != folder / NAME)
    return {path.relative_to(folder).as_posix(): (path.stat().st_size, sha256_of(path)) for path in paths}


def write(folder: Path, made: List) -> str:
    """Write the list and have it on the disk; returns its own hash."""
    told = {
        "form": FORM,
        "kind": made.kind,
        "hall": made.hall,
        "made": made.made.isoformat(),
        "brinehouse": made.version,
        "begins": made.begins,
        "head": list(made.head),
        "kept_in": made.kept_in,
        "files": {name: list(one) for name, one in sorted(made.files.items())},
    }
    content = (json.dumps(told, indent=1, ensure_ascii=False) + "\n").encode()
    with (folder / NAME).open("wb") as page:
        page.write(content)
        page.flush()
        os.fsync(page.fileno())
    return hashlib.sha256(content).hexdigest()


def read(folder: Path) -> List:
    """The list of a copy; refused where there is none, or it is none of ours."""
    try:
        return understood(json.loads((folder / NAME).read_bytes()))
    except (FileNotFoundError, NotADirectoryError) as fault:
        raise unpacking.refuse(
            "copy/no-list",
            f"{folder.name} holds no {NAME}: it is no copy of a hall, or was not finished",
            "name a copy that 'brinehouse backup' or 'brinehouse export' made",
        ) from fault
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as fault:
        raise unpacking.refuse(
            "copy/list-unreadable", f"The list {NAME} of {folder.name} cannot be read", "use another copy"
        ) from fault


def understood(told: Any) -> List:
    """A list from what its file holds."""
    if told["form"] != FORM:
        raise unpacking.refuse(
            "copy/newer", f"The copy is of form {told['form']}, which this Brinehouse does not know",
            "use the newer program",
        )  # fmt: skip
    files = {str(name): (int(size), str(sha)) for name, (size, sha) in told["files"].items()}
    if bad := [name for name in files if not unpacking.is_inside(name)]:
        raise unpacking.refuse(
            "copy/climbs-out",
            f"The list names files outside the copy: {', '.join(ascii(name) for name in bad[:5])}",
            "use a copy that Brinehouse made",
        )
    return List(
        kind=str(told["kind"]),
        hall=str(told["hall"]),
        made=datetime.fromisoformat(told["made"]),
        version=str(told["brinehouse"]),
        begins=str(told["begins"]),
        head=(int(told["head"][0]), str(told["head"][1])),
        kept_in=str(told["kept_in"]),
        files=files,
    )


def compare(folder: Path, made: List) -> list[findings.Finding]:
    """Every file of a copy against its list; nothing where all are as they were."""
    found: list[findings.Finding] = []
    for name, (size, sha) in made.files.items():
        path = folder / name
        if not path.is_file() or path.is_symlink():
            found.append(wrong("copy/file-missing", f"{name} is missing from the copy"))
        elif path.stat().st_size != size or sha256_of(path) != sha:
            found.append(wrong("copy/file-changed", f"{name} is not as it was copied"))
    return found


def wrong(code: str, text: str) -> findings.Finding:
    """A finding of a copy that is not to be used."""
    return findings.Finding(code=code, level=findings.Level.STOP, text=text, hint="use another copy")


def refuse_all(found: Iterable[findings.Finding]) -> None:
    """Refuse where anything was found."""
    if told := list(found):
        raise mishaps.Refused(*told[:20])
