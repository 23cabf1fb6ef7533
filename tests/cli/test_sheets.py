"""``skepway sheets``: from a trip file to a folder of sheets, with people, and where weather is missing."""

from __future__ import annotations

from pathlib import Path

import pytest

from planner.cli.exits import Exit
from planner.cli.main import main
from planner.errors import InputError
from planner.store.catalogue import load_catalogue
from planner.store.tripfile import load_trip
from tests.paper.test_pdf import text_of


@pytest.fixture
def people(tmp_path: Path) -> Path:
    path = tmp_path / "people.csv"
    path.write_text("name,phone,language,boxes\nAda Moss,+44 1,de,1\nBo Reed,+44 2,,2\n", encoding="utf-8")
    return path


def test_a_trip_becomes_a_folder_of_sheets(
    trip: str, tmp_path: Path, people: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "out"
    code = main(["sheets", trip, "--to", str(out), "--offline", "--people", str(people), "--draws", "8"])
    said = capsys.readouterr().out
    assert code == Exit.FINE
    assert (out / "buyer-Ada-Moss.pdf").is_file()
    assert (out / "buyer-Bo-Reed.html").is_file()
    german = text_of((out / "buyer-Ada-Moss.pdf").read_bytes())
    assert "BlattfürAdaMoss" in german
    code_word = said.split("plan ")[-1][:4]
    assert code_word in german


def test_without_weather_the_sheets_say_so(
    trip: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = Path(trip).read_text(encoding="utf-8")
    begin, end = text.index("[weather]"), text.index("[road]")
    bare = tmp_path / "bare.toml"
    bare.write_text(text[:begin] + '[weather]\nsource = "open_meteo"\n\n' + text[end:], encoding="utf-8")
    code = main(["sheets", str(bare), "--to", str(tmp_path / "out"), "--offline"])
    assert code == Exit.SERVICE
    assert "CANNOTTELL" in text_of((tmp_path / "out" / "driver.pdf").read_bytes())
    assert "BEGIN:VEVENT" not in (tmp_path / "out" / "trip.ics").read_text()
    assert "CANNOT TELL" in (tmp_path / "out" / "yard.html").read_text(encoding="utf-8")
    assert "plan again" in capsys.readouterr().out


def test_people_stand_in_the_trip_file_too(trip: str, tmp_path: Path) -> None:
    path = Path(trip)
    more = path.with_name("with-people.toml")
    more.write_text(
        path.read_text(encoding="utf-8") + '\n[[people]]\nname = "Ada"\nlanguage = "pl"\nboxes = 2\n',
        encoding="utf-8",
    )
    (ada,) = load_trip(more, load_catalogue()).people
    assert (ada.name, ada.language, ada.count) == ("Ada", "pl", 2)
    more.write_text(more.read_text(encoding="utf-8").replace('"pl"', '"tlh"'), encoding="utf-8")
    with pytest.raises(InputError, match="language"):
        load_trip(more, load_catalogue())
