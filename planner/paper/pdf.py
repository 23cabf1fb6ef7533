"""Sheets as PDF through typst: tagged, declaring PDF/A-2a and PDF/UA-1, on one side, texts handed over as data."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Any, Literal

from planner.app.sheets.records import Label, Sheet
from planner.bundled import resource_folder, resource_path
from planner.errors import StorageError
from planner.paper.clean import breakable
from planner.paper.spoken import Speaker, spoken
from planner.units import METRIC, UnitSystem
from planner.words import Voice, say

if TYPE_CHECKING:
    import typst

Paper = Literal["a4", "letter"]
PAPERS: dict[str, str] = {"a4": "a4", "letter": "us-letter"}
STANDARDS = ["a-2a", "ua-1"]
NO_ROOM = "no room: "
"""How the layout begins its complaint about a block that does not fit."""


class NoRoom(StorageError):
    """A sheet that does not fit on one side, however small; names the block."""


@dataclass(frozen=True)
class Printed:
    """A finished PDF: ``size_pt`` the body's, ``dropped`` blocks and rows left out, what a reader must know."""

    data: bytes
    size_pt: float
    dropped: tuple[str, ...]
    remarks: tuple[str, ...]


def sheet_pdf(sheet: Sheet, paper: Paper = "a4", units: UnitSystem = METRIC) -> Printed:
    """A sheet on one side of paper.

    Raises NoRoom with the block that has no room at 9.5 pt after everything that may go has gone.
    """
    told = spoken(sheet, units, on_paper=True)
    data = _compiled("sheet.typ", told, paper)
    fit = json.loads(_compiler("sheet.typ").query("<fit>", field="value", one=True))
    return Printed(data, float(fit["size"]), tuple(fit["dropped"]), tuple(told["remarks"]))


def labels_pdf(
    labels: Sequence[Label], language: str, paper: Paper = "a4", units: UnitSystem = METRIC
) -> Printed:
    """Labels for boxes, several to a page, each with its QR code and words."""
    from planner.paper.qr import modules

    speaker = Speaker(Voice(language, units), on_paper=True)
    told = {
        "lang": language,
        "title": say("sheets.labels_title"),
        "labels": [
            {
                "box": speaker.said(label.box),
                "code": label.code,
                "modules": modules(label.code),
                "lines": [speaker.said(cell) for cell in label.lines],
            }
            for label in labels
        ],
    }
    return Printed(_compiled("labels.typ", told, paper), 9.5, (), tuple(speaker.remarks()))


def _compiled(template: str, told: dict[str, Any], paper: Paper) -> bytes:
    """The document as PDF bytes."""
    import typst

    given = {"data": json.dumps(_breakable(told), ensure_ascii=False), "paper": PAPERS[paper]}
    try:
        made = _compiler(template).compile(format="pdf", sys_inputs=given, pdf_standards=STANDARDS)
    except typst.TypstError as error:
        if NO_ROOM in str(error):
            block = str(error).split(NO_ROOM, 1)[1].split('"')[0].strip()
            raise NoRoom(say("sheets.no_room", block=block)) from error
        raise
    assert isinstance(made, bytes)
    return made


def _breakable(told: Any) -> Any:
    """Every text with places to break in words that no column holds."""
    if isinstance(told, str):
        return breakable(told)
    if isinstance(told, dict):
        return {key: _breakable(value) for key, value in told.items()}
    return [_breakable(value) for value in told] if isinstance(told, list) else told


@cache
def _compiler(template: str) -> typst.Compiler:
    """A compiler that sees our templates and our fonts and nothing else of the machine."""
    import typst

    folder = resource_folder() / "sheets"
    return typst.Compiler(
        input=str(folder / template),
        root=str(folder),
        font_paths=[str(resource_path("fonts"))],
        ignore_system_fonts=True,
    )
