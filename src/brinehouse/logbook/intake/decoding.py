"""From bytes to text: what kind of file it is, and in which encoding, asked where it is not certain."""

from __future__ import annotations

import codecs
import io
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from brinehouse.logbook.intake import saying

LARGEST = 256 * 1024 * 1024
ENCODINGS = ("windows-1252", "iso-8859-1", "iso-8859-15", "windows-1250", "utf-8", "utf-16")
_STEP = 1 << 20
_BLANK = b"\xef\xbb\xbf \t\r\n"
_NAMED = 10_000  # lines whose bad byte is named
_MAGIC: tuple[tuple[bytes, str, str], ...] = (
    (b"\x1f\x8b", "a gzip file", "unpack it first"),
    (b"BZh", "a bzip2 file", "unpack it first"),
    (b"\xfd7zXZ\x00", "an xz file", "unpack it first"),
    (b"\x28\xb5\x2f\xfd", "a zstandard file", "unpack it first"),
    (b"7z\xbc\xaf", "a 7z archive", "unpack it first"),
    (b"\xd0\xcf\x11\xe0", "a workbook or document of the old binary kind", "save it as .xlsx"),
    (b"%PDF", "a PDF", "send the table it was made from"),
    (b"\x89PNG", "a picture", "send the table it was made from"),
    (b"\xff\xd8\xff", "a picture", "send the table it was made from"),
    (b"SQLite format 3\x00", "a database", "export its table as CSV"),
    (b"PAR1", "a Parquet file", "export its table as CSV"),
)


@dataclass(frozen=True, slots=True)
class Decoded:
    """What kind of file it is and how its text is read."""

    kind: str  # csv, xlsx, json, ndjson; empty where the file is refused
    encoding: str = "utf-8"
    faults: tuple[saying.Fault, ...] = ()
    bad: Mapping[int, int] = field(default_factory=dict[int, int])  # line to byte of what is not UTF-8
    mixed: bool = False  # some lines are UTF-8 and some are not


def decode(data: bytes, answer: str = "") -> Decoded:
    r"""Look at a file's bytes.

    Parameters
    ----------
    data : bytes
        The file.
    answer : str
        The encoding a person confirmed, or empty.

    Examples
    --------
    >>> decode(b"time,place\n").kind, decode(b'[{"a": 1}]').kind, decode(b"").faults[0].code
    ('csv', 'json', 'intake/empty')
    """
    refused = _refused(data)
    if refused is not None:
        return Decoded("", faults=(refused,))
    if data[:4] == b"PK\x03\x04":
        return Decoded("xlsx")
    if data[:2] in (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE):
        return _utf16(data)
    start = data[:64].removeprefix(codecs.BOM_UTF8).lstrip()[:1]
    kind = "json" if start == b"[" else "ndjson" if start == b"{" else "csv"
    if answer:
        return _as_told(data, kind, answer)
    if data.isascii() or first_bad(data) is None:
        return Decoded(kind, "utf-8-sig")
    return _not_utf8(data, kind)


def _refused(data: bytes) -> saying.Fault | None:
    if not data[:4096].strip(_BLANK) and not data.strip(_BLANK):
        return saying.stop("intake/empty", "the file is empty", "send the file that holds the readings")
    if len(data) > LARGEST:
        size, limit = len(data) // 1_000_000, LARGEST // 1_000_000
        return saying.stop(
            "intake/too-large",
            f"the file is {size} MB; up to {limit} MB are read at once",
            "send it in parts",
        )
    for magic, what, hint in _MAGIC:
        if data.startswith(magic):
            return saying.stop("intake/other-kind", f"this is {what}, not a table of readings", hint)
    head = data[:512].lstrip().lower()
    if head.startswith((b"<!doctype", b"<html", b"<?xml", b"<svg")):
        hint = "send CSV, XLSX or JSON"
        return saying.stop("intake/other-kind", "this is a web page or XML, not a table of readings", hint)
    told = data[:2] in (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE) or data[:4] == b"PK\x03\x04"
    if not told and b"\0" in data[:4096]:
        hint = "send CSV as UTF-8, XLSX or JSON"
        return saying.stop("intake/other-kind", "the file holds bytes that no text has", hint)
    return None


def _utf16(data: bytes) -> Decoded:
    decoder = codecs.getincrementaldecoder("utf-16")()
    try:
        for start in range(0, len(data), _STEP):
            decoder.decode(data[start : start + _STEP], final=start + _STEP >= len(data))
    except UnicodeDecodeError:
        text = "the file starts as UTF-16 but is broken or cut off"
        return Decoded("", faults=(saying.stop("intake/damaged", text, "save it once more, as UTF-8"),))
    said = saying.note("intake/utf-16", "the file was read as UTF-16, because of the mark it starts with")
    start = data[:128].decode("utf-16", "ignore").lstrip()[:1]
    return Decoded("json" if start == "[" else "ndjson" if start == "{" else "csv", "utf-16", (said,))


def _as_told(data: bytes, kind: str, answer: str) -> Decoded:
    try:
        stream = io.TextIOWrapper(io.BytesIO(data), answer, newline="")
        while stream.read(_STEP):
            pass
    except UnicodeError as fault:
        at = getattr(fault, "start", 0)
        text = f"the file is not {answer}: byte {at} has no meaning in it"
        return Decoded("", faults=(saying.stop("intake/damaged", text, "save it once more, as UTF-8"),))
    said = saying.note("intake/encoding-told", f"the file was read as {answer}, as answered")
    return Decoded(kind, "utf-8-sig" if answer == "utf-8" else answer, (said,))


def first_bad(data: bytes) -> int | None:
    r"""The first byte that is not UTF-8, or None.

    >>> first_bad(b"a,b\n1,\xb0C"), first_bad("µ".encode())
    (6, None)
    """
    start = 0
    while start < len(data):
        end = data.find(b"\n", start + _STEP) + 1 or len(data)
        try:
            data[start:end].decode("utf-8")
        except UnicodeDecodeError as fault:
            return start + fault.start
        start = end
    return None


def _not_utf8(data: bytes, kind: str) -> Decoded:
    """Which lines are not UTF-8; a file with lines of both kinds is two exports pasted together."""
    bad: dict[int, int] = {}
    good, at = 0, 0
    for line, part in enumerate(_lines(data), 1):
        if not part.isascii():
            try:
                part.decode("utf-8")
                good += 1
            except UnicodeDecodeError as fault:
                if len(bad) < _NAMED:
                    bad[line] = at + fault.start
        at += len(part)
    return Decoded(kind, "utf-8-sig", bad=bad, mixed=good > 0)


def _lines(data: bytes) -> Iterable[bytes]:
    return io.BytesIO(data) if b"\n" in data and b"\r" not in data else data.splitlines(keepends=True)


def foreign(text: str) -> bool:
    r"""Whether a decoded text holds bytes that were not UTF-8.

    >>> foreign(b"\xb0C".decode("utf-8", "surrogateescape")), foreign("°C")
    (True, False)
    """
    return not text.isascii() and any("\udc80" <= sign <= "\udcff" for sign in text)


def looks_like(text: str) -> str:
    r"""What such a text looks like as Windows-1252.

    >>> looks_like(b"\xb0C".decode("utf-8", "surrogateescape"))
    '°C'
    """
    return text.encode("utf-8", "surrogateescape").decode("cp1252", "replace")
