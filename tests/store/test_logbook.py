"""The logbook: what is written down stays, a change is named, people can be taken out, trips are known by their id."""

from __future__ import annotations

import sqlite3
import tomllib
from contextlib import closing
from pathlib import Path

import pytest

from planner.errors import InputError, StorageError
from planner.folders import data_dir
from planner.model.box_names import box_name
from planner.store.logbook import verify
from planner.store.logbook.book import Logbook, plan_code
from planner.store.logbook.chain import plain
from planner.store.logbook.database import default_path, migrations, opened
from planner.store.logbook.identity import entered, identified, trip_key, with_id
from planner.store.logbook.records import Entry, Person, Picture
from planner.store.logbook.retention import due, keep_for, retention, rules
from planner.store.tripfile import read_draft

BOX = box_name(1)


@pytest.fixture
def logbook(tmp_path: Path) -> Logbook:
    return Logbook(tmp_path / "book" / "logbook.sqlite", device="yard")


def raw(logbook: Logbook, text: str, *values: object) -> list[tuple[object, ...]]:
    """Something done to the file behind the logbook's back."""
    with closing(sqlite3.connect(logbook.path)) as book, book:
        for name in ("event_stays", "event_kept", "plan_stays", "plan_kept"):
            book.execute(f"drop trigger if exists {name}")
        return book.execute(text, values).fetchall()


def filled(logbook: Logbook, count: int = 5) -> Logbook:
    for number in range(count):
        logbook.add(Entry("note", float(number), body={"text": f"Öst {number}"}, trip="t"))
    return logbook


# -- events ----------------------------------------------------------------------------------------


def test_an_entry_comes_back_as_it_was_written_down(logbook: Logbook) -> None:
    entry = Entry("check", 5.5, "box", BOX, {"item": "floor", "blocked": 0.4}, "t", "P1", "plan", "", 3600)
    (event,) = logbook.add(entry)
    (found,) = logbook.events(trip="t", subject=BOX, kinds=["check"])
    assert found == event
    for name in Entry.__slots__:
        assert getattr(found, name) == getattr(entry, name)
    assert (found.number, found.device) == (1, "yard")


def test_events_come_as_they_happened_and_at_one_time_as_they_were_written_down(logbook: Logbook) -> None:
    for at_s, text in ((3.0, "c"), (1.0, "a"), (2.0, "b"), (2.0, "b again")):
        logbook.add(Entry("note", at_s, body={"text": text}))
    assert [event.body["text"] for event in logbook.events()] == ["a", "b", "b again", "c"]


def test_entries_of_one_call_are_written_down_all_or_none(logbook: Logbook) -> None:
    with pytest.raises(InputError, match="name of a box"):
        logbook.add(Entry("note", 1.0), Entry("check", 2.0, "box", "B001A"))
    with pytest.raises(ValueError):
        logbook.add(Entry("note", 1.0), Entry("note", 2.0, body={"x": float("nan")}))
    assert logbook.events() == []


def test_an_unknown_kind_is_refused_with_those_known(logbook: Logbook) -> None:
    with pytest.raises(InputError, match="handed_over"):
        logbook.add(Entry("gossip", 1.0))  # type: ignore[arg-type]


def test_an_entry_of_just_the_longest_body_is_taken_and_a_longer_one_refused(
    logbook: Logbook, monkeypatch: pytest.MonkeyPatch
) -> None:
    body = {"text": "ö" * 50}
    monkeypatch.setattr("planner.store.logbook.book.LONGEST_BODY", len(plain(body)))
    logbook.add(Entry("note", 1.0, body=body))
    with pytest.raises(InputError, match="too long for one entry"):
        logbook.add(Entry("note", 1.0, body={"text": "ö" * 51}))


def test_a_correction_stands_in_for_what_it_corrects_and_both_are_kept(logbook: Logbook) -> None:
    (wrong,) = logbook.add(Entry("note", 1.0, body={"text": "six frames"}))
    logbook.add(Entry("note", 2.0, body={"text": "five frames"}, corrects=wrong.hash))
    assert [event.body["text"] for event in logbook.standing()] == ["five frames"]
    assert len(logbook.events()) == 2


def test_nobody_changes_or_deletes_an_event_through_the_file(logbook: Logbook) -> None:
    filled(logbook, 1)
    with closing(sqlite3.connect(logbook.path)) as book:
        for text in ("update event set body = '{}'", "delete from event"):
            with pytest.raises(sqlite3.IntegrityError, match="only added"):
                book.execute(text)


@pytest.mark.parametrize(
    ("column", "value"),
    [
        ("body", '{"text":"x"}'),
        ("at_s", 7.0),
        ("who", "P9"),
        ("kind", "claim"),
        ("hash", "0" * 64),
        ("before", "1" * 64),
    ],
)
def test_a_changed_event_is_named(logbook: Logbook, column: str, value: object) -> None:
    filled(logbook)
    raw(logbook, f"update event set {column} = ? where number = 3", value)
    assert any("/3 is not as" in line for line in verify.faults(logbook))


def test_a_missing_event_and_a_chain_cut_short_are_named(logbook: Logbook) -> None:
    filled(logbook)
    raw(logbook, "delete from event where number = 5")
    assert [line for line in verify.faults(logbook) if "/5" in line]
    raw(logbook, "delete from event where number = 2")
    assert [line for line in verify.faults(logbook) if "/2 is missing" in line]


def test_an_untouched_logbook_has_no_faults(logbook: Logbook) -> None:
    filled(logbook)
    logbook.add(Entry("photo", 9.0), pictures=[Picture(b"abc", "jpeg", 3.0, 2, 1)])
    logbook.pin({"program": "1"}, made_s=1.0, trip="t", title="T", inputs="x")
    logbook.person_key("Ada")
    assert verify.faults(logbook) == verify.strays(logbook) == ()


# -- pictures and plans ----------------------------------------------------------------------------


def test_a_picture_is_one_file_by_what_it_holds(logbook: Logbook) -> None:
    picture = Picture(b"light and shade", "jpeg")
    logbook.add(Entry("photo", 1.0), pictures=[picture, picture])
    (mark,) = logbook.evidence.marks()
    assert logbook.evidence.read(mark) == picture.content
    assert logbook.evidence.path(mark).stat().st_mode & 0o077 == 0


@pytest.mark.parametrize("how", ["changed", "missing"])
def test_a_picture_that_is_not_what_it_was_is_named(logbook: Logbook, how: str) -> None:
    logbook.add(Entry("photo", 1.0), pictures=[Picture(b"light", "jpeg")])
    (mark,) = logbook.evidence.marks()
    path = logbook.evidence.path(mark)
    path.unlink() if how == "missing" else path.write_bytes(b"lighs")
    (line,) = verify.faults(logbook)
    assert mark in line


def test_a_picture_cut_short_is_kept_again(logbook: Logbook) -> None:
    mark = logbook.evidence.keep(b"whole")
    logbook.evidence.path(mark).write_bytes(b"wh")
    assert logbook.evidence.keep(b"whole") == mark
    assert logbook.evidence.read(mark) == b"whole"


def test_a_picture_without_its_entry_is_told_and_is_no_fault(logbook: Logbook) -> None:
    filled(logbook, 1)
    mark = logbook.evidence.keep(b"cut off")
    assert verify.strays(logbook) == (mark,)
    assert verify.faults(logbook) == ()


def test_a_plan_is_pinned_whole_and_once(logbook: Logbook) -> None:
    snapshot = {"program": "9", "draft": {"title": "Öst"}, "air_c": [1.25, None]}
    first, again = (logbook.pin(snapshot, made_s=m, trip="t", title="T", inputs="x") for m in (1.0, 2.0))
    assert first == again == logbook.plan(first.code.lower()) == logbook.plan(first.id)
    assert logbook.plans("t") == [first]
    assert plan_code(first.id) == first.code


def test_a_changed_plan_is_named(logbook: Logbook) -> None:
    plan = logbook.pin({"program": "9"}, made_s=1.0, trip="t", title="T", inputs="x")
    raw(logbook, "update plan set snapshot = ?", b"x")
    assert plan.code in verify.faults(logbook)[0]
    with pytest.raises(StorageError, match=plan.code):
        logbook.plan(plan.id)


# -- people ----------------------------------------------------------------------------------------


def test_one_name_has_one_key_and_events_bear_the_key_alone(logbook: Logbook) -> None:
    key = logbook.person_key("Ada Example")
    assert key == logbook.person_key(" Ada  Example ")
    assert logbook.person_key("") == ""
    logbook.add(Entry("note", 1.0, who=key))
    assert "Ada" not in str(raw(logbook, "select * from event"))


def test_erasing_takes_the_name_out_of_the_file_and_leaves_the_chain(logbook: Logbook) -> None:
    person = Person("P1", "Adalbert Quux", "+44 1", "Far Lane", "en")
    logbook.keep_person(person)
    logbook.add(
        Entry("note", 1.0, who="P1", body={"text": "for adalbert quux"}),
        Entry("note", 2.0, body={"text": "xAdalbert Quuxy"}),
    )
    logbook.pin({"program": "", "to": "Far Lane 3"}, made_s=1.0, trip="t", title="T", inputs="x")
    erased, hits = logbook.erase("Adalbert Quux", 9.0)
    assert erased == person
    assert [hit.split()[0] for hit in hits] == ["Event", "Pinned"]
    assert logbook.people() == [Person("P1", erased_s=9.0)]
    assert verify.faults(logbook) == ()
    for file in logbook.path.parent.glob("logbook.sqlite*"):
        assert b"+44 1" not in file.read_bytes()


@pytest.mark.parametrize(("name", "hits"), [("AB", 1), ("A", 0)])
def test_initials_are_sought_when_somebody_is_erased_and_a_single_letter_is_not(
    name: str, hits: int, logbook: Logbook
) -> None:
    logbook.keep_person(Person("P1", name))
    logbook.add(Entry("note", 1.0, body={"text": f"seen by {name} at noon"}))
    assert len(logbook.erase("P1", 9.0)[1]) == hits


@pytest.mark.parametrize(
    ("text", "named"),
    [
        ("Ada", True), ("by Ada.", True), ("Ada's", True), ("(ada)", True), ("Canada saw Ada", True),
        ("Adalbert", False), ("Canada", False), ("Ada2", False), ("MAdaM", False),
    ],
)  # fmt: skip
def test_a_name_inside_a_longer_word_is_nobodys(text: str, named: bool, logbook: Logbook) -> None:
    logbook.keep_person(Person("P1", "Ada"))
    logbook.add(Entry("note", 1.0, body={"text": text}))
    assert bool(logbook.erase("P1", 9.0)[1]) == named


def test_nobody_and_two_of_one_name_are_told_apart_by_key(logbook: Logbook) -> None:
    for key in ("P1", "P2"):
        logbook.keep_person(Person(key, "Ada"))
    with pytest.raises(InputError, match="2 people"):
        logbook.erase("Ada", 1.0)
    with pytest.raises(InputError, match="nobody"):
        logbook.erase("Eve", 1.0)
    logbook.erase("P2", 1.0)
    assert [person.name for person in logbook.people()] == ["Ada", ""]


def test_a_changed_person_is_named(logbook: Logbook) -> None:
    key = logbook.person_key("Ada")
    raw(logbook, "update person set phone = '1'")
    assert key in verify.faults(logbook)[0]


def test_records_are_kept_for_the_longest_rule_until_somebody_chooses(logbook: Logbook) -> None:
    assert retention(logbook).years == max(rule.years for rule in rules()) == 5
    keep_for(logbook, 2, "2027-01-02")
    assert (retention(logbook).years, retention(logbook).checked_on) == (2, "2027-01-02")
    with pytest.raises(InputError, match="2027-05-31"):
        keep_for(logbook, 2, "yesterday")


@pytest.mark.parametrize(("years", "fine"), [(0, False), (1, True), (100, True), (101, False)])
def test_records_are_kept_for_one_to_a_hundred_years(years: int, fine: bool, logbook: Logbook) -> None:
    if fine:
        keep_for(logbook, years, "2027-05-31")
        assert retention(logbook).years == years
        return
    with pytest.raises(InputError, match="1 to 100"):
        keep_for(logbook, years, "2027-05-31")


def test_people_of_whom_nothing_was_written_for_longer_are_due(logbook: Logbook) -> None:
    keep_for(logbook, 1, "2027-01-02")
    year_s = 366 * 86400.0
    for name, at_s in (("old", 0.0), ("new", year_s)):
        logbook.add(Entry("note", at_s, who=logbook.person_key(name)))
    assert [person.name for person in due(logbook, 1.5 * year_s)] == ["old"]
    assert due(logbook, 365.25 * 86400.0) == (), "for a year and no longer"


# -- the file --------------------------------------------------------------------------------------


def test_a_later_logbook_is_refused_in_words_and_left_alone(logbook: Logbook) -> None:
    filled(logbook, 1)
    raw(logbook, f"pragma user_version = {len(migrations()) + 1}")
    before = logbook.path.read_bytes()
    for ask in (logbook.events, lambda: logbook.add(Entry("note", 1.0))):
        with pytest.raises(StorageError, match=r"later Skepway \(version 2; this one knows up to 1\)"):
            ask()
    assert logbook.path.read_bytes() == before


@pytest.mark.parametrize("content", [b"no database at all" * 100, b"SQLite format 3\0" + b"\xff" * 2000])
def test_a_damaged_logbook_says_to_move_it_away(logbook: Logbook, content: bytes) -> None:
    logbook.path.parent.mkdir()
    logbook.path.write_bytes(content)
    with pytest.raises(StorageError, match="Move the file away"):
        logbook.events()
    assert logbook.path.read_bytes() == content


def test_a_logbook_whose_damage_is_told_in_bytes_that_are_no_text_says_so_too(logbook: Logbook) -> None:
    """The database quotes what it cannot read, and its words then cannot be read either."""
    filled(logbook)
    whole = logbook.path.read_bytes()
    logbook.path.write_bytes(whole.replace(b"CREATE TABLE trip", b"CREATE TABL\xe9 trip", 1))
    for ask in (logbook.events, lambda: logbook.add(Entry("note", 1.0))):
        with pytest.raises(StorageError, match="Move the file away"):
            ask()


def test_the_file_is_in_wal_mode_and_private(logbook: Logbook) -> None:
    filled(logbook, 1)
    assert raw(logbook, "pragma journal_mode") == [("wal",)]
    assert logbook.path.stat().st_mode & 0o077 == 0


def test_what_is_acknowledged_is_on_the_disk_and_what_is_taken_out_is_gone(logbook: Logbook) -> None:
    """Every commit waits for the disk; bytes that are deleted are written over."""
    with opened(logbook.path) as book:
        for name, wanted in (("synchronous", 2), ("secure_delete", 1)):
            assert book.execute(f"pragma {name}").fetchone() == (wanted,), name


def test_who_writes_holds_the_logbook_from_the_start(
    logbook: Logbook, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Or two would read the same end of the chain and both write the event that follows it."""
    monkeypatch.setattr("planner.store.logbook.database.LOCKED_FOR_S", 0.05)
    with opened(logbook.path):
        with opened(logbook.path, writing=False) as reader:
            assert reader.execute("select count(*) from event").fetchone() == (0,)
        with pytest.raises(StorageError, match="locked"), opened(logbook.path):
            pass


def test_the_logbook_lies_with_the_users_own_data() -> None:
    assert default_path() == data_dir() / "logbook.sqlite"


# -- a trip's id -----------------------------------------------------------------------------------

TRIP = '# first\nversion = 1   # one\ntitle = "T"\n\n[origin]\nname = "Yard"\n\n[window]\nfrom = "2027-05-01T20:00"\n'


@pytest.fixture
def trip(tmp_path: Path) -> Path:
    path = tmp_path / "trip.toml"
    path.write_text(TRIP, "utf-8")
    return path


def test_the_first_entry_writes_an_id_and_nothing_else(trip: Path) -> None:
    key, written = with_id(trip)
    lines = trip.read_text("utf-8").splitlines()
    assert written
    assert lines[2].startswith(f'id = "{key}"')
    assert [line for at, line in enumerate(lines) if at != 2] == TRIP.splitlines()
    assert with_id(trip) == (key, False)


def test_a_file_written_in_one_line_a_table_gets_its_id_too(trip: Path) -> None:
    trip.write_text('"version" = 1\ntitle = "T"\n[origin]\nversion = 3\n', "utf-8")
    key, _ = with_id(trip)
    assert tomllib.loads(trip.read_text("utf-8"))["id"] == key


def test_a_trip_is_known_by_its_id_wherever_its_file_lies(trip: Path, tmp_path: Path) -> None:
    assert trip_key(trip) == str(trip.resolve())
    key, _ = with_id(trip)
    moved = trip.rename(tmp_path / "renamed.toml")
    assert trip_key(moved) == key
    assert trip_key(tmp_path / "none.toml") == str(tmp_path / "none.toml")


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("Yard", "Barn", "Barn"),
        ("2027-05-01", "2027-05-02", "2027-05-02"),
        ("[window]", "[[load]]\ncount = 2\n[window]", "load"),
    ],
)
def test_a_copy_for_another_trip_is_asked_about(
    logbook: Logbook, trip: Path, old: str, new: str, said: str
) -> None:
    key, _ = entered(logbook, read_draft(trip), trip)
    trip.write_text(trip.read_text("utf-8").replace(old, new), "utf-8")
    with pytest.raises(InputError, match=said):
        entered(logbook, read_draft(trip), trip)
    assert entered(logbook, read_draft(trip), trip, "same") == (key, False)
    assert entered(logbook, read_draft(trip), trip) == (key, False)
    trip.write_text(trip.read_text("utf-8").replace(new, old), "utf-8")
    other, written = entered(logbook, read_draft(trip), trip, "another")
    assert written
    assert other != key
    assert len(logbook.trips()) == 2


def test_a_renamed_trip_is_not_asked_about(logbook: Logbook, trip: Path, tmp_path: Path) -> None:
    key, _ = entered(logbook, read_draft(trip), trip)
    moved = trip.rename(tmp_path / "b.toml")
    assert entered(logbook, read_draft(moved), moved) == (key, False)


def test_a_draft_gets_an_id_once() -> None:
    draft: dict[str, object] = {}
    assert identified(draft)
    key = draft["id"]
    assert not identified(draft)
    assert draft["id"] == key
