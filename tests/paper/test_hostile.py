"""Texts of users that attack: directions, emoji, NUL, private use, markup, ten thousand characters."""

from __future__ import annotations

import io
import random
import re
import unicodedata
from dataclasses import replace
from html.parser import HTMLParser

import pypdf
import pytest
from fontTools.ttLib import TTFont
from hypothesis import given
from hypothesis import strategies as st

from planner.app.sheets.drive import buyer_sheet, driver_sheet
from planner.app.sheets.stay import receipt_sheet, yard_sheet
from planner.bundled import resource_path
from planner.paper.clean import CUT, MARK, MOST_CHARACTERS, breakable, cleaned, covered
from planner.paper.folder import file_names
from planner.paper.pdf import sheet_pdf
from planner.paper.phone import sheet_html
from planner.store.people import Person
from tests.paper.made import facts, people

NASTY = (
    "#panic(1)",
    '#read("/etc/passwd")',
    "$ x $ *bold* _it_ `raw` <label> @ref \\u{41} // /* */",
    "<script>alert(1)</script>",
    "<img src=x onerror=alert(1)>",
    "{{ 7 * 7 }}{% for x in y %}",
    "]}'\"`&amp;&#60;",
    "\u202eecilA\u202c",
    "محمد بن علي",
    "יוסף כהן",
    "养蜂人",
    "🐝🐝👩‍🌾",
    "\x00\x01\x1b[31m",
    "\ue000\uf8ff\U000f0000",
    "\ud800",
    "e" + "\u0301" * 400,
    "W" * 10_000,
    "a b " * 2_500,
    "\n\r\t\v  \u2028\u2029",
    "=cmd|'/C calc'!A0",
    "",
)


def nasty(pick: random.Random) -> str:
    """A hostile text: one of the above, several glued, or random characters of all planes."""
    how = pick.randrange(4)
    if how == 0:
        return pick.choice(NASTY)
    if how == 1:
        return "".join(pick.choice(NASTY)[:200] for _ in range(3))
    length = pick.choice((1, 12, 90, 10_000)) if how == 2 else pick.randrange(1, 40)
    return "".join(chr(pick.randrange(1, 0x110000)) for _ in range(min(length, 400))) + "x" * max(
        0, length - 400
    )


def crowd(seed: int, count: int = 100) -> tuple[Person, ...]:
    pick = random.Random(seed)
    return tuple(
        Person(
            nasty(pick) or "?",
            nasty(pick),
            "",
            nasty(pick),
            nasty(pick),
            (nasty(pick),) * pick.randrange(3),
            1,
        )
        for _ in range(count)
    )


class Reader(HTMLParser):
    """What a browser would make of a page: tags and attributes."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: set[str] = set()
        self.attributes: set[str] = set()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        self.attributes |= {name for name, _ in attrs}


def assert_harmless(html: str) -> None:
    plain, hostile = Reader(), Reader()
    plain.feed(sheet_html(driver_sheet(facts(), "en")) + sheet_html(yard_sheet(facts(), people(2), "en")))
    plain.feed(
        sheet_html(receipt_sheet(facts(), None, "en")) + sheet_html(buyer_sheet(facts(), people(1)[0], "en"))
    )
    hostile.feed(html)
    assert hostile.tags <= plain.tags
    assert hostile.attributes <= plain.attributes
    assert not [c for c in html if unicodedata.category(c) in ("Cc", "Co", "Cs") and c != "\n"]
    assert len(html.encode()) <= 60_000


@pytest.mark.parametrize("seed", range(2))
def test_two_hundred_hostile_people_are_printed(seed: int) -> None:
    """A slice of the ten thousand, a hundred to a document."""
    printed_whole(seed)


@pytest.mark.hour
@pytest.mark.slow
@pytest.mark.timeout(7200)
@pytest.mark.parametrize("tens", range(10))
def test_ten_thousand_hostile_people_are_printed(tens: int) -> None:
    for seed in range(10 * tens, 10 * tens + 10):
        printed_whole(seed)


def printed_whole(seed: int) -> None:
    found = crowd(seed)
    pick = random.Random(seed)
    trip = facts(
        origin=nasty(pick),
        destination=nasty(pick),
        keeper=nasty(pick),
        phone=nasty(pick) or "1",
        groups=tuple(replace(group, label=nasty(pick)) for group in facts().groups),
    )
    sheet = yard_sheet(trip, found, "en")
    printed = sheet_pdf(sheet)
    assert len(pypdf.PdfReader(io.BytesIO(printed.data)).pages) == 1
    assert_harmless(sheet_html(sheet))
    person = pick.choice(found)
    for sheet in (buyer_sheet(trip, person, "de"), receipt_sheet(trip, person, "pl")):
        assert len(pypdf.PdfReader(io.BytesIO(sheet_pdf(sheet).data)).pages) == 1
        assert_harmless(sheet_html(sheet))


def test_texts_of_users_are_cut_shorter_where_the_side_is_full() -> None:
    """The widest letter wherever a user may write, beside English: still one side, and a remark."""
    wide = "W" * 90
    trip = facts(
        origin=wide,
        destination=wide,
        keeper=wide,
        phone=wide,
        groups=tuple(replace(group, label=wide) for group in facts().groups),
    )
    printed = sheet_pdf(buyer_sheet(trip, Person(wide, wide, "de", wide, wide, (wide,) * 2, 2), "de"))
    assert len(pypdf.PdfReader(io.BytesIO(printed.data)).pages) == 1
    assert any(CUT in remark for remark in printed.remarks)


def test_source_is_printed_literally() -> None:
    """User text is data for typst: nothing of it is run."""
    person = Person('#panic(1) #read("/etc/passwd")')
    data = sheet_pdf(buyer_sheet(facts(), person, "en")).data
    text = pypdf.PdfReader(io.BytesIO(data)).pages[0].extract_text()
    assert '#panic(1)#read("/etc/passwd")' in re.sub(r"\s+", "", text)
    assert "root:" not in text


def test_what_no_font_has_becomes_a_mark_and_a_remark() -> None:
    printed = sheet_pdf(buyer_sheet(facts(), Person("Ada 🐝🐝 \ue000 Bee" + "x" * 200), "en"))
    text = re.sub(r"\s+", " ", pypdf.PdfReader(io.BytesIO(printed.data)).pages[0].extract_text())
    assert f"Ada {MARK} {MARK} Bee" in text
    assert any(MARK in remark for remark in printed.remarks)
    assert any(CUT in remark for remark in printed.remarks)
    assert f"{MARK} stands for" in text


def test_what_can_be_printed_is_left_alone() -> None:
    for text in ("Żaneta Gęślą", "Øyvind Å.", "Ἀριστοτέλης", "Щербак", "O'Brien & Søn", "Đặng"):
        assert cleaned(text).text == unicodedata.normalize("NFC", text)
        assert not cleaned(text).marked


@given(st.text(max_size=300), st.booleans())
def test_a_cleaned_text_can_be_set(text: str, on_paper: bool) -> None:
    found = cleaned(text, on_paper=on_paper)
    assert len(found.text) <= MOST_CHARACTERS + 8 * len(MARK) * MOST_CHARACTERS
    if on_paper:
        assert all(ord(c) in covered() for c in found.text)
    assert not any(unicodedata.category(c) in ("Cc", "Co", "Cs", "Cn") for c in found.text)
    assert cleaned(found.text, on_paper=on_paper).text == found.text or found.cut or found.marked


@given(st.text(alphabet="ab ", max_size=200))
def test_breaking_adds_only_soft_hyphens(text: str) -> None:
    assert breakable(text).replace("\u00ad", "") == text
    assert all(len(word) < 28 for word in re.split(r"[\s\u00ad]", breakable(text)))


def test_the_list_of_what_the_fonts_have_is_true() -> None:
    """fontTools reads the fonts."""
    for name in ("NotoSans-Regular.ttf", "NotoSans-Bold.ttf"):
        with TTFont(resource_path("fonts", name)) as font:
            assert covered() <= set(font.getBestCmap())
    assert {ord(c) for c in "aßłżñçàЖΩ…-·"} <= covered()


def test_files_are_told_apart_whatever_people_are_called() -> None:
    names = file_names([*crowd(3), Person("Ada"), Person("ada"), Person("Ada"), Person("../../etc/passwd")])
    assert len({name.casefold() for name in names}) == len(names)
    assert all(re.fullmatch(r"[\w.\-]+", name) and len(name.encode()) < 100 for name in names)
    assert names[-4:-1] == ["Ada", "ada-2", "Ada-3"]
    assert names[-1] == "etc-passwd"
