"""Photos and papers: told by what they are, made anew, kept once, and looked at again when given out."""

import hashlib
import io
import json
import os
import pathlib
import stat
import types

import pytest
from PIL import Image

from brinehouse import records
from brinehouse.workbench import attachments, clock, mishaps, pictures
from brinehouse.workbench import hall as halls

CORPUS = pathlib.Path(__file__).parents[1] / "corpus"
INDEX = {one["file"]: one for one in json.loads((CORPUS / "INDEX.json").read_text("utf-8"))["files"]}
GPS, TURN, COMMENT = 0x8825, 0x0112, b"left by a camera"


def photo(kind="JPEG", size=(64, 48), turn=1, mode="RGB", **how):
    """A picture red in its upper left corner, with a place and a comment in it."""
    picture = Image.new(mode, size, "white" if mode == "RGB" else 255)
    if mode == "RGB":
        picture.paste((255, 0, 0), (0, 0, size[0] // 4, size[1] // 4))
    about = Image.Exif()
    about[TURN] = turn
    about.get_ifd(GPS)[2] = (51.0, 30.0, 0.0)
    page = io.BytesIO()
    if kind == "JPEG":
        how["comment"] = COMMENT
    picture.save(page, kind, exif=about, **how)
    return page.getvalue()


@pytest.fixture
def place(hall):
    return hall


def keep(place, content, name="photo.jpg", **how):
    return attachments.keep(place, content, name, person=None, **how)


def refused(place, content, name="photo.jpg"):
    with pytest.raises(mishaps.Refused) as caught:
        keep(place, content, name)
    assert not list(place.folder.glob("files/**/*")), "what is refused leaves nothing behind"
    return caught.value.findings[0]


# The corpus ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("file", "code"),
    [("a00_html_named.png", "attachment/web-page"), ("a01_script.svg", "attachment/drawing")],
)
def test_what_only_calls_itself_a_picture_is_refused(place, file, code):
    assert INDEX[file]["verdict"] == "reject-file"
    found = refused(place, (CORPUS / file).read_bytes(), file)
    assert found.code == code
    assert found.text.startswith(INDEX[file]["must_say"].partition(" for photos")[0].rstrip("."))


def test_a_photo_is_kept_upright_and_without_the_place_it_was_taken(place):
    sent = (CORPUS / "a03_gps_and_rotation.jpg").read_bytes()
    with Image.open(io.BytesIO(sent)) as before:
        assert GPS in before.getexif()
        assert before.getexif()[TURN] != 1
        width, height = before.size
    kept = keep(place, sent, "a03.jpg")
    content = attachments.read(place.folder, kept.sha256)
    with Image.open(io.BytesIO(content)) as after:
        assert not after.getexif()
        assert after.size == (height, width)
    assert (kept.width, kept.height) == (height, width)
    assert b"Exif" not in content
    assert kept.shown


def test_a_pdf_with_a_script_is_kept_as_a_download_and_that_is_said(place):
    sent = (CORPUS / "a06_active.pdf").read_bytes()
    kept = keep(place, sent, "a06.pdf")
    assert not kept.shown
    assert [one.code for one in kept.findings] == ["attachment/download-only"]
    assert attachments.read(place.folder, kept.sha256) == sent


# What a picture is -----------------------------------------------------------------------------------


@pytest.mark.parametrize("turn", range(1, 9))
def test_a_picture_stands_upright_however_the_camera_was_held(turn):
    made = pictures.make_anew(photo(turn=turn), pictures.JPEG)
    with Image.open(io.BytesIO(made.content)) as after:
        left, top = turn in (1, 4, 5, 8), turn in (1, 2, 5, 6)
        # where the red corner of the stored picture lies once it is upright, from the Exif orientation table
        corner = {
            1: (0, 0), 2: (1, 0), 3: (1, 1), 4: (0, 1), 5: (0, 0), 6: (1, 0), 7: (1, 1), 8: (0, 1),
        }[turn]  # fmt: skip
        at = (2 if corner[0] == 0 else after.width - 3, 2 if corner[1] == 0 else after.height - 3)
        red, green, _ = after.getpixel(at)
        assert red > 200
        assert green < 80, (turn, left, top)
        assert not after.getexif()
        assert "comment" not in after.info


@pytest.mark.parametrize(("kind", "kept_as"), [("PNG", pictures.PNG), ("WEBP", pictures.JPEG)])
def test_every_kind_of_picture_loses_what_the_camera_wrote(kind, kept_as):
    sent = photo(kind)
    assert b"Exif" in sent or b"eXIf" in sent or b"EXIF" in sent
    made = pictures.make_anew(sent, pictures.type_of(sent))
    assert made.type == kept_as
    for word in (b"Exif", b"eXIf", b"EXIF", b"tEXt", b"iTXt"):
        assert word not in made.content


def test_a_comment_of_the_camera_goes_too():
    assert COMMENT in photo()
    assert COMMENT not in pictures.make_anew(photo(), pictures.JPEG).content


@pytest.mark.parametrize("mode", ["L", "CMYK", "1", "I;16", "RGBA", "P"])
def test_pictures_in_other_colours_are_read_too(mode):
    kind = "JPEG" if mode == "CMYK" else "PNG"
    page = io.BytesIO()
    Image.new(mode, (20, 10)).save(page, kind)
    made = pictures.make_anew(page.getvalue(), pictures.type_of(page.getvalue()))
    assert (made.width, made.height) == (20, 10)


def test_a_heic_picture_is_refused_with_the_setting_that_helps(place):
    found = refused(place, b"\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic" + bytes(64), "IMG_1.HEIC")
    assert found.code == "attachment/heic"
    assert "JPEG" in found.hint


def test_a_picture_that_claims_too_many_points_is_refused_before_it_is_unpacked(place):
    import struct
    import zlib

    def part(name, content):
        whole = name + content
        return struct.pack(">I", len(content)) + whole + struct.pack(">I", zlib.crc32(whole))

    head = struct.pack(">IIBBBBB", 30_000, 30_000, 8, 2, 0, 0, 0)
    bomb = b"\x89PNG\r\n\x1a\n" + part(b"IHDR", head) + part(b"IDAT", zlib.compress(bytes(1000)))
    found = refused(place, bomb + part(b"IEND", b""), "bomb.png")
    assert found.code == "attachment/too-many-points"
    smaller = struct.pack(">IIBBBBB", 6_000, 6_000, 8, 2, 0, 0, 0)
    bomb = b"\x89PNG\r\n\x1a\n" + part(b"IHDR", smaller) + part(b"IDAT", zlib.compress(bytes(1000)))
    found = refused(place, bomb + part(b"IEND", b""), "bomb.png")
    assert (found.code, "36 million" in found.text) == ("attachment/too-many-points", True)


def test_a_photo_that_comes_in_endless_passes_is_refused(place):
    sent = photo(progressive=True)
    scan = sent[sent.index(b"\xff\xda") : -2]
    assert refused(place, sent[:-2] + scan * 120 + sent[-2:]).code == "attachment/too-many-points"


def test_a_photo_of_twelve_million_points_stays_as_it_is_and_a_larger_one_is_made_smaller(place):
    twelve = keep(place, photo(size=(4000, 3000)))
    assert (twelve.width, twelve.height, twelve.findings) == (4000, 3000, ())
    larger = keep(place, photo(size=(8000, 6000)))
    assert (larger.width, larger.height) == (4096, 3072)
    assert [one.code for one in larger.findings] == ["attachment/made-smaller"]


@pytest.mark.parametrize("share", [0.2, 0.6, 0.95])
def test_a_picture_that_was_cut_off_is_refused(place, share):
    picture = Image.effect_noise((200, 200), 80)
    page = io.BytesIO()
    picture.save(page, "JPEG")
    sent = page.getvalue()
    assert refused(place, sent[: int(len(sent) * share)]).code == "attachment/not-whole"


@pytest.mark.parametrize(
    ("content", "code"),
    [
        (b"", "attachment/unknown-kind"),
        (b"MZ" + bytes(60), "attachment/unknown-kind"),
        (b"PK\x03\x04" + bytes(60), "attachment/unknown-kind"),
        (b"GIF89a" + bytes(60), "attachment/unknown-kind"),
        (b"\xef\xbb\xbf  \n<?xml version='1.0'?><!-- x --><svg onload='x'/>", "attachment/drawing"),
        ("<svg/>".encode("utf-16"), "attachment/drawing"),
        (b"<!DOCTYPE html><p>x", "attachment/web-page"),
        (b"\xff\xd8\xff<script>alert(1)</script>", "attachment/not-whole"),
        (b"\xff\xd8\xff" + bytes(25_000_001), "attachment/too-large"),
    ],
)
def test_what_is_not_taken_is_told_by_its_content(place, content, code):
    assert refused(place, content).code == code


# Kept once, and before it is said --------------------------------------------------------------------


def test_the_same_photo_twice_is_one_file_and_one_fact(place):
    first, again = keep(place, photo()), keep(place, photo(), "other name.jpg")
    assert first.sha256 == again.sha256
    assert len([one for one in place.folder.glob("files/*/*") if one.is_file()]) == 1
    assert len(place.facts(["file"])) == 1
    other = keep(place, photo(), about="ab" * 16)
    assert other.sha256 == first.sha256
    assert len(place.facts(["file"])) == 2
    assert len([one for one in place.folder.glob("files/*/*") if one.is_file()]) == 1


def test_a_photo_sent_again_under_its_id_changes_nothing(place):
    for _ in range(2):
        kept = keep(place, photo(), id="cd" * 16)
    assert kept.id == "cd" * 16
    assert len(place.facts(["file"])) == 1
    assert place.book.asides() == []


def test_the_hash_is_of_what_is_kept_and_names_the_file(place):
    kept = keep(place, photo())
    path = place.folder / "files" / kept.sha256[:2] / kept.sha256
    assert hashlib.sha256(path.read_bytes()).hexdigest() == kept.sha256
    assert place.facts(["file"])[0].details["sha256"] == kept.sha256


def test_the_file_is_on_the_disk_before_the_logbook_says_so(place, monkeypatch):
    order, sync, write = [], os.fsync, halls.Hall.write

    def noted_sync(descriptor):
        order.append("folder" if stat.S_ISDIR(os.fstat(descriptor).st_mode) else "file")
        return sync(descriptor)

    def noted_write(self, facts, person=None):
        order.append("fact")
        return write(self, facts, person)

    monkeypatch.setattr(attachments.os, "fsync", noted_sync)
    monkeypatch.setattr(halls.Hall, "write", noted_write)
    keep(place, photo())
    before = order[: order.index("fact")]
    assert before[0] == "file"
    assert before.count("folder") >= 2


def test_a_photo_that_cannot_be_written_leaves_no_fact_and_no_half_file(place, monkeypatch):
    def full(_self, _target):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(pathlib.Path, "replace", full)
    with pytest.raises(OSError, match="No space"):
        keep(place, photo())
    monkeypatch.undo()
    assert [one for one in place.folder.glob("files/**/*") if one.is_file()] == []
    assert place.facts(["file"]) == []


def test_a_disk_that_is_nearly_full_takes_no_photos_but_takes_readings(place, monkeypatch):
    monkeypatch.setattr(attachments.shutil, "disk_usage", lambda _folder: shutil_usage(1000, 960, 40))
    assert refused(place, photo()).code == "attachment/disk-full"
    at = clock.now()
    fact = records.Fact(id="ef" * 16, kind="note", measured=at, entered=at, note="still written")
    assert place.write([fact])[0].state == "new"
    monkeypatch.setattr(attachments.shutil, "disk_usage", lambda _folder: shutil_usage(1000, 940, 60))
    assert keep(place, photo()).sha256


def shutil_usage(total, used, free):
    return types.SimpleNamespace(total=total, used=used, free=free)


# Given out -------------------------------------------------------------------------------------------


def test_a_damaged_file_says_so_and_the_same_photo_puts_it_right(place):
    kept = keep(place, photo())
    path = attachments.path_of(place.folder, kept.sha256)
    content = bytearray(path.read_bytes())
    content[len(content) // 2] ^= 1
    path.write_bytes(content)
    with pytest.raises(mishaps.Refused) as caught:
        attachments.read(place.folder, kept.sha256)
    assert caught.value.findings[0].code == "attachment/damaged"
    assert [one.code for one in attachments.look_over(place)] == ["attachment/damaged"]
    keep(place, photo())
    assert attachments.look_over(place) == []


def test_a_lost_file_is_named(place):
    kept = keep(place, photo(), "gills.jpg")
    attachments.path_of(place.folder, kept.sha256).unlink()
    found = attachments.look_over(place)
    assert [one.code for one in found] == ["attachment/lost"]
    assert "gills.jpg" in found[0].text


@pytest.mark.parametrize("asked", ["", "..", "../../etc/passwd", "a" * 63, "A" * 64, "g" * 64, "0" * 64])
def test_what_is_no_hash_finds_nothing(place, asked):
    with pytest.raises(mishaps.Refused) as caught:
        attachments.read(place.folder, asked)
    assert caught.value.findings[0].code == "attachment/unknown"


def test_an_entry_knows_its_photos_through_corrections_and_withdrawals(place):
    at = clock.now()
    fact = records.Fact(id="ab" * 16, kind="note", measured=at, entered=at, place="mangrove", note="torn fin")
    place.write([fact])
    first = keep(place, photo(), "one.jpg", about=fact.id)
    second = keep(place, photo(size=(30, 30)), "two.jpg", about=fact.id)
    keep(place, photo(size=(40, 30)), "others.jpg", about="cd" * 16)
    assert [one.name for one in attachments.kept_of(place, [fact.id])] == ["one.jpg", "two.jpg"]
    assert place.facts(["file"])[0].place == "mangrove"
    place.withdraw(second.id, reason="wrong animal", entered=at)
    assert [one.id for one in attachments.kept_of(place, [fact.id])] == [first.id]
    assert attachments.kept_of(place, ["%", "_", '"', ""]) == []


@pytest.mark.parametrize(
    ("sent", "kept"),
    [
        ("../../etc/passwd", "passwd.jpg"),
        ("C:\\photos\\gills.jpeg", "gills.jpg"),
        ("a\u202egpj.exe", "agpj.jpg"),
        ("x\r\nSet-Cookie: a=b.jpg", "xSet-Cookie a=b.jpg"),
        ("  . ", "file.jpg"),
        ("e\u0301tang.jpg", "étang.jpg"),
        ("n" * 300 + ".jpg", "n" * 80 + ".jpg"),
    ],
)
def test_a_name_keeps_its_words_and_nothing_that_acts(sent, kept):
    assert attachments.clean_name(sent, "jpg") == kept
