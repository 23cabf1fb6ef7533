"""Files read within bounds and written whole: sizes, encodings, dates, permissions."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from planner.errors import InputError, StorageError
from planner.store.documents import parse_toml, read_text, read_toml, write_bytes, write_text


def problem_of(path: Path, raw: bytes, most: int = 100, otherwise: str = "") -> str:
    path.write_bytes(raw)
    with pytest.raises(InputError) as caught:
        read_text(path, most, "a list", otherwise)
    assert caught.value.where == path.name
    return caught.value.faults[0].problem


def test_a_file_may_be_as_long_as_allowed_and_no_longer(tmp_path: Path) -> None:
    path = tmp_path / "list.txt"
    path.write_bytes(b"x" * 100)
    assert read_text(path, 100, "a list") == "x" * 100
    assert problem_of(path, b"x" * 101) == "longer than 0 MB"


def test_a_toml_file_may_have_five_megabytes(tmp_path: Path) -> None:
    path = tmp_path / "trip.toml"
    path.write_bytes(b"a = 1\n#" + b"x" * 4_999_993)
    assert read_toml(path, "a trip file") == {"a": 1}
    path.write_bytes(b"a = 1\n#" + b"x" * 4_999_994)
    with pytest.raises(InputError, match="longer than 5 MB"):
        read_toml(path, "a trip file")


@pytest.mark.parametrize(
    ("raw", "otherwise", "text"),
    [
        ("\ufeffgrün".encode(), "", "grün"),
        ("grün".encode(), "cp1252", "grün"),
        ("grün".encode("cp1252"), "cp1252", "grün"),
    ],
)
def test_utf_8_is_read_first_and_a_mark_at_the_front_taken_off(
    tmp_path: Path, raw: bytes, otherwise: str, text: str
) -> None:
    (tmp_path / "list.txt").write_bytes(raw)
    assert read_text(tmp_path / "list.txt", 100, "a list", otherwise) == text


@pytest.mark.parametrize(
    ("raw", "otherwise", "problem"),
    [
        ("grün".encode("cp1252"), "", "this is not a text file"),
        (b"a\0b", "", "this is not a text file"),
        (b"a\0\xff", "cp1252", "this is not a text file"),
        (b"", "", "the file is empty"),
        (b" \n\t", "", "the file is empty"),
    ],
)
def test_what_is_no_text_is_refused(tmp_path: Path, raw: bytes, otherwise: str, problem: str) -> None:
    assert problem_of(tmp_path / "list.txt", raw, otherwise=otherwise) == problem


def test_toml_dates_and_times_become_the_text_people_write() -> None:
    text = """
    minutes = 2027-05-12T21:30:00
    seconds = 2027-05-12T21:30:15
    parts = 2027-05-12T21:30:00.5
    zoned = 2027-05-12T21:30:00Z
    clock = 05:30:00
    late = 05:30:01
    days = [2027-05-12, {day = 2027-05-13}]
    """
    assert parse_toml(text, "trip.toml") == {
        "minutes": "2027-05-12T21:30",
        "seconds": "2027-05-12T21:30:15",
        "parts": "2027-05-12T21:30:00",
        "zoned": "2027-05-12T21:30+00:00",
        "clock": "05:30",
        "late": "05:30:01",
        "days": ["2027-05-12", {"day": "2027-05-13"}],
    }


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ("a = ", "the text breaks off or is not TOML"),
        ("a = " + "[" * 3000, "the brackets are nested too deep"),
        ("a = " + "9" * 9000, "a value cannot be read"),
    ],
    ids=["cut", "deep", "long number"],
)
def test_toml_that_cannot_be_read_is_explained(text: str, problem: str) -> None:
    with pytest.raises(InputError, match=problem) as caught:
        parse_toml(text, "trip.toml")
    assert caught.value.where == "trip.toml"


@pytest.mark.parametrize(
    ("line", "remedy"),
    [
        ("lat = 52,2", "Write numbers with a point: 52.2, not 52,2"),
        ("lon = -1,25   # the yard", "Write numbers with a point: -1.25, not -1,25"),
        (
            "title = UK nucs",
            'Put words in quotes, as in name = "Oak Farm"; numbers, true and false stand without',
        ),
        ("lat 52.2", "Mend the line named"),
        ("at = [1, 2", "Mend the line named"),
    ],
)
def test_the_usual_slips_of_a_hand_written_file_have_their_own_remedy(line: str, remedy: str) -> None:
    with pytest.raises(InputError) as caught:
        parse_toml(f"version = 1\n{line}\n", "trip.toml")
    assert [fault.remedy for fault in caught.value.faults] == [remedy]


@pytest.mark.skipif(os.name == "nt", reason="permissions of this kind")
@pytest.mark.parametrize("mask", [0o022, 0o077])
def test_a_new_file_gets_the_usual_rights_and_an_old_one_keeps_its_own(tmp_path: Path, mask: int) -> None:
    path, before = tmp_path / "list.txt", os.umask(mask)
    try:
        write_text(path, "one")
        assert path.stat().st_mode & 0o777 == 0o666 & ~mask
        path.chmod(0o640)
        write_text(path, "two")
        assert path.stat().st_mode & 0o777 == 0o640
        assert os.umask(mask) == mask
    finally:
        os.umask(before)
    assert path.read_text() == "two"


def test_bytes_go_out_as_they_are_and_nothing_stays_beside_them(tmp_path: Path) -> None:
    write_bytes(tmp_path / "piece.npz", b"\0\xff\r\n")
    assert (tmp_path / "piece.npz").read_bytes() == b"\0\xff\r\n"
    assert os.listdir(tmp_path) == ["piece.npz"]


def test_a_text_no_encoding_has_is_written_all_the_same(tmp_path: Path) -> None:
    write_text(tmp_path / "list.txt", "a\udc80b")
    assert (tmp_path / "list.txt").read_text() == "a?b"


def test_a_folder_in_the_place_of_a_file_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "list.txt").mkdir()
    with pytest.raises(StorageError, match="could not be written"):
        write_text(tmp_path / "list.txt", "x")
    assert os.listdir(tmp_path) == ["list.txt"]
