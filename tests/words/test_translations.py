"""Translations: gaps as in English, compiled as written, whole where sheets need them, checked by nobody yet."""

from __future__ import annotations

import ast
import importlib.util
from pathlib import Path
from types import ModuleType

import pytest

from planner import words
from planner.words import Moment, Sentence, Title, Voice, catalogue
from planner.words.catalogue import checked, languages, words_folder

ROOT = Path(__file__).resolve().parent.parent.parent
OTHERS = ("de", "es", "fr", "it", "pl")
WHOLE = ("sheets", "summary", "locale", "common", "rows", "places", "vehicles", "cautions")
MAY_S = 1810323000.0


def tool() -> ModuleType:
    spec = importlib.util.spec_from_file_location("words_tool", ROOT / "tools" / "words.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


TOOL = tool()
FILES = sorted(words_folder().glob("*/*.po"))


def test_there_are_six_languages() -> None:
    assert languages() == ("en", *OTHERS)


@pytest.mark.parametrize("path", FILES, ids=lambda path: f"{path.parent.name}-{path.stem}")
def test_gaps_are_those_of_the_english_sentence(path: Path) -> None:
    assert list(TOOL.faults(path)) == []


@pytest.mark.parametrize("path", FILES, ids=lambda path: f"{path.parent.name}-{path.stem}")
def test_what_is_compiled_is_what_is_written(path: Path) -> None:
    assert path.with_suffix(".mo").read_bytes() == TOOL.compiled(path)


@pytest.mark.parametrize("language", OTHERS)
@pytest.mark.parametrize("topic", WHOLE)
def test_nothing_of_a_sheet_is_left_in_english(language: str, topic: str) -> None:
    assert TOOL.missing(words_folder() / language / f"{topic}.po") == []


def topics_asked_for(path: Path) -> set[str]:
    """The topics of the sentences that a module asks for."""
    asked = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "sentence":
            key = node.args[0]
            parts = key.values if isinstance(key, ast.JoinedStr) else [key]
            text = next((str(one.value) for one in parts if isinstance(one, ast.Constant)), "")
            asked |= {text.partition(".")[0]} if "." in text else set()
    return asked


def test_papers_say_nothing_that_is_not_translated() -> None:
    """A buyer's message or a receiver's page that is half in English is no page in their language."""
    rooms = [catalogue.words_folder().parent.parent / "planner" / room for room in ("paper", "app/sheets")]
    paths = [path for room in rooms for path in sorted(room.glob("*.py"))]
    paths.append(rooms[1].parent / "lessons" / "summary.py")
    assert {topic for path in paths for topic in topics_asked_for(path)} == {"sheets", "summary"}


def test_what_a_loading_place_warns_of_is_translated() -> None:
    warning = "Strap every box; a loose box is a danger in a crash"
    assert Voice("de").text(Title("cautions", "", warning)).startswith("Jeden Kasten festgurten")
    assert Voice("de").text(Title("cautions", "", "Mind the dog")) == "Mind the dog"


@pytest.mark.parametrize("language", OTHERS)
def test_no_translation_counts_as_checked(language: str) -> None:
    assert not checked(language, "sheets")
    assert checked("en", "sheets")


def test_a_header_that_names_a_checker_counts(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    text = (words_folder() / "de" / "common.po").read_text("utf-8")
    path = tmp_path / "de" / "common.po"
    path.parent.mkdir()
    path.write_text(text.replace("Native-Speaker: no", "Native-Speaker: Ada, 2027-01-02"), encoding="utf-8")
    path.with_suffix(".mo").write_bytes(TOOL.compiled(path))
    monkeypatch.setattr(catalogue, "words_folder", lambda: tmp_path)
    catalogue.translation.cache_clear()
    catalogue.checked.cache_clear()
    try:
        assert checked("de", "common")
        assert not checked("de", "sheets")
    finally:
        monkeypatch.undo()
        catalogue.translation.cache_clear()
        catalogue.checked.cache_clear()


@pytest.mark.parametrize(
    ("count", "text"), [(0, "0 uli"), (1, "1 ul"), (2, "2 ule"), (5, "5 uli"), (12, "12 uli"), (22, "22 ule")]
)
def test_polish_has_three_forms(count: int, text: str) -> None:
    assert Voice("pl").say("sheets.boxes", count=count) == text


def test_days_and_numbers_are_those_of_the_language() -> None:
    when = Moment(MAY_S, "Europe/Berlin", "date_clock")
    assert Voice("de").text(when) == "Freitag, 14. Mai, 21:30"
    assert Voice("pl").text(when) == "piątek 14 maja, 21:30"
    assert Voice("es").text(when) == "viernes 14 de mayo, 21:30"
    assert Voice("fr").text(words.temp(37.94)) == "37,9 °C"
    first = Moment(MAY_S - 13 * 86_400.0, "Europe/Berlin", "weekday_date")
    assert (Voice("fr").text(first), Voice("it").text(first)) == ("samedi 1er mai", "sabato 1º maggio")
    assert (Voice("en").text(first), Voice("de").text(first)) == ("Saturday 1 May", "Samstag, 1. Mai")
    assert Voice("de").text(12_345) == "12.345"


def test_a_title_of_a_table_is_translated_and_a_users_own_is_not() -> None:
    assert Voice("de").text(Title("places", "open_trailer", "Open trailer")) == "Offener Anhänger"
    assert Voice("de").text(Title("places", "open_trailer", "My old cart")) == "My old cart"
    assert Voice("de").text(Title("places", "mine", "Sidecar")) == "Sidecar"


def test_english_is_said_where_a_translation_is_of_another_text(monkeypatch: pytest.MonkeyPatch) -> None:
    """A sentence that has changed since must not go on saying what it said."""
    changed = {"do_not_stop": catalogue.Entry("keep rolling")}
    monkeypatch.setattr(catalogue, "source", lambda _topic: changed)
    assert Voice("de").text(Sentence("sheets.do_not_stop")) == "keep rolling"
