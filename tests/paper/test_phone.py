"""Sheets for the phone: small, self-contained, without script, every number there, no faults found by axe."""

from __future__ import annotations

import html
import json
import re
import shutil
import subprocess
from functools import cache
from pathlib import Path

import pytest

from planner.app.sheets.drive import driver_sheet
from planner.app.sheets.facts import Standing
from planner.app.sheets.records import Sheet, values_in
from planner.app.sheets.stay import yard_sheet
from planner.paper.phone import MOST_BYTES, sheet_html
from planner.units import METRIC, US, UnitSystem
from planner.words import Voice, languages
from tests.paper.judges import node, package
from tests.paper.made import LEAVE_S, facts, people, random_facts, without_figures
from tests.paper.test_pdf import flat, sheets_of

HERE = Path(__file__).resolve().parent


def text_of(page: str) -> str:
    body = page.split("<body>")[1]
    return flat(html.unescape(re.sub(r"<[^>]*>", " ", body)))


def assert_sound(sheet: Sheet, units: UnitSystem = METRIC) -> None:
    page = sheet_html(sheet, units)
    text, voice = text_of(page), Voice(sheet.language, units)
    assert len(page.encode()) <= MOST_BYTES
    assert not re.search(r"<script|<link|<iframe|<form|\bsrc=|\bhref=(?!\"tel:\+?\d+\")|url\(|@import", page)
    for cell in sheet.cells():
        for value in values_in(cell):
            assert flat(voice.text(value)) in text, value


@pytest.mark.parametrize("number", range(5))
def test_a_page_of_each_kind_is_sound(number: int) -> None:
    assert_sound(sheets_of(facts(), languages()[number])[number])


@pytest.mark.parametrize("seed", range(6))
def test_pages_of_random_trips_are_sound(seed: int) -> None:
    for sheet in sheets_of(random_facts(seed), languages()[seed % 6]):
        assert_sound(sheet, US if seed % 2 else METRIC)


@pytest.mark.hour
@pytest.mark.slow
@pytest.mark.parametrize("language", languages())
def test_pages_of_two_hundred_random_trips_are_sound(language: str) -> None:
    for seed in range(200):
        for sheet in sheets_of(random_facts(seed), language):
            assert_sound(sheet)


def test_a_number_is_dialled_by_a_touch_and_nothing_else_is_a_link() -> None:
    page = sheet_html(driver_sheet(facts(keeper='Ada <a href="x">', phone="+49 30 1234567"), "en"))
    assert '<a href="tel:+49301234567">+49 30 1234567</a>' in page
    assert set(re.findall(r'href="([^"]*)"', page)) == {"tel:+49301234567", "tel:112", "tel:999"}
    assert "Ada &lt;a href=&#34;x&#34;&gt;" in page


def test_a_long_list_is_cut_and_counted() -> None:
    page = sheet_html(yard_sheet(facts(), people(500), "en"))
    assert len(page.encode()) <= MOST_BYTES
    shown = page.count(" of Ash Lane")
    found = re.search(r"and (\d+) more", page)
    assert shown + (int(found[1]) if found else 0) == 500


def test_english_stands_beside_a_language_nobody_has_checked() -> None:
    sheet = sheets_of(facts(), "de")[0]
    page = re.sub(r"</?a\b[^>]*>", "", sheet_html(sheet))
    english = Voice()
    for block in sheet.blocks:
        if block.safety:
            for row in block.rows:
                assert html.escape(english.text(row.cells[-1]), quote=True).replace("&#x27;", "&#39;") in page
    assert 'lang="en"' in page
    assert 'class="english"' not in sheet_html(sheets_of(facts(), "en")[0])


ALL_WAYS = (
    Standing(LEAVE_S, 0.0, 35.0, 40.0, 900.0, 900.0, 900.0),
    Standing(LEAVE_S + 9e3, 338.0, *[900.0] * 5),
)
"""Every way to stand has its column: the widest table of a sheet."""


@cache
def chromium() -> str | None:
    return shutil.which("chromium") or shutil.which("google-chrome")


@pytest.mark.hour
@pytest.mark.slow
@pytest.mark.timeout(600)
def test_chromium_finds_no_fault_and_no_sideways_scroll(tmp_path: Path) -> None:
    """axe-core at levels A and AA of WCAG 2.2 in a real browser, 360 px wide, light and dark."""
    axe, puppeteer = package("axe-core") / "axe.min.js", package("puppeteer-core")
    if chromium() is None:
        pytest.skip("needs a Chromium")
    pages = []
    for language in languages():
        cooled = facts(air="cooled", set_point_c=18.0, stands=ALL_WAYS)
        found = [*sheets_of(facts(), language), driver_sheet(cooled, language)]
        for number, sheet in enumerate([*found, *sheets_of(without_figures(), language)[:4]]):
            path = tmp_path / f"{language}-{number}-{sheet.kind}.html"
            path.write_text(sheet_html(sheet), encoding="utf-8")
            pages.append(str(path))
    told = {"pages": pages, "axe": str(axe), "puppeteer": str(puppeteer), "browser": chromium()}
    done = subprocess.run(
        [node(), str(HERE / "look.cjs")], input=json.dumps(told).encode(), capture_output=True, check=False
    )
    assert done.returncode == 0, done.stderr.decode()
    found = json.loads(done.stdout)
    assert len(found) == 2 * len(pages)
    assert [one for one in found if one["faults"] or one["wide"] > 360] == []
