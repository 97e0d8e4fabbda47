"""What a person reads when something went wrong: one sentence and a way out, never a traceback."""

import stat

import pytest

from brinehouse import findings, glossary, units
from brinehouse.workbench import mishaps


def stop(code="workbench/needed"):
    return findings.Finding(code=code, level=findings.Level.STOP, text="A name is needed.", hint="give one")


def raised(fault):
    try:
        raise fault
    except BaseException as caught:
        return caught


def test_a_refusal_carries_every_finding():
    fault = mishaps.Refused(stop(), stop("workbench/no-text"))
    assert [one.code for one in mishaps.told(fault)] == ["workbench/needed", "workbench/no-text"]
    assert str(fault) == "A name is needed.; A name is needed."


def test_a_fault_that_brings_its_finding_is_told_by_it():
    fault = ValueError("inside")
    fault.finding = stop()
    assert mishaps.told(fault) == (stop(),)


def test_an_amount_that_was_not_understood_keeps_its_own_code():
    with pytest.raises(units.NotUnderstood) as caught:
        units.read_amount("12 furlongs")
    (found,) = mishaps.told(caught.value)
    assert found.code == caught.value.code
    assert "furlongs" in found.text
    assert found.level is findings.Level.STOP


@pytest.mark.parametrize(
    ("fault", "said"),
    [
        (PermissionError(13, "Permission denied", "hall/logbook.sqlite"), "hall/logbook.sqlite cannot be"),
        (FileNotFoundError(2, "No such file or directory", "round.csv"), "no such file or directory"),
        (OSError(28, "No space left on device"), "the disk or the network refused: no space left on device"),
    ],
)
def test_a_disk_that_refuses_is_told_with_the_files_name(fault, said):
    (found,) = mishaps.told(fault)
    assert found.code == "workbench/disk"
    assert said in found.text
    assert "disk is not full" in found.hint


def test_a_file_that_is_not_there_is_really_told_so(tmp_path):
    with pytest.raises(OSError) as caught:
        (tmp_path / "gone" / "logbook.sqlite").read_bytes()
    assert "gone/logbook.sqlite cannot be opened" in mishaps.sentence(caught.value)
    assert "[workbench/disk]" in mishaps.sentence(caught.value)


def test_what_nobody_foresaw_is_one_sentence_and_a_private_file(tmp_path, monkeypatch):
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    told = mishaps.sentence(raised(ZeroDivisionError("a private detail")))
    (kept,) = tmp_path.iterdir()
    assert "workbench/unforeseen" in told
    assert "nothing was stored" in told
    assert str(kept) in told
    assert "Traceback" not in told
    assert "a private detail" not in told
    assert "a private detail" in kept.read_text("utf-8")
    assert stat.S_IMODE(kept.stat().st_mode) == 0o600


def test_planted_fault_a_refusal_leaves_no_file_behind(tmp_path, monkeypatch):
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    mishaps.sentence(mishaps.Refused(stop()))
    mishaps.sentence(PermissionError(13, "Permission denied", "x"))
    assert list(tmp_path.iterdir()) == []


def test_where_nothing_is_there_to_quote_only_the_reason_is_told():
    with pytest.raises(units.NotUnderstood) as caught:
        glossary.quantity("temperature").understand("25.4")
    (found,) = mishaps.told(caught.value)
    assert found.text == "there is no unit"
    assert "°C" in found.hint
