"""Sheets for the phone: one self-contained page without script, every text escaped."""

from __future__ import annotations

import re
from functools import cache
from typing import TYPE_CHECKING, Any

from planner.app.sheets.records import Sheet
from planner.bundled import resource_path
from planner.paper.spoken import NEVER, spoken
from planner.units import METRIC, UnitSystem

if TYPE_CHECKING:
    from jinja2 import Template

NUMBER = r"[+0]\d[\d ()/-]{4,18}\d"
"""A telephone number in a text."""
SHORT = r"\b\d{3}\b"
"""A number for emergencies."""
SIGNS = ("hum", "roar", "silence", "wet", "loose", "cold")
MOST_BYTES = 60_000


def sheet_html(sheet: Sheet, units: UnitSystem = METRIC) -> str:
    """A sheet as a page of at most 60 KB; a list of people is cut where it would be longer."""
    told = spoken(sheet, units, on_paper=False)
    page = _page(told)
    while len(page.encode()) > MOST_BYTES and _shortened(told):
        page = _page(told)
    return page


def _page(told: dict[str, Any]) -> str:
    return _template().render(told=told, drawings=_drawings())


def _shortened(told: dict[str, Any]) -> bool:
    """Take a tenth of the rows from the longest list that may be cut; False where none is left."""
    lists = [block for block in told["blocks"] if block["more"]]
    if not lists:
        return False
    block = max(lists, key=lambda one: len(one["rows"]))
    rows = [row for row in block["rows"] if len(row["cells"]) > 1]
    keep = len(rows) - max(1, len(rows) // 10)
    if keep < 1:
        return False
    left = len(block["more"]) - keep
    block["rows"] = [
        *rows[:keep],
        {"sign": "", "cells": [block["more"][left - 1]], "english": [], "goes": NEVER},
    ]
    return True


def _dialled(text: str, *, short: bool = False) -> Any:
    """A text in which numbers are dialled by a touch, and never broken; everything else is escaped."""
    from markupsafe import Markup, escape

    out = Markup()
    at = 0
    for found in re.finditer(f"{NUMBER}|{SHORT}" if short else NUMBER, text):
        number = found.group()
        called = re.sub(r"[^\d+]", "", number)
        out += escape(text[at : found.start()]) + Markup('<a href="tel:{}">{}</a>').format(called, number)
        at = found.end()
    return out + escape(text[at:])


@cache
def _drawings() -> dict[str, Any]:
    """Our own drawings of the signs, hidden from readers that are heard: the words beside them say the same."""
    from markupsafe import Markup

    texts = {name: resource_path("sheets", "symbols", f"{name}.svg").read_text("utf-8") for name in SIGNS}
    return {
        name: Markup(
            text.strip().replace("<svg ", '<svg aria-hidden="true" ', 1).replace('stroke="#000" ', "")
        )
        for name, text in texts.items()
    }


@cache
def _template() -> Template:
    from jinja2 import Environment, StrictUndefined

    page = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True)
    page.tests["as_long_as"] = lambda cells, count: len(cells) == count
    page.filters["dial"] = _dialled
    return page.from_string(resource_path("sheets", "phone.html.j2").read_text(encoding="utf-8"))
