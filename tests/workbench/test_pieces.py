"""Pieces of a sweep on disk: whole with their hash, or worked anew."""

import dataclasses
import json
import os
import pathlib
import subprocess
import sys

import numpy as np
import pytest

from brinehouse.workbench import pieces

VALUES = np.array([[1.25, np.inf, -0.0], [3.0, 4.5, 1e-300]])


@pytest.fixture
def kept(tmp_path):
    made = pieces.Kept(tmp_path / "s", "q" * 64)
    made.note(samples=2)
    made.write((0, 2), VALUES)
    return made


def test_a_piece_comes_back_bit_by_bit(kept):
    got = kept.read((0, 2))
    assert got.tobytes() == VALUES.tobytes()
    assert kept.read((2, 4)) is None
    assert not list(kept.folder.glob(".*"))


def test_a_change_of_any_byte_is_seen(kept):
    file = kept.file((0, 2))
    sound = file.read_bytes()
    for at in range(len(sound)):
        file.write_bytes(sound[:at] + bytes([sound[at] ^ 1]) + sound[at + 1 :])
        with pytest.raises(pieces.Altered):
            kept.read((0, 2))


@pytest.mark.parametrize(
    "content",
    [b"", b"\n", b"{}\n", b"[]\nx", b'{"sha256": 1}\n', b"not json\n", b"\xff\xfe\n"],
)
def test_what_is_no_piece_is_worked_anew(kept, content):
    kept.file((0, 2)).write_bytes(content)
    seen = []
    assert pieces.gather(kept, 2, seen.append) == {}
    assert seen == [(0, 2)]


def test_a_piece_that_lost_its_end_or_grew_is_seen(kept):
    file = kept.file((0, 2))
    sound = file.read_bytes()
    for content in (sound[:-1], sound + b"x"):
        file.write_bytes(content)
        with pytest.raises(pieces.Altered):
            kept.read((0, 2))


def test_a_piece_of_another_question_or_place_is_not_taken(kept):
    kept.file((2, 4)).write_bytes(kept.file((0, 2)).read_bytes())
    with pytest.raises(pieces.Altered):
        kept.read((2, 4))
    with pytest.raises(pieces.Altered):
        pieces.Kept(kept.folder, "z" * 64).read((0, 2))


def test_a_piece_that_claims_to_be_huge_is_not_unpacked(kept):
    file = kept.file((0, 2))
    head, _, body = file.read_bytes().partition(b"\n")
    told = {**json.loads(head), "shape": [1 << 40, 3]}
    file.write_bytes(json.dumps(told).encode() + b"\n" + body)
    with pytest.raises(pieces.Altered):
        kept.read((0, 2))


def test_pieces_are_joined_in_the_order_of_their_samples():
    some = {(5, 6): VALUES[1:], (0, 1): VALUES[:1]}
    assert pieces.joined(some).tobytes() == VALUES.tobytes()


def test_a_write_that_fails_leaves_what_was_there(kept, monkeypatch):
    def full(_handle):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OSError, match="No space"):
        kept.write((0, 2), VALUES + 1.0)
    assert kept.read((0, 2)).tobytes() == VALUES.tobytes()
    assert not list(kept.folder.glob(".*"))


@dataclasses.dataclass(frozen=True)
class Some:
    a: object
    b: object = None


def test_any_difference_is_another_question():
    every = [
        Some(1), Some(1.0), Some("1"), Some(True), Some(None), Some(None, 1), Some((1, 2)), Some((2, 1)),
        Some({"x": 1}), Some({"x": 2}), Some({"y": 1}), Some(frozenset("ab")), Some(frozenset("a")),
        Some(np.array([1.0])), Some(np.array([1])), Some(0.1 + 0.2), Some(0.3), Some(("ab", "c")),
        Some(("a", "bc")),
    ]  # fmt: skip
    assert len({pieces.digest(one) for one in every}) == len(every)
    with pytest.raises(TypeError):
        pieces.digest(Some(object()))


def test_a_question_has_the_same_digest_in_another_process():
    code = (
        "from brinehouse.workbench import pieces;"
        "print(pieces.digest({'a': {'x', 'y', 'z'}, 'b': [1.5]}), pieces.model())"
    )
    said = [
        subprocess.run(
            [sys.executable, "-c", code], capture_output=True, text=True, check=True,
            env={**os.environ, "PYTHONHASHSEED": str(seed)},
        ).stdout
        for seed in (1, 2)
    ]  # fmt: skip
    assert said[0] == said[1]
    assert pieces.digest({"b": [1.5], "a": {"x", "y", "z"}}) in said[0]


def test_another_line_of_the_code_that_answers_is_another_question(monkeypatch, tmp_path):
    import importlib.resources

    before = pieces.model()
    for name in pieces.RESTS_ON:
        (tmp_path / name).mkdir(parents=True)
    (tmp_path / "network" / "x.py").write_text("one")
    monkeypatch.setattr(importlib.resources, "files", lambda _: pathlib.Path(tmp_path))
    one = pieces.model.__wrapped__()
    (tmp_path / "network" / "x.py").write_text("two")
    assert len({before, one, pieces.model.__wrapped__()}) == 3
