"""What must stay secret: kept as hashes at a cost, or sealed with a key that only the folder has."""

import stat
import subprocess
import sys
import threading
import time

import pytest

from brinehouse.workbench import mishaps, sealing


def code(refusal):
    return refusal.value.findings[0].code


def test_the_product_s_hashes_cost_what_they_should_and_only_tests_lower_it():
    """OWASP Password Storage Cheat Sheet: Argon2id with 19 MiB, 2 passes, 1 lane."""
    assert sealing.Cost(passes=2, memory=19 * 1024, lanes=1) == sealing.PRODUCT
    asked = "from brinehouse.workbench import sealing; print(sealing.hashed('kettle')[:31])"
    said = subprocess.run([sys.executable, "-c", asked], capture_output=True, text=True, check=True)
    assert said.stdout.strip() == "$argon2id$v=19$m=19456,t=2,p=1$"


def test_a_planted_lower_cost_is_seen(cheap):
    assert sealing.hashed("kettle")[:27] != "$argon2id$v=19$m=19456,t=2,"
    assert not sealing.outdated(sealing.hashed("kettle"))


def test_a_hash_of_another_cost_is_outdated_and_still_fits(cheap):
    kept = sealing.hashed("kettle")
    sealing.cost = sealing.Cost(passes=2, memory=16, lanes=1)
    assert sealing.outdated(kept)
    assert sealing.fits(kept, "kettle")
    assert not sealing.fits(kept, "Kettle")
    assert not sealing.outdated("")


def test_nothing_fits_where_nothing_is_kept(cheap):
    assert not sealing.fits("", "")
    assert not sealing.fits("not a hash", "kettle")


def test_an_unknown_name_costs_the_same_work():
    """Same work within a quarter, at the product's own cost; the notes ask for the same time."""

    def median(kept):
        took = []
        for _ in range(5):
            begun = time.process_time()
            sealing.fits(kept, "kettle")
            took.append(time.process_time() - begun)
        return sorted(took)[2]

    known, unknown = sealing.hashed("ladder"), ""
    median(unknown)  # its decoy is made once
    assert median(unknown) == pytest.approx(median(known), rel=0.25)


def test_four_hashes_at_once_and_the_fifth_waits_for_its_turn(cheap, monkeypatch):
    monkeypatch.setattr(sealing, "PATIENCE", 0.05)
    for _ in range(sealing.AT_ONCE):
        assert sealing._turns.acquire(blocking=False)
    try:
        with pytest.raises(mishaps.Refused) as refusal:
            sealing.hashed("kettle")
        assert code(refusal) == "people/crowded"
        freed = threading.Timer(0.02, sealing._turns.release)
        monkeypatch.setattr(sealing, "PATIENCE", 5.0)
        freed.start()
        assert sealing.hashed("kettle")
    finally:
        freed.join()
        for _ in range(sealing.AT_ONCE - 1):
            sealing._turns.release()


def test_the_key_is_made_once_and_read_by_its_owner_alone(tmp_path):
    with pytest.raises(mishaps.Refused) as refusal:
        sealing.key(tmp_path)
    assert code(refusal) == "people/no-key"
    made = sealing.key(tmp_path, make=True)
    assert made == sealing.key(tmp_path, make=True) == sealing.key(tmp_path)
    assert stat.S_IMODE((tmp_path / sealing.FILE).stat().st_mode) == 0o600
    (tmp_path / sealing.FILE).write_text("half", "ascii")
    with pytest.raises(mishaps.Refused):
        sealing.key(tmp_path)


def test_what_is_sealed_opens_with_the_same_key_alone(tmp_path):
    for name in ("a", "b"):
        (tmp_path / name).mkdir()
        sealing.key(tmp_path / name, make=True)
    sealed = sealing.seal(tmp_path / "a", "JBSWY3DP")
    assert "JBSWY3DP" not in sealed
    assert sealing.unseal(tmp_path / "a", sealed) == "JBSWY3DP"
    with pytest.raises(mishaps.Refused) as refusal:
        sealing.unseal(tmp_path / "b", sealed)
    assert code(refusal) == "people/other-key"
    assert sealing.with_key(tmp_path / "a", "4807") != sealing.with_key(tmp_path / "b", "4807")


def test_a_code_is_read_whatever_its_case_and_dashes(tmp_path):
    sealing.key(tmp_path, make=True)
    told = sealing.code()
    same = {sealing.code_digest(tmp_path, form) for form in (told, told.lower(), told.replace("-", " "))}
    assert len(same) == 1
    assert told.replace("-", "") not in same.pop()


def test_tickets_have_256_bits():
    assert len({sealing.ticket() for _ in range(100)}) == 100
    assert len(sealing.ticket()) == 43  # 256 bits in base64
    assert len(sealing.digest("x")) == 64
