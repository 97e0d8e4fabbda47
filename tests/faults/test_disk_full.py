"""A disk that really fills up: told in time, photos wait, readings go on to the last, and it recovers."""

import io
import os
import subprocess

import pytest

from brinehouse.logbook import health, kept, store
from brinehouse.workbench import attachments, mishaps
from brinehouse.workbench import hall as halls

SIZE = 8 * 1024 * 1024
FACILITY = """
schema = 1
[facility]
name = "Test Hall"
timezone = "UTC"
[tank.tank-1]
volume = "1 m3"
depth = "1 m"
"""


@pytest.fixture
def small_disk(tmp_path):
    """A disk of its own, of eight megabytes."""
    at = tmp_path / "disk"
    at.mkdir()
    subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={SIZE}", "tmpfs", at], check=True)
    try:
        yield at
    finally:
        subprocess.run(["umount", "-l", at], check=True)


def photo():
    from PIL import Image

    page = io.BytesIO()
    Image.new("RGB", (40, 30), "white").save(page, "JPEG")
    return page.getvalue()


def fill(disk, share):
    """Lay something heavy on the disk, so that so much of it is full."""
    heavy = disk / "heavy"
    heavy.unlink(missing_ok=True)
    state = os.statvfs(disk)
    total, free = state.f_blocks * state.f_frsize, state.f_bavail * state.f_frsize
    heavy.write_bytes(bytes(max(0, int(share * total) - (total - free))))


def levels(folder):
    return [one.level.value for one in health.disk_of(folder)]


@pytest.mark.part("namespaces")
def test_a_disk_that_fills_up_is_told_refuses_photos_first_and_recovers_by_itself(small_disk, beside):
    harness = beside("harness")
    folder = small_disk / "hall"
    folder.mkdir()
    (folder / "facility.toml").write_text(FACILITY, "utf-8")
    with halls.open_hall(folder) as place:
        book = place.book
        book.append([harness.reading(0)])
        fill(small_disk, 0.80)
        assert levels(folder) == []
        fill(small_disk, 0.92)
        assert levels(folder) == ["watch"]
        assert attachments.keep(place, photo(), "a.jpg", person=None).sha256  # the control: not yet
        fill(small_disk, 0.96)
        assert levels(folder) == ["act"]
        with pytest.raises(mishaps.Refused) as caught:
            attachments.keep(place, photo(), "b.jpg", about="ab" * 16, person=None)
        assert caught.value.findings[0].code == "attachment/disk-full"
        saved = {one.id for one in book.append([harness.reading(1)])}
        fill(small_disk, 0.995)
        number, refusal = 2, None
        while refusal is None and number < 5_000:
            try:
                saved |= {one.id for one in book.append([harness.reading(number)])}
                number += 1
            except kept.NotSaved as told:
                refusal = told
        assert refusal is not None, "the disk was to be full"
        assert "not saved" in refusal.finding.text
        assert saved <= {one.id for one in book.readings()}, "what was saved can still be read"
        (small_disk / "heavy").unlink()
        assert book.append([harness.reading(number)])[0].state in ("new", "same")  # without a restart
        assert attachments.keep(place, photo(), "b.jpg", about="ab" * 16, person=None).sha256
    assert harness.check(folder, saved) is None
    with store.open_logbook(folder) as book:
        assert number > 2
        assert book.verify() == []
