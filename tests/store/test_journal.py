"""The journal of plans: the newest comes back, the oldest go, no damaged file ends in a traceback."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from planner.errors import StorageError
from planner.folders import data_dir
from planner.store.journal import Journal, default_path, trip_key, trip_place
from planner.store.logbook.identity import with_id


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "deep" / "logbook.sqlite"


def kept(path: Path, trip: str = "a") -> list[float]:
    """When the plans of a trip that are still there were made, in the order they were written down."""
    with closing(sqlite3.connect(path)) as book:
        rows = book.execute("select made_s from recheck where trip = ? order by id", (trip,))
        return [made_s for (made_s,) in rows]


def version(path: Path, new: int | None = None) -> int:
    with closing(sqlite3.connect(path)) as book:
        if new is not None:
            book.execute(f"pragma user_version = {new}")
        return int(book.execute("pragma user_version").fetchone()[0])


def test_a_trip_never_planned_has_no_last_plan(path: Path) -> None:
    assert Journal(path).last("a") is None


def test_a_plan_comes_back_as_it_was_kept(path: Path) -> None:
    document = {"best": [1, 0, 2], "margin_k": [[None, 2.5]], "source": "Öst"}
    Journal(path).keep("a", 1.0, document)
    assert Journal(path).last("a") == document


def test_the_last_plan_is_the_one_written_last_whatever_the_clock_showed(path: Path) -> None:
    """By a clock put right, the plan of one that ran ahead was the last for ever."""
    book = Journal(path)
    for made_s in (2.0, 3.0, 1.0):
        book.keep("a", made_s, {"made": made_s})
    assert book.last("a") == {"made": 1.0}


def test_of_two_plans_made_at_once_the_one_written_last_is_the_last(path: Path) -> None:
    book = Journal(path)
    for name in ("first", "second"):
        book.keep("a", 1.0, {"name": name})
    assert book.last("a") == {"name": "second"}


def test_twenty_plans_are_kept_and_the_oldest_let_go(path: Path) -> None:
    book = Journal(path)
    for made_s in range(23):
        book.keep("a", float(made_s), {})
    assert kept(path) == [float(made_s) for made_s in range(3, 23)]


def test_a_clock_put_back_costs_no_new_plan(path: Path) -> None:
    """Beside twenty plans of a clock that ran ahead, each new one was let go as it was written."""
    book = Journal(path)
    for made_s in range(23, 0, -1):
        book.keep("a", float(made_s), {})
    assert kept(path) == [float(made_s) for made_s in range(20, 0, -1)]


def test_of_plans_made_at_once_the_first_written_goes_first(path: Path) -> None:
    book = Journal(path)
    for _ in range(21):
        book.keep("a", 1.0, {})
    with closing(sqlite3.connect(path)) as raw:
        assert raw.execute("select min(id), count(*) from recheck").fetchone() == (2, 20)


def test_each_trip_has_its_own_twenty(path: Path) -> None:
    book = Journal(path)
    book.keep("b", 0.0, {"trip": "b"})
    for made_s in range(21):
        book.keep("a", float(made_s), {})
    assert (len(kept(path, "a")), kept(path, "b")) == (20, [0.0])
    assert book.last("b") == {"trip": "b"}


@pytest.mark.parametrize("content", [b"no database at all" * 100, b"SQLite format 3\0" + b"\xff" * 2000])
def test_a_damaged_journal_says_to_move_it_away(path: Path, content: bytes) -> None:
    path.parent.mkdir()
    path.write_bytes(content)
    for ask in (lambda: Journal(path).last("a"), lambda: Journal(path).keep("a", 1.0, {})):
        with pytest.raises(StorageError, match="Move the file away"):
            ask()
    assert path.read_bytes() == content


def test_an_empty_file_becomes_a_journal(path: Path) -> None:
    path.parent.mkdir()
    path.touch()
    Journal(path).keep("a", 1.0, {"x": 1})
    assert Journal(path).last("a") == {"x": 1}


def test_a_journal_of_a_later_version_is_left_alone(path: Path) -> None:
    Journal(path).keep("a", 1.0, {})
    assert version(path) == 1
    version(path, 2)
    with pytest.raises(StorageError, match=r"later Skepway \(version 2;"):
        Journal(path).keep("a", 2.0, {})
    assert (version(path), kept(path)) == (2, [1.0])


def test_a_folder_that_cannot_be_made_is_explained(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    with pytest.raises(StorageError, match="Choose another folder"):
        Journal(tmp_path / "file" / "logbook.sqlite").last("a")


def test_a_failed_entry_changes_nothing(path: Path) -> None:
    book = Journal(path)
    book.keep("a", 1.0, {"x": 1})
    with pytest.raises(TypeError):
        book.keep("a", 2.0, {"x": object()})
    assert kept(path) == [1.0]


def test_the_journal_lies_with_the_users_own_data() -> None:
    assert default_path() == data_dir() / "logbook.sqlite"
    Journal().keep("a", 1.0, {})
    assert kept(default_path()) == [1.0]


def test_a_trip_is_known_by_where_its_file_lies(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    assert (
        trip_key(Path("here/../trip.toml")) == trip_key(tmp_path / "trip.toml") == str(tmp_path / "trip.toml")
    )


# -- the journal of before ------------------------------------------------------------------------


def old_journal(path: Path, rows: list[tuple[str, float, str]]) -> None:
    """A journal as it was written before there was a logbook."""
    path.parent.mkdir(parents=True, exist_ok=True)
    with closing(sqlite3.connect(path.with_name("journal.sqlite"))) as book, book:
        book.execute("create table plans (id integer primary key, trip text, made_s real, document text)")
        book.executemany("insert into plans (trip, made_s, document) values (?, ?, ?)", rows)
        book.execute("pragma user_version = 1")


def test_the_plans_of_the_old_journal_are_still_known_and_it_stays_as_it_was(path: Path) -> None:
    old_journal(path, [("a", 1.0, '{"x": 1}'), ("a", 2.0, '{"x": 2}'), ("b", 1.0, "no json")])
    before = path.with_name("journal.sqlite").read_bytes()
    book = Journal(path)
    assert book.last("a") == {"x": 2}
    assert book.last("b") is None
    book.keep("a", 3.0, {"x": 3})
    assert (book.last("a"), kept(path)) == ({"x": 3}, [1.0, 2.0, 3.0])
    assert path.with_name("journal.sqlite").read_bytes() == before


def test_a_damaged_old_journal_is_done_without(path: Path) -> None:
    path.parent.mkdir()
    path.with_name("journal.sqlite").write_bytes(b"nothing of the kind" * 100)
    assert Journal(path).last("a") is None


def test_a_trip_that_got_its_id_since_keeps_its_history(tmp_path: Path, path: Path) -> None:
    trip = tmp_path / "trip.toml"
    trip.write_text('version = 1\ntitle = "T"\n', "utf-8")
    Journal(path).keep(trip_key(trip), 1.0, {"x": 1})
    key, _ = with_id(trip)
    assert trip_key(trip) == key
    assert Journal(path).last(trip_key(trip), trip_place(trip)) == {"x": 1}
