"""The logbook's bundle: comes back whole, twice changes nothing, no changed byte goes unnoticed."""

from __future__ import annotations

import csv
import io
import json
import os
import random
import shutil
import subprocess
import zipfile
from pathlib import Path

import pytest

from planner.errors import InputError, SkepwayError, StorageError
from planner.store.logbook import bundle, people, verify
from planner.store.logbook.book import Logbook
from planner.store.logbook.database import opened
from planner.store.logbook.records import Entry, KnownTrip, Person, Picture
from tests.hard.readers import chained, sealed


def new(folder: Path) -> Logbook:
    return Logbook(folder / "logbook.sqlite", device=folder.name)


@pytest.fixture
def full(tmp_path: Path) -> Logbook:
    book = new(tmp_path / "a")
    book.know_trip(KnownTrip("t", "T", "Yard", "2027-05-01", "x", ""))
    who = book.person_key("Ada")
    for number in range(6):
        book.add(Entry("note", float(number), trip="t", who=who, body={"text": f"=Öst {number}"}))
    book.add(Entry("photo", 7.0, trip="t"), pictures=[Picture(bytes(range(256)) * 9, "jpeg", 3.0, 2, 1)])
    book.pin({"program": "1", "air_c": [1.5]}, made_s=1.0, trip="t", title="T", inputs="x")
    return book


@pytest.fixture
def file(full: Logbook, tmp_path: Path) -> Path:
    assert bundle.export(full, tmp_path / "a.zip") == 7
    return tmp_path / "a.zip"


def test_a_bundle_brings_everything_and_twice_changes_nothing(
    full: Logbook, file: Path, tmp_path: Path
) -> None:
    other = new(tmp_path / "b")
    other.add(Entry("note", 0.0, body={"text": "own"}))
    assert bundle.take_in(other, file) == bundle.TakenIn(7, 1, 1, 1)
    before = other.path.read_bytes()
    assert bundle.take_in(other, file).nothing
    assert other.path.read_bytes()[100:] == before[100:]
    assert other.events(trip="t") == full.events()
    assert other.plans("t") == full.plans("t")
    assert verify.faults(other) == ()
    assert other.trips() == full.trips()


def test_the_same_logbook_makes_the_same_bundle(full: Logbook, file: Path, tmp_path: Path) -> None:
    bundle.export(full, tmp_path / "again.zip")
    assert (tmp_path / "again.zip").read_bytes() == file.read_bytes()


def test_a_bundle_handed_back_and_forth_adds_only_what_is_new(
    full: Logbook, file: Path, tmp_path: Path
) -> None:
    other = new(tmp_path / "b")
    bundle.take_in(other, file)
    other.add(Entry("claim", 9.0, trip="t"))
    full.add(Entry("note", 10.0, trip="t"))
    bundle.export(other, tmp_path / "b.zip")
    assert bundle.take_in(full, tmp_path / "b.zip").events == 1
    assert bundle.take_in(full, tmp_path / "b.zip").nothing
    assert verify.faults(full) == ()
    bundle.export(full, tmp_path / "a2.zip")
    assert bundle.take_in(other, tmp_path / "a2.zip").events == 1


@pytest.mark.parametrize("flips", [60, pytest.param(2500, marks=[pytest.mark.slow, pytest.mark.hour])])
def test_a_flipped_bit_anywhere_is_named_and_nothing_is_taken_in(
    file: Path, tmp_path: Path, flips: int
) -> None:
    whole, chance = file.read_bytes(), random.Random(1)
    spots = range(len(whole)) if flips > len(whole) else sorted(chance.sample(range(len(whole)), flips))
    other = new(tmp_path / "b")
    for at in spots:
        damaged = bytearray(whole)
        damaged[at] ^= 1 << chance.randrange(8)
        file.write_bytes(damaged)
        try:
            assert list(bundle.faults(file)), at
        except SkepwayError:
            continue
        with pytest.raises(SkepwayError):
            bundle.take_in(other, file)
    assert other.events() == []


def test_a_changed_picture_is_named_by_its_hash(full: Logbook, file: Path) -> None:
    (mark,) = full.evidence.marks()
    whole = file.read_bytes()
    at = whole.index(bytes(range(256)))
    file.write_bytes(whole[:at] + b"x" + whole[at + 1 :])
    assert f"media/{mark} is not as it was written." in list(bundle.faults(file))


def test_sha256sum_agrees(file: Path, tmp_path: Path) -> None:
    """An outside judge: the manifest is what everybody's tool reads."""
    tool = shutil.which("sha256sum")
    if tool is None:
        pytest.skip("no sha256sum here")
    with zipfile.ZipFile(file) as unpacked:
        unpacked.extractall(tmp_path / "out")
    done = subprocess.run(
        [tool, "-c", "manifest.txt"], cwd=tmp_path / "out", capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout


def test_tables_open_in_a_spreadsheet_and_start_no_formula(file: Path) -> None:
    with zipfile.ZipFile(file) as unpacked:
        rows = list(csv.DictReader(io.StringIO(unpacked.read("csv/event.csv").decode())))
    assert len(rows) == 7
    assert [row["number"] for row in rows] == [str(number) for number in range(1, 8)]
    with zipfile.ZipFile(file) as unpacked:
        people = unpacked.read("csv/person.csv").decode()
    assert "Ada" in people


def test_a_text_that_looks_like_a_formula_is_shown_as_text() -> None:
    for sign in "=+-@\t\r":
        assert bundle._harmless(f"{sign}1+1") == f"'{sign}1+1"
    for plain in ("1=1", "'=1", "", " x", -1.5, None):
        assert bundle._harmless(plain) == plain


def test_who_is_erased_here_stays_erased_whatever_a_bundle_says(full: Logbook, file: Path) -> None:
    full.erase("Ada", 5.0)
    assert bundle.take_in(full, file).people == 0
    assert [person.name for person in full.people()] == [""]


def test_who_was_erased_elsewhere_is_erased_here(full: Logbook, file: Path, tmp_path: Path) -> None:
    other = new(tmp_path / "b")
    bundle.take_in(other, file)
    full.erase("Ada", 5.0)
    bundle.export(full, tmp_path / "a2.zip")
    bundle.take_in(other, tmp_path / "a2.zip")
    assert [person.name for person in other.people()] == [""]


def test_two_histories_of_one_chain_are_not_mixed(file: Path, tmp_path: Path) -> None:
    """A logbook put back from an old copy and written on has other events under the same numbers."""
    back = new(tmp_path / "a")
    old = tmp_path / "old.sqlite"
    shutil.copy(back.path, old)
    back.add(Entry("note", 8.0, trip="t"))
    bundle.export(back, tmp_path / "one.zip")
    shutil.copy(old, back.path)
    back.add(Entry("note", 9.0, trip="t"))
    with pytest.raises(InputError, match="both logbooks have this event"):
        bundle.take_in(back, tmp_path / "one.zip")
    assert verify.faults(back) == ()


@pytest.mark.parametrize("version", [2, 10**400])
def test_a_later_bundle_is_refused_in_words(
    version: int, full: Logbook, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as later:
        later.setattr(bundle, "FORMAT", version)
        bundle.export(full, tmp_path / "later.zip")
    with pytest.raises(InputError, match=r"format [\d,]+; this one knows up to 1"):
        bundle.take_in(full, tmp_path / "later.zip")


@pytest.mark.parametrize("content", [b"", b"PK\3\4 nonsense", b"x" * 1000])
def test_what_is_no_bundle_is_refused_in_words(full: Logbook, tmp_path: Path, content: bytes) -> None:
    (tmp_path / "x.zip").write_bytes(content)
    with pytest.raises(InputError, match="no bundle"):
        bundle.take_in(full, tmp_path / "x.zip")
    with pytest.raises(StorageError, match="Check the name"):
        bundle.take_in(full, tmp_path / "none.zip")


def test_a_strange_zip_is_refused(full: Logbook, tmp_path: Path) -> None:
    path = tmp_path / "x.zip"
    with zipfile.ZipFile(path, "w") as strange:
        strange.writestr("../evil", "x")
    with pytest.raises(InputError, match=r"evil does not belong|manifest.txt is not as"):
        bundle.take_in(full, path)


@pytest.mark.skipif(os.name == "nt", reason="permissions of this kind")
def test_a_bundle_is_closed_to_others(file: Path) -> None:
    """Names, phones and addresses are in it."""
    assert file.stat().st_mode & 0o777 == 0o600


def parts_of(file: Path) -> dict[str, bytes]:
    with zipfile.ZipFile(file) as packed:
        return {name: packed.read(name) for name in packed.namelist()}


@pytest.mark.parametrize("column", ["before", "hash", "body"])
def test_an_event_out_of_its_chain_is_refused_though_every_mark_of_the_bundle_is_right(
    column: str, file: Path, tmp_path: Path
) -> None:
    parts = parts_of(file)
    rows = [json.loads(line) for line in parts["json/event.jsonl"].splitlines()]
    rows[2][column] = "{}" if column == "body" else "0" * 64
    parts["json/event.jsonl"] = "".join(json.dumps(row) + "\n" for row in rows).encode()
    file.write_bytes(sealed(parts))
    other = new(tmp_path / "b")
    with pytest.raises(InputError, match=f"{rows[2]['book'][:8]}/3"):
        bundle.take_in(other, file)
    assert other.events() == []


@pytest.mark.parametrize(
    ("column", "value"),
    [
        ("at_s", bundle.LAST_S + 1.0), ("at_s", bundle.FIRST_S - 1.0),
        ("offset_s", True), ("offset_s", 1.5), ("offset_s", 2 * 86_400), ("offset_s", -2 * 86_400),
    ],
)  # fmt: skip
def test_an_event_beyond_any_calendar_is_refused(
    column: str, value: float, file: Path, tmp_path: Path
) -> None:
    """Taken in, it would stay for ever, and every page that tells its day would end in a fault."""
    parts = parts_of(file)
    rows = [json.loads(line) for line in parts["json/event.jsonl"].splitlines()]
    parts["json/event.jsonl"] = b"".join(json.dumps({**row, column: value}).encode() + b"\n" for row in rows)
    file.write_bytes(sealed({**parts, "json/event.jsonl": chained(parts["json/event.jsonl"])}))
    with pytest.raises(InputError, match=f"event.{column}"):
        bundle.take_in(new(tmp_path / "b"), file)


def test_a_picture_that_is_not_what_its_name_says_is_refused_though_every_mark_of_the_bundle_is_right(
    file: Path, tmp_path: Path
) -> None:
    """A picture's name is what it holds: another would stand in for evidence."""
    file.write_bytes(sealed({**parts_of(file), f"media/{'0' * 64}": b"another picture"}))
    other = new(tmp_path / "b")
    with pytest.raises(StorageError, match="no longer holds what was kept"):
        bundle.take_in(other, file)
    assert "0" * 64 not in [*other.evidence.marks()]
    assert other.events() == []


def test_a_bundle_that_unfolds_beyond_any_logbook_is_not_unfolded(file: Path) -> None:
    """Nothing that was written down packs to less than a hundredth; zeros pack to a thousandth."""
    file.write_bytes(sealed({**parts_of(file), "papers/zeros.pdf": bytes(4_000_000)}))
    with pytest.raises(InputError, match="no bundle"):
        list(bundle.faults(file))


def test_a_person_survives_the_way(file: Path, tmp_path: Path) -> None:
    other = new(tmp_path / "b")
    bundle.take_in(other, file)
    assert [person.name for person in other.people()] == ["Ada"]
    assert isinstance(other.people()[0], Person)


def test_who_is_erased_in_both_logbooks_is_taken_in_once(tmp_path: Path) -> None:
    """Nothing changed the second time, and nothing is told as changed; an erased person never comes back."""
    book = Logbook(tmp_path / "logbook.sqlite", device="a")
    gone, back = Person("P1", erased_s=5.0), Person("P1", "Ada")
    with opened(book.path) as connection:
        assert [people.merge(connection, person) for person in (gone, gone, back)] == [True, False, False]
    assert [(person.name, person.erased_s) for person in book.people()] == [("", 5.0)]
