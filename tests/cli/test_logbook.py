"""``skepway logbook`` from the shell: what is written down is shown, handed on and taken in."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from planner.bundled import resource_path
from planner.cli.exits import Exit
from planner.cli.main import main
from planner.store.logbook.book import Logbook
from planner.store.logbook.records import Entry


@pytest.fixture
def trip(tmp_path: Path) -> Path:
    for file in resource_path("demo").glob("nuc-pickup*"):
        shutil.copy(file, tmp_path)
    return tmp_path / "nuc-pickup.toml"


def test_a_first_entry_tells_that_the_file_got_an_id(trip: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before = trip.read_text("utf-8").splitlines()
    assert (
        main(["logbook", "add", str(trip), "note", "wind from the north", "--who", "AB", "--set", "km=12"])
        == 0
    )
    said = capsys.readouterr().out
    assert "nuc-pickup.toml now carries an id" in said
    assert [line for line in trip.read_text("utf-8").splitlines() if not line.startswith("id = ")] == before
    assert main(["logbook", "show", str(trip)]) == 0
    assert "note, AB: wind from the north, km 12" in capsys.readouterr().out
    main(["logbook", "show"])
    assert "Four nucs" in capsys.readouterr().out


def test_what_was_corrected_is_shown_as_such_and_what_stands_in_for_it_is_not(
    trip: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    main(["logbook", "add", str(trip), "note", "ten boxes"])
    logbook = Logbook()
    (wrong,) = logbook.events()
    logbook.add(Entry("note", wrong.at_s, body={"text": "nine"}, trip=wrong.trip, corrects=wrong.hash))
    capsys.readouterr()
    assert main(["logbook", "show", str(trip)]) == 0
    ten, nine = capsys.readouterr().out.splitlines()
    assert ten.endswith("ten boxes (corrected later)")
    assert nine.endswith("nine")


def test_a_bundle_goes_from_one_home_to_another(
    trip: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    main(["logbook", "add", str(trip), "note", "x"])
    file = tmp_path / "a.zip"
    assert main(["logbook", "export", str(file)]) == 0
    assert main(["logbook", "verify", str(file)]) == 0
    monkeypatch.setenv("SKEPWAY_HOME", str(tmp_path / "other"))
    assert main(["logbook", "import", str(file)]) == 0
    assert "Taken in: 1 event" in capsys.readouterr().out
    assert main(["logbook", "import", str(file)]) == 0
    assert "nothing was changed" in capsys.readouterr().out
    assert main(["logbook", "verify"]) == 0
    assert "does not prevent them" in capsys.readouterr().out


def test_a_changed_bundle_is_named_and_ends_as_a_file_that_cannot_be_read(
    trip: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    main(["logbook", "add", str(trip), "note", "x"])
    file = tmp_path / "a.zip"
    main(["logbook", "export", str(file)])
    content = bytearray(file.read_bytes())
    content[-5] ^= 1
    file.write_bytes(content)
    assert main(["logbook", "verify", str(file)]) == Exit.STORAGE
    assert "table of a.zip itself was changed" in capsys.readouterr().out
    assert main(["logbook", "import", str(file)]) == Exit.INPUT


def test_a_copy_for_another_trip_is_asked_about(trip: Path, capsys: pytest.CaptureFixture[str]) -> None:
    main(["logbook", "add", str(trip), "note", "x"])
    trip.write_text(trip.read_text("utf-8").replace("Tres Talas nuc yard", "Other yard"), "utf-8")
    assert main(["logbook", "add", str(trip), "note", "y"]) == Exit.INPUT
    assert "--another-trip" in capsys.readouterr().err
    assert main(["logbook", "add", str(trip), "note", "y", "--another-trip"]) == 0
    assert main(["logbook", "add", str(trip), "note", "z", "--same-trip"]) == 0


def test_people_and_retention_are_shown_and_somebody_is_erased(
    trip: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    main(["logbook", "add", str(trip), "note", "Ada Lovelace was there", "--who", "Ada Lovelace"])
    assert main(["logbook", "keep", "2", "--checked", "2027-01-01"]) == 0
    assert main(["logbook", "show", "--people"]) == 0
    said = capsys.readouterr().out
    assert "Ada Lovelace" in said
    assert "kept for 2 years" in said
    assert main(["logbook", "erase", "Ada Lovelace"]) == 0
    assert "names this person in its text" in capsys.readouterr().out
    main(["logbook", "show", "--people"])
    assert "Ada" not in capsys.readouterr().out


def test_figures_and_words_of_an_entry_are_kept_as_what_they_are(trip: Path) -> None:
    """What is no number, though it reads like one, is a word: nothing else can be written down."""
    given = ("weight_kg=23.5", "quiet=yes", "loud=no", "seen=nan", "heard=inf", "by=Ada")
    assert (
        main(["logbook", "add", str(trip), "note", *(word for one in given for word in ("--set", one))]) == 0
    )
    (event,) = Logbook().events()
    wanted = {"weight_kg": 23.5, "quiet": True, "loud": False, "seen": "nan", "heard": "inf", "by": "Ada"}
    assert event.body == wanted


def test_a_box_that_is_not_in_the_load_is_refused(trip: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["logbook", "add", str(trip), "check", "--box", "B999X"]) == Exit.INPUT
    assert "no box of this trip" in capsys.readouterr().err
    assert "id = " not in trip.read_text("utf-8")


def test_a_box_that_nobody_named_goes_by_the_name_it_is_given_everywhere(tmp_path: Path) -> None:
    """What the list to print, ``inspect`` and ``cause`` call a box is its name in the logbook too."""
    for file in resource_path("demo").glob("swarm-run*"):
        shutil.copy(file, tmp_path)
    trip = str(tmp_path / "swarm-run.toml")
    assert main(["logbook", "add", trip, "note", "quiet", "--box", "B001N"]) == Exit.FINE
    assert main(["logbook", "add", trip, "note", "quiet", "--box", "B999X"]) == Exit.INPUT


def test_a_new_trip_has_an_id_of_its_own(tmp_path: Path) -> None:
    for name in ("a.toml", "b.toml"):
        assert main(["new", str(tmp_path / name)]) == 0
    ids = {
        line
        for name in ("a.toml", "b.toml")
        for line in (tmp_path / name).read_text().splitlines()
        if line.startswith("id =")
    }
    assert len(ids) == 2
