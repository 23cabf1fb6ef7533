"""The folder of finished pieces: whole or not at all, for one set of inputs."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from planner.errors import InputError, StorageError
from planner.store.chunks import ChunkStore, fingerprint
from tests.model.scenarios import HIVE, NUC


def test_a_piece_comes_back_as_it_was_saved(tmp_path: Path) -> None:
    store = ChunkStore(tmp_path / "deep" / "folder", "a", "test")
    store.save("week-1", {"level": np.array([0, 2, 3]), "peak": np.array([np.nan, 36.5])})
    again = ChunkStore(tmp_path / "deep" / "folder", "a", "test").load("week-1")
    assert again is not None
    assert np.array_equal(again["level"], [0, 2, 3])
    assert np.array_equal(again["peak"], [np.nan, 36.5], equal_nan=True)


def test_a_missing_or_damaged_piece_is_none(tmp_path: Path) -> None:
    store = ChunkStore(tmp_path, "a", "test")
    assert store.load("week-1") is None
    store.save("week-1", {"level": np.arange(1000)})
    path = tmp_path / "week-1.npz"
    path.write_bytes(path.read_bytes()[:200])
    assert store.load("week-1") is None
    path.write_bytes(b"")
    assert store.load("week-1") is None


def test_a_piece_that_would_run_code_is_not_opened(tmp_path: Path) -> None:
    store = ChunkStore(tmp_path, "a", "test")
    np.savez(tmp_path / "week-1.npz", level=np.array([{}], dtype=object))
    assert store.load("week-1") is None


@pytest.mark.parametrize("manifest", ['{"format": 1, "fingerprint": "b"}', "{", "[]", '{"format": 9}'])
def test_a_folder_of_other_inputs_is_refused(tmp_path: Path, manifest: str) -> None:
    (tmp_path / "manifest.json").write_text(manifest, encoding="utf-8")
    with pytest.raises(InputError, match="other inputs"):
        ChunkStore(tmp_path, "a", "test")


def test_a_folder_that_cannot_be_made_is_explained(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x", encoding="utf-8")
    with pytest.raises(StorageError):
        ChunkStore(tmp_path / "file" / "folder", "a", "test")


def test_a_key_cannot_leave_the_folder(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="not a key"):
        ChunkStore(tmp_path, "a", "test").save("../week", {})


def test_any_change_of_the_inputs_changes_the_fingerprint() -> None:
    a = np.arange(3.0)
    texts = [
        fingerprint(a, NUC),
        fingerprint(a + 1e-12, NUC),
        fingerprint(a.astype(np.float32), NUC),
        fingerprint(a, HIVE),
        fingerprint(a, replace(NUC, frames_of_bees=5.0001)),
        fingerprint((a, NUC)),
        fingerprint({"x": a}, NUC),
        fingerprint({"y": a}, NUC),
    ]
    assert len(set(texts)) == len(texts)
    assert fingerprint({"x": 1, "y": a}) == fingerprint({"y": a.copy(), "x": 1})


def test_the_manifest_says_what_the_pieces_belong_to(tmp_path: Path) -> None:
    ChunkStore(tmp_path, "a", "A season")
    assert json.loads((tmp_path / "manifest.json").read_text()) == {
        "format": 1,
        "fingerprint": "a",
        "title": "A season",
    }
    ChunkStore(tmp_path, "a", "The same under another title")


@pytest.mark.parametrize(
    ("key", "fine"),
    [
        ("week-1", True),
        ("7", True),
        ("x" * 80, True),
        ("x" * 81, False),
        ("-a", False),
        ("A", False),
        ("", False),
        ("a.b", False),
    ],
)
def test_a_key_is_a_plain_word(tmp_path: Path, key: str, fine: bool) -> None:
    store = ChunkStore(tmp_path, "a", "test")
    if fine:
        store.save(key, {"level": np.arange(2)})
        assert (tmp_path / f"{key}.npz").is_file()
        return
    with pytest.raises(ValueError, match="not a key"):
        store.save(key, {})


def test_fingerprints_are_short_and_tell_shapes_and_nesting_apart() -> None:
    a = np.arange(4.0)
    texts = [
        fingerprint(a),
        fingerprint(a.reshape(2, 2)),
        fingerprint(a.reshape(2, 2).T),
        fingerprint([1, 2], [3]),
        fingerprint([1], [2, 3]),
        fingerprint([1, 2, 3]),
        fingerprint("1", 2),
        fingerprint(1, 2),
        fingerprint(None),
        fingerprint({"a": 1}, {}),
        fingerprint({}, {"a": 1}),
    ]
    assert len(set(texts[:9])) == 9
    assert {len(text) for text in texts} == {32}
    assert fingerprint(a) == fingerprint(np.arange(8.0)[:4])


def test_tables_by_keys_that_have_no_order_have_a_fingerprint() -> None:
    """Whatever order they were filled in."""
    keys = (1, "a"), (None, "b")
    one, other = (dict.fromkeys(order, 1.0) for order in (keys, keys[::-1]))
    assert fingerprint(one) == fingerprint(other) != fingerprint({keys[0]: 1.0})
