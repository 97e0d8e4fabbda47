"""Machines, meters and work: the register, counters, renewals, lock-out notes, work orders with a photo."""

import io
import re

import pytest
from test_pages_plant_edit import boxes

PLANT = """
[pump.P-1]
name = "return"
flow = "20 m3/h"
spares = ["2 shaft seals"]
manual = "red folder"

[[upkeep]]
of = "P-1"
what = "change the shaft seal"
every = "90 d"
parts = ["1 shaft seal"]

[[upkeep]]
of = "meter-B"
what = "membrane"
every = "30 d"
counts = "renewal"
"""


@pytest.fixture
def plant(small):
    """A small hall with a pump and work that comes round."""
    file = small.app.state.desk.hall().file
    file.write_text(file.read_text("utf-8") + PLANT, "utf-8")
    return small


def test_the_register_and_the_sheet_of_one_machine(plant):
    listed = plant.get("/equipment").text
    assert 'href="/equipment/P-1"' in listed
    assert "cannot tell" in listed
    one = plant.get("/equipment/P-1").text
    assert "2 shaft seals" in one
    assert "red folder" in one
    assert "A note here is not a lock" in one
    assert plant.get("/equipment/P-7").status_code == 404


def test_a_counter_is_written_down_or_refused_at_its_box(plant):
    assert plant.post("/equipment/P-1/count", data={"hours": "12840", "by": "Ada"}).status_code == 303
    assert "It ran 12840 h in all" in plant.get("/equipment/P-1").text
    refused = plant.post("/equipment/P-1/count", data={"hours": "many"})
    assert refused.status_code == 422
    assert 'aria-invalid="true"' in refused.text


def test_a_renewal_with_its_lot_counts_for_what_comes_round(plant):
    told = {"what": "membrane", "lot": "L7", "expires": "2026-06-01"}
    assert plant.post("/equipment/meter-B/renew", data=told).status_code == 303
    page = plant.get("/equipment/meter-B").text
    assert "lot L7 keeps until 2026-06-01" in page
    assert "13 Apr 2026" in page


def test_a_lock_out_is_seen_where_the_thing_is_and_comes_off_with_a_reason(plant):
    assert (
        plant.post("/equipment/P-1/lock", data={"tag": "17", "why": "seal", "by": "Ada"}).status_code == 303
    )
    page = plant.get("/equipment/P-1").text
    assert "is locked out: do not start it" in page
    for address in ("/equipment", "/work", "/now", "/plant"):
        assert "17" in plant.get(address).text, address
    lock = re.search(r'name="lock" value="([0-9a-f]{32})"', page).group(1)
    refused = plant.post("/equipment/P-1/lock-off", data={"lock": lock, "by": "Ben"})
    assert refused.status_code == 422
    assert "hung by Ada" in refused.text
    told = {"lock": lock, "by": "Ben", "why": "Ada is done"}
    assert plant.post("/equipment/P-1/lock-off", data=told).status_code == 303
    assert "do not start it" not in plant.get("/equipment/P-1").text


def test_a_paper_is_kept_with_the_thing_and_what_is_no_paper_is_refused(plant):
    paper = ("seal.pdf", b"%PDF-1.4\n%%EOF\n", "application/pdf")
    form = re.search(r'<form[^>]*/equipment/P-1/paper"[^>]*>', plant.get("/equipment/P-1").text).group(0)
    assert 'enctype="multipart/form-data"' in form
    sent = plant.post("/equipment/P-1/paper", files={"file": paper}, data={"by": "Ada"})
    assert (sent.status_code, sent.headers["location"]) == (303, "/equipment/P-1")
    link = re.search(r'<a href="(/files/[0-9a-f]{64})">seal\.pdf</a>', plant.get("/equipment/P-1").text)
    assert plant.get(link.group(1)).content == paper[1]
    assert "seal.pdf" not in plant.get("/equipment/meter-B").text
    none = plant.post("/equipment/P-1/paper", data={"by": "Ada"})
    assert (none.status_code, "No photo or paper was chosen" in none.text) == (422, True)  # register/no-paper
    page = ("seal.pdf", b"<!doctype html><p>a page</p>", "application/pdf")
    refused = plant.post("/equipment/P-1/paper", files={"file": page})
    assert (refused.status_code, "this is a web page" in refused.text) == (422, True)
    assert plant.post("/equipment/P-7/paper", files={"file": paper}).status_code == 404


def test_work_is_asked_for_begun_and_done_with_parts_and_a_photo(plant):
    from PIL import Image

    key = re.search(r'href="/work/new\?upkeep=([0-9a-f]+)"', plant.get("/work").text).group(1)
    form = boxes(plant.get(f"/work/new?upkeep={key}").text)
    assert form["title"] == "change the shaft seal (1 shaft seal)"
    made = plant.post("/work", data=form | {"by": "Ada"})
    assert made.status_code == 303
    address = made.headers["location"]
    assert plant.post(f"{address}/step", data={"what": "begun", "by": "Ben"}).status_code == 303
    refused = plant.post(f"{address}/step", data={"what": "done", "by": "Ben", "minutes": "x", "did": "y"})
    assert refused.status_code == 422
    assert "is not a number of minutes" in refused.text  # work/no-minutes
    assert plant.post(f"{address}/step", data={"what": "done", "by": "Ben"}).status_code == 422
    told = {
        "what": "done",
        "did": "new seal",
        "parts": "1 shaft seal\n2 O-rings",
        "minutes": "80",
        "by": "Ben",
    }
    assert plant.post(f"{address}/step", data=told).status_code == 303
    picture = io.BytesIO()
    Image.new("RGB", (40, 30), (20, 90, 90)).save(picture, "JPEG")
    sent = plant.post(f"{address}/photo", files={"file": ("seal.jpg", picture.getvalue(), "image/jpeg")})
    assert sent.status_code == 303
    page = plant.get(address).text
    assert "Parts: 1 shaft seal; 2 O-rings" in page
    assert '<img class="photo"' in page
    none = plant.post(f"{address}/photo", data={"by": "Ben"})
    assert (none.status_code, "No photo was chosen" in none.text) == (422, True)  # work/no-photo
    assert plant.get("/work/" + "0" * 32).status_code == 404


def test_work_without_words_is_refused_at_its_box(plant):
    refused = plant.post("/work", data={"title": "", "of": "P-9"})
    assert refused.status_code == 422
    assert refused.text.count('aria-invalid="true"') == 2
