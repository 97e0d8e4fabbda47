"""Files given out: pictures shown, papers downloaded, nothing run."""

import io
import pathlib

import pytest
from PIL import Image

from brinehouse.workbench import attachments

CORPUS = pathlib.Path(__file__).parents[1] / "corpus"


@pytest.fixture
def place(small):
    return small.app.state.desk.hall()


def test_a_photo_is_shown_with_what_keeps_it_still(small, place):
    kept = attachments.keep(
        place, (CORPUS / "a03_gps_and_rotation.jpg").read_bytes(), "gills.jpg", person=None
    )
    answer = small.get(f"/files/{kept.sha256}")
    assert answer.status_code == 200
    assert answer.headers["content-type"] == "image/jpeg"
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert answer.headers["content-disposition"] == "inline; filename*=UTF-8''gills.jpg"
    assert "sandbox" in answer.headers["content-security-policy"]
    with Image.open(io.BytesIO(answer.content)) as picture:
        assert not picture.getexif()
    again = small.get(f"/files/{kept.sha256}?download")
    assert again.headers["content-disposition"].startswith("attachment;")


def test_a_pdf_is_only_ever_a_download(small, place):
    kept = attachments.keep(place, (CORPUS / "a06_active.pdf").read_bytes(), "Handbuch é.pdf", person=None)
    answer = small.get(f"/files/{kept.sha256}")
    assert answer.headers["content-type"] == "application/octet-stream"
    assert answer.headers["content-disposition"] == "attachment; filename*=UTF-8''Handbuch%20%C3%A9.pdf"
    assert "sandbox" in answer.headers["content-security-policy"]


def test_a_page_that_got_into_the_folder_by_hand_is_not_run(small, place):
    import hashlib

    page = b"<!doctype html><script>alert(1)</script>"
    sha256 = hashlib.sha256(page).hexdigest()
    attachments.store(place.folder, sha256, page)
    answer = small.get(f"/files/{sha256}")
    assert answer.headers["content-type"] == "application/octet-stream"
    assert answer.headers["content-disposition"].startswith("attachment;")


def test_a_damaged_file_is_told_and_not_shown(small, place):
    kept = attachments.keep(
        place, (CORPUS / "a03_gps_and_rotation.jpg").read_bytes(), "gills.jpg", person=None
    )
    path = attachments.path_of(place.folder, kept.sha256)
    path.write_bytes(path.read_bytes()[:-9])
    answer = small.get(f"/files/{kept.sha256}")
    assert answer.status_code == 500
    assert "damaged" in answer.text


@pytest.mark.parametrize("asked", ["0" * 64, "x", "..%2F..%2Ffacility.toml", "%00"])
def test_what_is_not_kept_is_not_there(small, asked):
    assert small.get(f"/files/{asked}").status_code == 404


def test_an_entry_shows_its_photos(small, place):
    answer = small.post("/log/new", data={
        "place": "mangrove", "quantity": "temperature", "value": "25.4 °C", "by": "A",
        "at": "2026-03-14T06:30",
    })  # fmt: skip
    entry = answer.headers["location"].rpartition("/")[2]
    assert "/files/" not in small.get(f"/log/{entry}").text
    kept = attachments.keep(
        place,
        (CORPUS / "a03_gps_and_rotation.jpg").read_bytes(),
        'a"><script>x.jpg',
        about=entry,
        person=None,
    )
    shown = small.get(f"/log/{entry}").text
    assert f'src="/files/{kept.sha256}"' in shown
    assert "<script>x" not in shown
    assert f'src="/files/{kept.sha256}"' in small.get(f"/log/{kept.id}").text
