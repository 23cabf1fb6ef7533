"""The page of a collection day: tables pasted and taken back in one step, a day file opened, its board shown."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest
from PySide6.QtCore import QEvent, Qt
from PySide6.QtGui import QGuiApplication, QKeyEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QCheckBox, QLineEdit, QPushButton, QSplitter

from planner.app.answer.records import Tolerance
from planner.app.asking.place_names import named_from
from planner.app.day.records import DayPlan
from planner.app.day.repair import told, with_failed_box
from planner.app.day.words import day_words
from planner.bundled import resource_path
from planner.errors import Fault, InputError
from planner.store.dayfile import read_day, resolve_day, write_day
from planner.ui.pages.book import PAGES
from planner.ui.pages.day.asked import Planned
from planner.ui.pages.day.page_day import DayPage, repaired_draft, trouble_words
from planner.ui.pages.day.rows import RowsTable
from planner.ui.pages.day.yard import SomeField
from planner.ui.trip.fields import Field
from planner.ui.trip.place_edit import Suggestions
from planner.ui.trip.preferences import Preferences
from planner.ui.window import Window
from planner.units import UnitSystem
from planner.words import Voice, current, languages, set_voice
from tests.app.small_day import small_day, small_draft, weather

PATIENCE_MS = 200_000
BUYERS = "Name\tDrive minutes\tBoxes\nAda\t40\t1\nBo\t60,5\t2\n"


@pytest.fixture
def window(open_window) -> Window:
    """Of each test's own: a page made is not put back."""
    return open_window()


@pytest.fixture(autouse=True)
def _few_samples(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("planner.app.day.plan.TABLE_SAMPLES", 8)
    monkeypatch.setattr("planner.app.day.plan.CLOSE_SAMPLES", 16)
    monkeypatch.setattr("planner.app.day.repair.CLOSE_SAMPLES", 16)
    monkeypatch.setattr("planner.app.day.mending.CLOSE_SAMPLES", 16)
    monkeypatch.setattr("planner.app.day.serving.chosen.MOST_SAMPLES", 16)
    monkeypatch.setattr("planner.app.day.inputs.AHEAD_DAYS", 0)
    monkeypatch.setattr("planner.app.day.later.AHEAD_DAYS", 0)


@pytest.fixture
def page(window: Window) -> DayPage:
    window.new_trip()
    window.book.turn([row.name for row in PAGES].index(DayPage.__name__))
    assert isinstance(window.book.page, DayPage)
    return window.book.page


def copied(text: str) -> None:
    QGuiApplication.clipboard().setText(text)


def test_an_empty_page_says_how_to_begin(page: DayPage) -> None:
    assert not page.panel.filled
    assert not page.go.isEnabled()
    assert page.open.isEnabled()


def test_a_pasted_table_is_taken_back_in_one_step(page: DayPage) -> None:
    copied(BUYERS)
    page.paste("buyers")
    assert page.buyers.rowCount() == 2
    assert not page.shown.stale, "nothing was planned yet"
    assert "those of the invented day" in page.told.text(), "nobody takes its yard and weather for his own"
    assert page.draft is not None
    assert page.draft["buyers"][1] == {"name": "Bo", "drive_minutes": 60.5, "boxes": 2}
    copied("Name\tDrive minutes\tCooling\nCy\t10\tyes\n")
    page.paste("buyers")
    assert page.buyers.rowCount() == 1
    assert "invented day" not in page.told.text()
    assert page.buyers.item(0, 2).text() == "yes"
    page.take_back()
    assert [page.buyers.item(row, 0).text() for row in range(2)] == ["Ada", "Bo"]
    page.take_back()
    assert page.draft is None
    assert not page.undo.isEnabled()


def test_a_bad_paste_loses_nothing_and_says_where(page: DayPage) -> None:
    copied(BUYERS)
    page.paste("buyers")
    copied("Name\tDrive minutes\nAda\tsoon\n")
    page.paste("buyers")
    assert page.buyers.rowCount() == 2
    assert "line 2, drive_minutes" in page.told.text()
    copied("")
    page.paste("boxes")
    assert "copy rows" in page.told.text()


def test_half_a_table_is_taken_back_in_one_step(page: DayPage) -> None:
    """What was copied broke off in the middle of a row: it is there to be seen, and one undo brings all back."""
    copied(BUYERS)
    page.paste("buyers")
    before = page.draft
    copied(BUYERS[: BUYERS.index("60,5")])
    page.paste("buyers")
    assert page.draft is not None
    assert page.draft["buyers"][1] == {"name": "Bo"}
    with pytest.raises(InputError, match="Bo has no drive"):
        resolve_day(page.draft, page.session.catalogue)
    page.take_back()
    assert page.draft == before


def test_ten_thousand_pasted_rows_change_nothing(page: DayPage) -> None:
    copied(BUYERS)
    page.paste("buyers")
    copied("Name\tDrive minutes\n" + "".join(f"B{n}\t30\n" for n in range(10_000)))
    page.paste("buyers")
    assert page.buyers.rowCount() == 2
    assert "10,000 rows" in page.told.text()


def test_a_day_file_is_planned_and_its_board_shown(page: DayPage, tmp_path: Path, qtbot) -> None:
    path = tmp_path / "small.toml"
    draft = small_draft()
    draft["buyers"] = draft["buyers"][:2]
    write_day(draft, path)
    page.take(path)
    qtbot.waitUntil(lambda: page.day.done, timeout=PATIENCE_MS)
    assert page.board.chart is not None
    assert page.words.text()
    assert "2 buyers" in page.lead.text()
    picture = page.board.grab().toImage()
    colours = {
        picture.pixel(x, y) for x in range(0, picture.width(), 7) for y in range(0, picture.height(), 7)
    }
    assert len(colours) > 3


def test_a_failed_box_is_swapped_and_written_into_the_day(page: DayPage, tmp_path: Path, qtbot) -> None:
    draft = small_draft()
    draft["buyers"] = draft["buyers"][:1]
    draft["boxes"] = draft["boxes"][:3]
    draft["slots"]["spans"], draft["closings"] = ["05:00-06:00"], ["at_handover"]
    draft["tolerance"] = {"harm_of_100": 50, "boxes_of_100": 50}  # few variants leave much open
    write_day(draft, tmp_path / "small.toml")
    assert not page.repair.isEnabled()
    page.take(tmp_path / "small.toml")
    qtbot.waitUntil(lambda: page.repair.isEnabled(), timeout=PATIENCE_MS)
    assert page.planned is not None
    before = page.planned.plan
    (box,) = before.appointments[0].boxes
    page.failed.setCurrentText(box)
    page.repair.click()
    qtbot.waitUntil(lambda: page.repairs.done, timeout=PATIENCE_MS)
    now = page.planned.plan.appointments[0]
    assert now.slot_s == before.appointments[0].slot_s
    assert page.lead.text().startswith(f"{box} failed: swap with {now.boxes[0]}")
    assert page.failed.findText(box) == -1
    page.keep(tmp_path / "kept.toml")
    kept = read_day(tmp_path / "kept.toml")
    assert [row["id"] for row in kept["boxes"] if row.get("check") == "failed"] == [box]
    assert kept["buyers"][0]["told"]
    resolve_day(kept, page.session.catalogue)
    page.take_back()
    assert page.planned.plan is before, "undo brings back the plan before the repair too"
    assert page.draft is not None
    assert "told" not in page.draft["buyers"][0]
    assert page.repair.isEnabled()
    for kind, many in (("late", 60), ("torn", 1), ("forecast", 1)):
        page.upset.setCurrentIndex(page.upset.findData(kind))
        assert page.much.value() == many or kind == "forecast"
        page.repair.click()
        qtbot.waitUntil(lambda: page.repairs.done or page.repairs.trouble is not None, timeout=PATIENCE_MS)
        assert page.repairs.trouble is None
        assert page.words.text()
        now = page.planned.plan
        assert all(one.slot_s >= before.of(one.buyer).slot_s for one in now.appointments)
        assert now.day.stock.roof_screens == before.day.stock.roof_screens - (kind == "torn")
        page.take_back()
        assert page.planned.plan is before


def test_keys_paste_and_undo_in_the_tables(page: DayPage, window: Window, qtbot) -> None:
    """The trip's own undo has the same keys: here they belong to the day."""
    copied(BUYERS)
    for kind in (QEvent.Type.ShortcutOverride, QEvent.Type.KeyPress):
        sent = QKeyEvent(kind, Qt.Key.Key_V, Qt.KeyboardModifier.ControlModifier)
        QApplication.sendEvent(page.buyers, sent)
        assert sent.isAccepted()
    assert page.buyers.rowCount() == 2
    for kind in (QEvent.Type.ShortcutOverride, QEvent.Type.KeyPress):
        sent = QKeyEvent(kind, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
        QApplication.sendEvent(page, sent)
        assert sent.isAccepted(), "or the window finds two undos and takes neither"
    assert page.draft is None
    free = QKeyEvent(QEvent.Type.ShortcutOverride, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    free.ignore()
    QApplication.sendEvent(page, free)
    assert not free.isAccepted(), "with nothing to take back here the trip's undo has the keys"


def test_a_box_that_was_promised_is_promised_no_more_once_it_failed() -> None:
    day = small_day()
    box = day.boxes[0].name
    draft = small_draft()
    draft["buyers"][0]["box"] = box
    planned_day = replace(day, buyers=(replace(day.buyers[0], boxes_named=(box,)), *day.buyers[1:]))
    before = DayPlan(planned_day, weather(), Tolerance(10.0, 5.0, "usual"), (), (), (), 0, 8, 1, True, True)
    after = replace(before, day=with_failed_box(told(before), box))
    changed = repaired_draft(draft, before, after)
    assert "box" not in changed["buyers"][0]
    assert draft["buyers"][0]["box"] == box
    assert changed["boxes"][0]["check"] == "failed"


def test_a_broken_file_leaves_what_was_there(page: DayPage, tmp_path: Path) -> None:
    copied(BUYERS)
    page.paste("buyers")
    broken = tmp_path / "broken.toml"
    broken.write_text("version = 1\n", "utf-8")
    page.take(broken)
    assert page.buyers.rowCount() == 2
    assert page.told.text()


def test_the_demo_day_keeps_its_tables_when_saved(page: DayPage, tmp_path: Path, monkeypatch) -> None:
    monkeypatch.setattr(page, "start", lambda: None)
    page.take(resource_path("demo", "day", "collection-day.toml"))
    assert page.buyers.rowCount() == 44
    page.keep(tmp_path / "kept.toml")
    kept = read_day(tmp_path / "kept.toml")
    assert len(kept["buyers"]) == 44
    assert len(kept["boxes"]) == 58


def test_faults_are_told_by_the_rows_of_the_tables_beside_them(page: DayPage, qtbot) -> None:
    copied("Name\tDrive minutes\nAda\t40\nada\t50\nBo\t\nCy\t\nDi\t\n")
    page.paste("buyers")
    page.start()
    qtbot.waitUntil(lambda: page.day.trouble is not None, timeout=PATIENCE_MS)
    said = page.told.text()
    assert "Buyers row 3, Drive home, min: Bo has no drive" in said
    assert "fault" in said.splitlines()[-1]
    assert "[" not in said
    twice = InputError([Fault("buyers[1].name", "ada", "buyers[0] has this name already", "Take one out")])
    assert (
        trouble_words(twice) == "Buyers row 2, Name = ada: Buyers row 1 has this name already. Take one out"
    )


def test_boxes_alone_are_no_day(page: DayPage, qtbot) -> None:
    copied("ID\tFrames of bees\nB1\t3\n")
    page.paste("boxes")
    page.start()
    qtbot.waitUntil(lambda: page.day.trouble is not None, timeout=PATIENCE_MS)
    assert "nobody is listed who collects" in page.told.text()
    assert page.boxes.rowCount() == 1


def reopened(open_window) -> DayPage:
    """The page of a window that begins after the one before is gone: its lock counts no more."""
    window = open_window()
    window.new_trip()
    window.book.turn([row.name for row in PAGES].index(DayPage.__name__))
    return window.book.page


def test_a_day_nobody_saved_is_offered_the_next_time(page: DayPage, open_window) -> None:
    assert not page.take_up.isVisibleTo(page)
    copied(BUYERS)
    page.paste("buyers")
    assert reopened(open_window).kept.left is None, "a window that runs keeps its day to itself"
    page.kept._lock.unlock()  # as a window's that crashed
    again = reopened(open_window)
    assert again.take_up.isVisibleTo(again)
    again.take_up.click()
    assert [again.buyers.item(row, 0).text() for row in range(2)] == ["Ada", "Bo"]
    assert again.draft == page.draft
    assert not again.take_up.isVisibleTo(again)
    assert again.kept.file.exists(), "what was taken up is kept as what was pasted is"
    assert not page.kept.file.exists()
    again.take_back()
    assert not again.kept.file.exists(), "nothing is left to lose"


def test_a_day_that_was_saved_or_let_go_is_not_offered(page: DayPage, open_window, tmp_path: Path) -> None:
    copied(BUYERS)
    page.paste("buyers")
    page.keep(tmp_path / "half.toml")
    assert not page.kept.file.exists()
    page.paste("buyers")
    page.kept._lock.unlock()
    again = reopened(open_window)
    again.let_go.click()
    assert not again.let_go.isVisibleTo(again)
    assert not page.kept.file.exists()


def test_a_half_made_day_is_opened_and_says_what_is_missing(page: DayPage, tmp_path: Path) -> None:
    copied(BUYERS)
    page.paste("buyers")
    page.keep(tmp_path / "half.toml")
    page.take_back()
    page.take(tmp_path / "half.toml")
    assert page.buyers.rowCount() == 2
    assert page.told.text()
    assert not page.day.working
    page.take_back()
    assert page.draft is None


def test_a_day_that_cannot_be_kept_says_so(page: DayPage, tmp_path: Path) -> None:
    page.kept.file = tmp_path / "no" / "folder.json"
    (tmp_path / "no").write_text("a file where the folder should be", "utf-8")
    page._change({"yard": {}, "buyers": []})
    assert page.told.text()
    assert page.draft == {"yard": {}, "buyers": []}


# -- the yard, edited on the page ----------------------------------------------------------------------


def day_opened(page: DayPage, monkeypatch: pytest.MonkeyPatch) -> DayPage:
    """The demo's day, opened and not planned."""
    monkeypatch.setattr(page, "start", lambda: None)
    page.take(resource_path("demo", "day", "collection-day.toml"))
    page.parts.setCurrentWidget(page.yard)
    return page


def type_into(field: Field, text: str) -> None:
    """As a hand does: choose all, write, leave with Enter."""
    line = field.editor
    assert isinstance(line, QLineEdit)
    line.setFocus()
    line.selectAll()
    QTest.keyClicks(line, text)
    QTest.keyClick(line, Qt.Key.Key_Return)


def test_the_yard_is_edited_and_taken_back_with_the_keys(page: DayPage, monkeypatch) -> None:
    day_opened(page, monkeypatch)
    assert page.draft is not None
    before = page.draft
    people = page.yard.field("hands", "people")
    assert people.editor.text() == "3"
    type_into(people, "5")
    assert page.draft["hands"]["people"] == 5
    assert json.loads(page.kept.file.read_text("utf-8"))["draft"]["hands"]["people"] == 5
    type_into(page.yard.field("slots", "spans"), "06:00 - 09:00, 19:00-21:00")
    assert page.draft["slots"]["spans"] == ["06:00-09:00", "19:00-21:00"]
    for kind in (QEvent.Type.ShortcutOverride, QEvent.Type.KeyPress):
        sent = QKeyEvent(kind, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
        QApplication.sendEvent(people.editor, sent)
    assert page.draft["slots"]["spans"] == before["slots"]["spans"]
    assert page.yard.field("slots", "spans").editor.text() == "05:00-10:00; 18:30-21:30"
    page.take_back()
    assert page.draft is before
    assert people.editor.text() == "3"


@pytest.mark.parametrize(
    ("spot", "text", "said"),
    [
        (("hands", "people"), "0", "Enter a whole number from 1 to 50"),
        (("hands", "people"), "1,5", "Enter a whole number from 1 to 50"),
        (("hands", "people"), "", "Enter a whole number from 1 to 50"),
        (("stock", "roof_screens"), "some", "Enter a whole number from 0 to 5000"),
        (("slots", "spans"), "05:00-25:00", "Write a span within the day"),
        (("slots", "spans"), "10:00-05:00", "Write"),
        (("date",), "2027-02-30", "Write"),
        (("yard", "lat"), "95", "Enter degrees from -90"),
        (("tolerance", "harm_of_100"), "80", "Enter a number from 0 to 50"),
        (("weather", "own", 1, "dew_point_c"), "30", "Check both"),
    ],
)
def test_a_fault_of_the_yard_stands_beside_its_field(
    page: DayPage, monkeypatch, spot: tuple[str, ...], text: str, said: str
) -> None:
    day_opened(page, monkeypatch)
    field = page.yard.field(*spot)
    type_into(field, text)
    if not text:
        field.editor.clear()
        field.editor.setModified(True)
        field.editor.editingFinished.emit()
    assert said in field.fault.text()
    assert said in field.editor.accessibleDescription()
    assert field.editor.text() == text.replace(",5", ".5"), "what was typed is there to be mended"
    assert page.parts.tabText(page.parts.indexOf(page.yard)) == "Yard (1 fault)"
    page.take_back()
    assert not field.fault.text()
    assert page.parts.tabText(page.parts.indexOf(page.yard)) == "Yard"


def test_weather_follows_the_name_and_the_date_of_the_yard(page: DayPage, monkeypatch) -> None:
    day_opened(page, monkeypatch)
    type_into(page.yard.field("yard", "name"), "Home yard")
    type_into(page.yard.field("date"), "2028-05-20")
    assert page.draft is not None
    own = page.draft["weather"]["own"]
    assert {row["place"] for row in own} == {"Home yard"}
    assert [row["date"] for row in own][:2] == ["2028-05-19", "2028-05-20"]
    assert "2028-05-19" in page.yard.field("weather", "own", 0, "dawn_low_c").name.text()
    assert not page._faults
    type_into(page.yard.field("yard", "lon"), "-2,3")
    assert page.draft["yard"]["lon"] == -2.3
    assert "zone" not in page.draft["yard"], "it was written for another place"


def test_temperatures_are_typed_in_the_units_shown(page: DayPage, monkeypatch) -> None:
    day_opened(page, monkeypatch)
    page.set_units(UnitSystem("us"))
    field = page.yard.field("weather", "own", 1, "afternoon_high_c")
    assert field.editor.text() == "80.6"
    type_into(field, "86")
    assert page.draft is not None
    assert page.draft["weather"]["own"][1]["afternoon_high_c"] == 30
    assert "°F" in field.editor.accessibleName()


def test_closings_and_source_are_chosen(page: DayPage, monkeypatch) -> None:
    day_opened(page, monkeypatch)
    closings = page.yard.field("closings")
    assert isinstance(closings, SomeField)
    closings.ticks["at_handover"].click()
    assert page.draft is not None
    assert page.draft["closings"] == ["evening_before", "before_first_flight"]
    closings.ticks["evening_before"].click()
    closings.ticks["before_first_flight"].click()
    assert "List closings" in closings.fault.text()
    page.take_back()
    assert closings.ticks["before_first_flight"].isChecked()
    source = page.yard.field("weather", "source")
    source.box.setCurrentIndex(source.box.findData("open_meteo"))
    source.box.activated.emit(source.box.currentIndex())
    assert page.draft["weather"]["source"] == "open_meteo"
    assert not page.yard.own


def test_every_field_of_the_yard_has_a_name_the_keys_reach_it_and_none_is_cut_off(
    page: DayPage, window: Window, monkeypatch, qtbot
) -> None:
    window.resize(1024, 640)
    day_opened(page, monkeypatch)
    QApplication.processEvents()
    lines = [*page.yard.findChildren(QLineEdit), *page.yard.findChildren(QCheckBox)]
    assert len(lines) > 30
    for line in lines:
        assert line.accessibleName() or line.text(), line
        assert line.focusPolicy() & Qt.FocusPolicy.TabFocus
    assert page.yard.widget().width() <= page.yard.viewport().width()
    around = page.parentWidget()
    assert around is not None
    assert page.width() <= around.width(), "the page itself is no wider than the room it has"
    assert page.yard.verticalScrollBar().maximum() > 0


def test_a_day_with_sections_of_another_kind_is_shown_and_mended(page: DayPage) -> None:
    """A half-made file may say anything: its fields are there to write over it."""
    page._change({"yard": "home", "buyers": [], "closings": 5, "weather": {"source": "own", "own": [3]}})
    assert not page.yard.own
    type_into(page.yard.field("yard", "name"), "Home")
    assert page.draft is not None
    assert page.draft["yard"] == {"name": "Home"}
    assert "missing" in page.yard.field("hands", "people").fault.text(), "a section that is not there"
    assert page.yard.field("weather", "source").fault.text()


# -- cells ---------------------------------------------------------------------------------------------


def write_cell(table: RowsTable, at: int, name: str, text: str) -> None:
    """As a hand does: open the cell, write, leave with Enter."""
    item = table.item(at, table.names.index(name))
    table.setCurrentItem(item)
    table.editItem(item)
    line = table.viewport().findChildren(QLineEdit)[-1]
    line.selectAll()
    QTest.keyClicks(line, text) if text else line.clear()
    QTest.keyClick(line, Qt.Key.Key_Return)
    QApplication.processEvents()


def test_a_cell_is_written_and_taken_back(page: DayPage) -> None:
    copied(BUYERS)
    page.paste("buyers")
    assert page.draft is not None
    before = page.draft
    write_cell(page.buyers, 1, "drive_minutes", "75,5")
    assert page.draft["buyers"][1] == {"name": "Bo", "drive_minutes": 75.5, "boxes": 2}
    assert page.buyers.item(1, 1).text() == "75.5", "as it will be read"
    assert page.buyers.currentRow() == 1
    write_cell(page.buyers, 0, "cooling", "yes")
    assert page.draft["buyers"][0]["cooling"] is True
    write_cell(page.buyers, 0, "boxes", "")
    assert "boxes" not in page.draft["buyers"][0]
    write_cell(page.buyers, 0, "boxes", "many")
    assert "Buyers row 1, Boxes = many" in page.told.text()
    assert "Enter a whole number from 1 to 12" in page.told.text()
    for _ in range(4):
        page.take_back()
    assert page.draft is before
    assert page.buyers.item(1, 1).text() == "60.5"
    assert not page.told.text()


def test_rows_are_added_and_taken_out(page: DayPage) -> None:
    copied(BUYERS)
    page.paste("buyers")
    assert page.draft is not None
    buttons = {
        button.accessibleName(): button for button in page.parts.findChildren(QPushButton) if button.text()
    }
    buttons["Add a buyer"].click()
    assert len(page.draft["buyers"]) == 3
    write_cell(page.buyers, 2, "name", "Cy")
    write_cell(page.buyers, 2, "drive_minutes", "30")
    assert page.draft["buyers"][2] == {"name": "Cy", "drive_minutes": 30}
    page.buyers.setCurrentCell(0, 0)
    buttons["Take the chosen buyers out"].click()
    assert [row["name"] for row in page.draft["buyers"]] == ["Bo", "Cy"]
    page.take_back()
    assert [row["name"] for row in page.draft["buyers"]] == ["Ada", "Bo", "Cy"]


# -- a plan of the day before --------------------------------------------------------------------------


def test_a_plan_of_the_day_before_a_change_is_dimmed_until_it_is_planned_again(page: DayPage) -> None:
    page._change(small_draft())
    page._planned_draft = page.draft
    plan = DayPlan(small_day(), weather(), Tolerance(10.0, 5.0, "usual"), (), (), (), 0, 8, 1, True, True)
    page.show_planned(Planned(plan, judge=object()))
    head = page.lead.text()
    assert not page.shown.stale
    type_into(page.yard.field("hands", "people"), "1")
    assert page.shown.stale
    assert page.lead.text() == f"Before the change: {head}"
    assert not page.print.isEnabled()
    type_into(page.yard.field("hands", "people"), "2")
    page.take_back()
    assert page.shown.stale, "still not the day that was planned"
    page.take_back()
    assert not page.shown.stale
    assert page.lead.text() == head
    assert page.print.isEnabled()
    copied(BUYERS)
    page.paste("buyers")
    assert page.shown.stale, "a pasted table makes it old too"


def test_trouble_of_the_day_before_is_not_told_of_the_one_that_was_mended(page: DayPage, qtbot) -> None:
    copied("Name\tDrive minutes\nBo\t\n")
    page.paste("buyers")
    page.start()
    qtbot.waitUntil(lambda: page.day.trouble is not None, timeout=PATIENCE_MS)
    assert page.told.text()
    write_cell(page.buyers, 0, "drive_minutes", "30")
    assert not page.told.text()


# -- words over columns, places by name, assumed weather, room ------------------------------------------


def heads_of(table: RowsTable) -> list[str]:
    return [table.horizontalHeaderItem(column).text() for column in range(table.columnCount())]


@pytest.mark.parametrize("language", languages())
def test_columns_have_words_over_them_with_units_and_a_table_with_those_words_is_pasted(
    page: DayPage, language: str
) -> None:
    before = current()
    try:
        set_voice(Voice(language))
        copied(BUYERS)
        page.paste("buyers")
        heads = heads_of(page.buyers)
        assert not any("_" in head for head in heads), "names of the file"
        assert heads[1].endswith(", min")
        assert page.buyers.horizontalHeaderItem(1).toolTip().count("drive_minutes") == 1
        copied("\t".join(heads[:3]) + "\nCy\t35\t3\n")
        page.paste("buyers")
        assert page.draft is not None
        assert page.draft["buyers"] == [{"name": "Cy", "drive_minutes": 35, "boxes": 3}]
        page.add_row("boxes", page.boxes)
        assert any(head.endswith(", kg") for head in heads_of(page.boxes))
    finally:
        set_voice(before)


def test_the_yard_is_found_by_its_name_as_a_place_of_the_route_is(page: DayPage, qtbot) -> None:
    page.begin.click()
    assert page.draft is not None
    before = page.draft
    page.search.country = "GB"
    page.parts.setCurrentWidget(page.yard)
    field = page.yard.place
    assert not field.pin.isVisibleTo(page)
    field.box.selectAll()
    QTest.keyClicks(field.box, "Ludlow")
    QTest.keyClick(field.box, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: page.draft["yard"]["name"] == "Ludlow", timeout=PATIENCE_MS)
    yard = page.draft["yard"]
    assert yard["lat"] == pytest.approx(52.37, abs=0.02)
    assert yard["zone"] == "Europe/London"
    assert "elevation_m" not in yard, "that of the place before"
    assert {row["place"] for row in page.draft["weather"]["own"]} == {"Ludlow"}
    assert page.yard.field("yard", "lat").editor.text() == f"{yard['lat']:.10g}"
    qtbot.waitUntil(lambda: "United Kingdom" in field.region.text(), timeout=PATIENCE_MS)
    page.take_back()
    assert page.draft is before, "one step"
    QTest.keyClicks(field.box, "Qqxzv")
    field.box.setText("Qqxzv")
    QTest.keyClick(field.box, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: page.draft["yard"] == {"name": "Qqxzv"}, timeout=PATIENCE_MS)
    assert "Qqxzv" in field.fault.text()
    assert not page.yard.field("yard", "lat").fault.text(), (
        "the name is at fault, and not degrees nobody typed"
    )


def test_a_buyers_place_is_offered_while_it_is_written(page: DayPage, qtbot) -> None:
    """The first by keys too: what begins with the letters typed was marked beforehand, third as it was ranked."""
    page.begin.click()
    page.add_row("buyers", page.buyers)
    item = page.buyers.item(0, page.buyers.names.index("place"))
    page.buyers.setCurrentItem(item)
    page.buyers.editItem(item)
    line = page.buyers.viewport().findChildren(QLineEdit)[-1]
    QTest.keyClicks(line, "Kurim")
    offers = line.findChild(Suggestions)
    assert offers is not None
    qtbot.waitUntil(lambda: bool(offers.offered), timeout=PATIENCE_MS)
    QTest.keyClick(offers.completer.popup(), Qt.Key.Key_Down)
    QTest.keyClick(offers.completer.popup(), Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: page.draft["buyers"] == [{"place": "Kuřim"}], timeout=PATIENCE_MS)


def test_a_place_that_has_a_nearer_namesake_is_written_by_its_degrees() -> None:
    at_home, away = [(52.2, -2.2)], (42.263, -71.802)
    assert named_from(at_home, "Worcester", 52.189, -2.22) == "Worcester"
    assert named_from(at_home, "Worcester", *away) == "42.26300, -71.80200"
    assert named_from([], "Worcester", *away) == "42.26300, -71.80200"


def test_weather_that_was_put_in_is_assumed_until_somebody_sets_it(page: DayPage) -> None:
    page.begin.click()
    assert page.draft is not None
    page.parts.setCurrentWidget(page.yard)
    assert page.draft["weather"]["assumed"] is True
    assert page.yard.assumed.isVisibleTo(page)
    type_into(page.yard.field("date"), "2028-05-20")
    assert page.draft["weather"]["assumed"] is True, "moving the day says nothing of its weather"
    type_into(page.yard.field("weather", "own", 1, "afternoon_high_c"), "30")
    assert "assumed" not in page.draft["weather"]
    assert not page.yard.assumed.isVisibleTo(page)
    page.take_back()
    page.yard.assumed.box.click()
    assert not page.draft["weather"].get("assumed"), "called right as it stands"


def test_an_assumed_day_says_so_in_its_head(page: DayPage) -> None:
    day = replace(weather(), kind="assumed")
    for given, said in ((weather(), False), (day, True)):
        plan = DayPlan(small_day(), given, Tolerance(10.0, 5.0, "usual"), (), (), (), 0, 8, 1, True, True)
        assert ("assumed" in day_words(plan)[0]) is said


def test_at_a_small_window_the_tables_have_the_room(page: DayPage, window: Window, monkeypatch) -> None:
    """Two rows of each table were in sight, and the page was wider than its room."""
    window.resize(1024, 640)
    window.show()
    day_opened(page, monkeypatch)
    page.parts.setCurrentIndex(0)
    QApplication.processEvents()
    rows = page.buyers.viewport().height() // page.buyers.rowHeight(0)
    assert rows >= 5
    assert page.shown.isHidden(), "nothing is planned yet"
    assert page.buyers.width() > 500
    around = page.parentWidget()
    assert around is not None
    assert page.width() <= around.width()


def test_a_grip_stands_where_the_hand_drew_it_the_next_time(
    page: DayPage, window: Window, open_window
) -> None:
    window.show()
    page._change(small_draft())
    page._planned_draft = page.draft
    plan = DayPlan(small_day(), weather(), Tolerance(10.0, 5.0, "usual"), (), (), (), 0, 8, 1, True, True)
    page.show_planned(Planned(plan, judge=object()))
    QApplication.processEvents()
    grip = next(one for one in page.findChildren(QSplitter) if one.objectName() == "day.sides")
    before = grip.sizes()
    grip.moveSplitter(before[0] + 60, 1)
    drawn = grip.sizes()
    assert drawn != before
    window.preferences.save()
    kept = Preferences.load(window.preferences.file)
    assert kept.share_of("day.sides", 2) == drawn
    assert kept.share_of("day.sides", 3) == []
    kept.shares["day.sides"] = [True, "wide"]  # type: ignore[list-item]
    assert kept.share_of("day.sides", 2) == []
