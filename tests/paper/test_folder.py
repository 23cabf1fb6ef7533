"""A folder of sheets: names, what a newer printing replaces, what is loaded when, people from a list."""

from __future__ import annotations

import json
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import icalendar
import pytest

from planner.errors import Cancelled, InputError, StorageError
from planner.paper.folder import MEMORY, Wanted, write_sheets
from planner.paper.plain import MOST_MAIL, mail_address, sheet_text
from planner.store.people import Person, people_of, read_people
from planner.units import US
from tests.paper.made import facts, people
from tests.paper.test_pdf import sheets_of, text_of

ROOT = Path(__file__).resolve().parent.parent.parent
OWN = {
    "driver.pdf",
    "driver.html",
    "receiver.pdf",
    "receiver.html",
    "yard.pdf",
    "yard.html",
    "labels.pdf",
    "trip.ics",
}


def test_every_sheet_has_its_file(tmp_path: Path) -> None:
    written = write_sheets(tmp_path, facts(), [Person("Ada Moss"), Person("Ada Moss", language="pl")])
    names = {path.name for path in written.paths}
    for stem in ("Ada-Moss", "Ada-Moss-2"):
        assert {f"buyer-{stem}.pdf", f"buyer-{stem}.html", f"receipt-{stem}.pdf"} <= names
    assert names >= OWN | {"trip-pl.ics"}
    assert {path.name for path in tmp_path.iterdir()} == names | {MEMORY}
    assert "Kartadla" in text_of((tmp_path / "buyer-Ada-Moss-2.pdf").read_bytes())
    assert written.remarks == ()


def test_without_people_there_is_a_receipt_to_fill_in(tmp_path: Path) -> None:
    written = write_sheets(tmp_path, facts(), wanted=Wanted("de", "letter", US))
    assert {path.name for path in written.paths} == OWN | {"receipt.pdf"}


@pytest.mark.slow
def test_a_newer_printing_says_what_it_replaces_and_raises_the_number_of_the_calendar(tmp_path: Path) -> None:
    def number() -> int:
        events = icalendar.Calendar.from_ical((tmp_path / "trip.ics").read_bytes()).walk("VEVENT")
        return int(events[0]["sequence"])

    first = write_sheets(tmp_path, facts())
    assert number() == 0
    again = write_sheets(tmp_path, facts())
    assert (again.code, number()) == (first.code, 0)
    second = write_sheets(tmp_path, facts(stand_min=17.0))
    assert number() == 1
    assert f"replaces{first.code}" in text_of((tmp_path / "driver.pdf").read_bytes())
    write_sheets(tmp_path, facts(stand_min=17.0))
    assert f"replaces{first.code}" in text_of((tmp_path / "driver.pdf").read_bytes())
    write_sheets(tmp_path, facts(trip_key="another"))
    assert "replaces" not in text_of((tmp_path / "driver.pdf").read_bytes())
    assert second.code != first.code


@pytest.mark.parametrize(
    "memory",
    [
        "{",
        *(
            pytest.param(text, marks=pytest.mark.slow)
            for text in ("", "[]", '{"trip": "oak-mill", "code": 7, "sequence": "x"}', "\x00")
        ),
    ],
)
def test_a_memory_that_cannot_be_read_is_none(tmp_path: Path, memory: str) -> None:
    (tmp_path / MEMORY).write_text(memory, encoding="utf-8")
    written = write_sheets(tmp_path, facts())
    assert json.loads((tmp_path / MEMORY).read_text())["code"] == written.code


def test_writing_can_be_stopped(tmp_path: Path) -> None:
    with pytest.raises(Cancelled):
        write_sheets(tmp_path, facts(), people(20), should_stop=lambda: True)
    assert list(tmp_path.glob("buyer-*")) == []


def test_what_sets_pages_is_loaded_when_something_is_written() -> None:
    script = (
        "import sys, planner.cli.main, planner.cli.sheets, planner.paper.folder\n"
        "print([name for name in ('typst', 'segno', 'icalendar', 'jinja2', 'babel') if name in sys.modules])"
    )
    done = subprocess.run(
        [sys.executable, "-c", script], cwd=ROOT, capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == "[]"


def test_a_sheet_as_text_says_what_the_paper_says() -> None:
    for sheet in sheets_of(facts(), "fr"):
        text = sheet_text(sheet)
        assert all(block.title for block in sheet.blocks)
        assert len(text.splitlines()) > 10
    assert "OUVRIR L'ENTRÉE" in sheet_text(sheets_of(facts(), "fr")[0])
    address = mail_address(replace(sheets_of(facts())[0]))
    assert address.startswith("mailto:?subject=Driver%27s%20sheet&body=")
    assert len(address) <= MOST_MAIL
    assert "\n" not in address


# -- people --------------------------------------------------------------------------------------


def test_a_list_of_people_is_read(tmp_path: Path) -> None:
    path = tmp_path / "people.csv"
    path.write_text(
        "\ufeffName;Phone;Language;Vehicle;Place;Boxes\nAda;+44 1;DE;van;;3\n\nBo;;;;;B001T B002R\n",
        encoding="utf-8",
    )
    ada, bo = read_people(path)
    assert (ada.name, ada.language, ada.count, ada.boxes) == ("Ada", "de", 3, ())
    assert (bo.boxes, bo.count) == (("B001T", "B002R"), 2)


@pytest.mark.parametrize(
    ("content", "said"),
    [
        ("phone\n1\n", "no column called name"),
        ("name,shoe\nAda,44\n", "no such column"),
        ("name,language\nAda,xx\n", "no sheets in this language"),
        ("name,phone\n,1\n", "without a name"),
        ("name\n" + "Ada\n" * 501, "more than 500 people"),
    ],
)
def test_a_faulty_list_is_told_with_a_remedy(tmp_path: Path, content: str, said: str) -> None:
    path = tmp_path / "people.csv"
    path.write_text(content, encoding="utf-8")
    with pytest.raises(InputError, match=said) as caught:
        read_people(path)
    assert all(fault.remedy for fault in caught.value.faults)


def test_a_list_that_is_not_there_is_told(tmp_path: Path) -> None:
    with pytest.raises(StorageError, match="cannot be read"):
        read_people(tmp_path / "none.csv")


@pytest.mark.parametrize("given", [3, "3", ["a", "b", "c"], "a b c", "a, b, c"])
def test_boxes_are_names_or_a_number(given: object) -> None:
    (person,) = people_of([{"name": "Ada", "boxes": given}])
    assert person.count == 3
