"""What a phone needs of the pages: a worker at the root, a name and a mark, and a way in by hand."""

import base64
import io
import json
import re

import pytest
from PIL import Image

from brinehouse.web import catalogue, files, phone_shell

ENTRY = {
    "id": f"{1:032x}", "made": "2026-03-14T06:35:00Z", "person": None, "round": "round", "walk": "ab" * 16,
    "stop": "mangrove.temperature", "kind": "reading",
    "body": {"place": "mangrove", "quantity": "temperature", "text": "25,1", "unit": "°C", "sure": False},
}  # fmt: skip


def test_the_worker_stands_at_the_root_and_keeps_each_file_a_round_needs(small):
    answer = small.get("/phone-worker.js")
    assert answer.headers["service-worker-allowed"] == "/"
    assert answer.headers["content-type"].startswith("text/javascript")
    kept = json.loads(re.search(r"const FILES = (\[.*\]);", answer.text).group(1))
    for page in ("/phone", "/phone/round/morning"):
        sheet = small.get(page)
        assert sheet.headers["x-build"] in answer.text
        asked = re.findall(r'(?:src|href)="(/static/[^"]+)"', sheet.text)
        assert len(asked) > 8
        assert set(asked) <= set(kept)
    assert all(small.get(address).status_code == 200 for address in kept)


def test_what_is_written_never_passes_through_the_worker():
    script = (files.folder() / "phone-worker.js").read_text("utf-8")
    assert 'if (request.method !== "GET" || origin !== location.origin) return;' in script


def test_the_build_changes_with_each_file_that_is_kept(monkeypatch):
    phone_shell.build.cache_clear()
    before = phone_shell.build()
    known = files.digest
    for name in (*phone_shell.KEPT, "phone-worker.js"):
        phone_shell.build.cache_clear()
        monkeypatch.setattr(files, "digest", lambda one, name=name: "other" if one == name else known(one))
        assert phone_shell.build() != before
    monkeypatch.undo()
    phone_shell.build.cache_clear()
    assert phone_shell.build() == before


def test_the_hall_can_be_put_among_the_programs_of_a_phone(small):
    told = small.get("/hall.webmanifest").json()
    assert (told["name"], told["start_url"], told["display"]) == ("Test Hall", "/phone", "standalone")
    for icon in told["icons"]:
        picture = Image.open(io.BytesIO(small.get(icon["src"]).content))
        assert f"{picture.width}x{picture.height}" == icon["sizes"]
        assert len(picture.convert("RGB").getcolors(1 << 20)) > 3  # it shows something
    assert {icon["purpose"] for icon in told["icons"]} == {"any", "maskable"}
    assert small.get("/phone/icon-any-7.png").status_code == 404


def test_files_go_out_packed_to_whoever_can_unpack_them(small):
    packed = small.get("/static/sheet.css", headers={"accept-encoding": "gzip"})
    plain = small.get("/static/sheet.css", headers={"accept-encoding": "identity"})
    assert packed.headers["content-encoding"] == "gzip"
    assert "content-encoding" not in plain.headers
    assert packed.text == plain.text
    assert int(packed.headers["content-length"]) < 0.4 * len(plain.content)
    assert packed.headers["vary"] == plain.headers["vary"] == "Accept-Encoding"
    assert small.get("/phone").headers["content-encoding"] == "gzip"


def test_each_word_of_the_scripts_is_in_the_catalogue_and_each_there_is_asked_for():
    scripts = "".join(
        (files.folder() / name).read_text("utf-8") for name in ("phone.js", "phone-list.js", "round.js")
    )
    there = {key[5:] for key in catalogue.words() if key.startswith("walk.")}
    asked = set(re.findall(r'(?:\bt|words)\(\s*"([a-z_]+)"', scripts))
    assert asked <= there
    built = ("state_", "room_", "zone_", "basis_")
    assert not [key for key in there - asked if f'"{key}"' not in scripts and not key.startswith(built)]


def handed_in(visitor, told):
    content = told if isinstance(told, bytes) else json.dumps(told).encode()
    return visitor.post("/hand-in", files={"file": ("queue.json", content, "application/json")})


def picture():
    held = io.BytesIO()
    Image.new("RGB", (64, 48), (20, 80, 90)).save(held, "JPEG")
    return base64.b64encode(held.getvalue()).decode()


def test_a_queue_handed_in_as_a_file_is_stored_once_with_its_pictures(small):
    entries = [{**ENTRY, "id": f"{number:032x}"} for number in range(1, 121)]
    photo = {
        "id": "f" * 32,
        "about": ENTRY["id"],
        "made": ENTRY["made"],
        "type": "image/jpeg",
        "base64": picture(),
    }
    told = {"device": "a" * 32, "sent": "2026-03-13T07:00:00Z", "entries": entries, "photos": [photo]}
    assert "121 stored, 0 were there already, 0 to be looked at" in handed_in(small, told).text
    assert "0 stored, 121 were there already, 0 to be looked at" in handed_in(small, told).text
    hall = small.app.state.desk.hall()
    readings = hall.history()
    assert len(readings) == 120
    assert {f"{reading.measured:%H:%M}" for reading in readings} == {"06:35"}  # not shifted by the file's age


def test_of_a_file_what_is_not_taken_is_told_and_holds_nothing_up(small):
    bad = {**ENTRY, "id": f"{9:032x}", "body": {**ENTRY["body"], "text": "warm"}}
    text = handed_in(small, {"entries": [bad, ENTRY], "photos": [7]}).text
    assert "1 stored, 0 were there already, 2 to be looked at" in text
    assert "is not a plain number" in text


@pytest.mark.parametrize(
    "content", [b"", b"[]", b"{}", b'{"entries": 7}', b'{"entries": [], "entries": []}', b"\xff", b"[" * 5000]
)
def test_what_is_no_queue_is_refused_in_a_sentence(small, content):
    answer = handed_in(small, content)
    assert answer.status_code == 422
    assert "round/no-batch" in answer.text
