"""Pictures made anew: upright, no larger than a round needs, and without what the camera wrote into them.

What a file is, is told by its bytes alone; a name is never believed. The size a picture claims is looked at
before a single point of it is worked out.
"""

from __future__ import annotations

import contextlib
import io
import warnings
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from brinehouse import findings
from brinehouse.workbench import mishaps

if TYPE_CHECKING:
    from PIL import Image as Pillow

LARGEST = 25_000_000
"""Bytes of one attachment as it is sent."""

MOST_POINTS = 64_000_000
"""Points of a photo that can be read in part, as JPEG can."""

MOST_POINTS_WHOLE = 26_000_000
"""Points of a picture that must be worked out whole."""

LONGEST_SIDE = 4096
"""Points along the longer side with which a picture is kept: a photo of 12 million points stays as it is."""

MOST_SCANS = 100
"""Passes of a JPEG that comes in several; a photo has about ten."""

JPEG, PNG, WEBP, HEIC, PDF = "image/jpeg", "image/png", "image/webp", "image/heic", "application/pdf"
ENDINGS = {JPEG: "jpg", PNG: "png", PDF: "pdf"}
"""What is ever kept, and how its name ends."""

_SIMPLE = frozenset({"1", "L", "LA", "P", "RGB", "RGBA"})
_HEIC_BRANDS = frozenset({b"heic", b"heix", b"hevc", b"hevx", b"heim", b"heis", b"mif1", b"msf1"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """A picture made anew."""

    content: bytes
    type: str
    width: int
    height: int
    findings: tuple[findings.Finding, ...] = ()


def stop(code: str, text: str, hint: str) -> mishaps.Refused:
    """A refusal in one sentence and a way out."""
    return mishaps.Refused(findings.Finding(code=code, level=findings.Level.STOP, text=text, hint=hint))


def type_of(content: bytes) -> str:
    """What a file is by its first bytes; empty for what is not known.

    >>> type_of(b"%PDF-1.7"), type_of(b"<!doctype html>")
    ('application/pdf', 'text/html')
    """
    if content.startswith(b"\xff\xd8\xff"):
        return JPEG
    if content.startswith(b"\x89PNG\r\n\x1a\n"):
        return PNG
    if content[:4] == b"RIFF" and content[8:12] == b"WEBP":
        return WEBP
    if content[4:8] == b"ftyp" and content[8:12] in _HEIC_BRANDS:
        return HEIC
    if content.startswith(b"%PDF-"):
        return PDF
    return _text_type(content)


def _text_type(content: bytes) -> str:
    begin = content[:4096].replace(b"\x00", b"").lstrip(b"\xef\xbb\xbf\xff\xfe \t\r\n").lower()
    if b"<svg" in begin:
        return "image/svg+xml"
    if any(word in begin for word in (b"<html", b"<!doctype html", b"<script", b"<body", b"<iframe")):
        return "text/html"
    return ""


def make_anew(content: bytes, kind: str) -> Picture:
    """The same picture, upright and without place, time, comments or previews.

    Raises
    ------
    mishaps.Refused
        Where it is too large, cut off, not what it says, or of a kind that cannot be read here.
    """
    from PIL import Image

    if kind == HEIC:
        raise _heic()
    if kind == JPEG and content.count(b"\xff\xda") > MOST_SCANS:
        raise _too_many(f"it comes in more than {MOST_SCANS} passes")
    before = _points(content, kind)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            with Image.open(io.BytesIO(content), formats=_formats(kind)) as opened:
                return _made(opened, kind, before)
    except (Image.DecompressionBombError, Image.DecompressionBombWarning) as fault:
        raise _too_many("it unpacks to far more than it is") from fault
    except (OSError, ValueError, SyntaxError, EOFError, MemoryError, Warning) as fault:
        raise _not_whole() from fault


def _formats(kind: str) -> list[str]:
    return {JPEG: ["JPEG"], PNG: ["PNG"], WEBP: ["WEBP"]}[kind]


def _points(content: bytes, kind: str) -> tuple[int, int]:
    """The size a picture claims, looked at before it is unpacked."""
    from PIL import Image

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with Image.open(io.BytesIO(content), formats=_formats(kind)) as opened:
                width, height = opened.size
    except Image.DecompressionBombError as fault:
        raise _too_many("it claims far more points than any photo") from fault
    except (OSError, ValueError, SyntaxError, EOFError) as fault:
        raise _not_whole() from fault
    most = MOST_POINTS if kind == JPEG else MOST_POINTS_WHOLE
    if width * height > most:
        raise _too_many(
            f"it has {width} x {height} points, {width * height / 1e6:.0f} million; "
            f"at most {most / 1e6:.0f} million are read"
        )
    return width, height


def _made(opened: Pillow.Image, kind: str, before: tuple[int, int]) -> Picture:
    from PIL import ImageOps

    if max(before) > LONGEST_SIDE and kind == JPEG:
        opened.draft("RGB", (LONGEST_SIDE, LONGEST_SIDE))
    profile = opened.info.get("icc_profile")
    turned = ImageOps.exif_transpose(opened)
    if max(turned.size) > LONGEST_SIDE:
        turned.thumbnail((LONGEST_SIDE, LONGEST_SIDE))
    kept_as = PNG if kind == PNG or (kind == WEBP and "A" in turned.getbands()) else JPEG
    plain = _plain(turned, profile, kept_as)
    plain.info = {name: value for name, value in plain.info.items() if name == "transparency"}
    page = io.BytesIO()
    if kept_as == JPEG:
        plain.save(page, "JPEG", quality=85)
    else:
        plain.save(page, "PNG")
    found = () if max(before) <= LONGEST_SIDE else (_made_smaller(before, plain.size),)
    return Picture(
        content=page.getvalue(), type=kept_as, width=plain.width, height=plain.height, findings=found
    )


def _plain(picture: Pillow.Image, profile: Any, kept_as: str) -> Pillow.Image:
    """In colours every screen reads the same way, in a form the kept file can hold."""
    if profile and picture.mode == "RGB":
        from PIL import ImageCms

        with contextlib.suppress(ImageCms.PyCMSError, OSError, ValueError, TypeError):
            source = ImageCms.ImageCmsProfile(io.BytesIO(profile))
            picture = ImageCms.profileToProfile(picture, source, ImageCms.createProfile("sRGB")) or picture
    if kept_as == JPEG:
        return picture if picture.mode in ("L", "RGB") else picture.convert("RGB")
    return picture if picture.mode in _SIMPLE else picture.convert("RGB")


def _made_smaller(before: tuple[int, int], after: tuple[int, int]) -> findings.Finding:
    return findings.Finding(
        code="attachment/made-smaller",
        level=findings.Level.NOTE,
        text=f"The picture had {before[0]} x {before[1]} points and is kept with {after[0]} x {after[1]}",
        hint="keep the original where it was taken if every point of it matters",
    )


def _heic() -> mishaps.Refused:
    return stop(
        "attachment/heic",
        "This picture is HEIC, which cannot be read here",
        "set the phone's camera to save JPEG ('most compatible'), or send it as JPEG",
    )


def _too_many(why: str) -> mishaps.Refused:
    return stop(
        "attachment/too-many-points", f"The picture cannot be taken: {why}", "send it smaller, as JPEG"
    )


def _not_whole() -> mishaps.Refused:
    return stop(
        "attachment/not-whole",
        "Not a picture: it begins like one, and cannot be read to its end",
        "take it again, or send it again",
    )
