"""Sheets as PDF through typst: tagged, declaring PDF/A-2a and PDF/UA-1, on one side, texts handed over as data."""

from __future__ import annotations

import json
import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from functools import cache
from typing import TYPE_CHECKING, Any, Literal

from planner.app.sheets.records import Label, Sheet
from planner.bundled import resource_folder, resource_path
from planner.errors import StorageError
from planner.paper.clean import MOST_CHARACTERS, breakable
from planner.paper.spoken import LESS, Speaker, spoken
from planner.units import METRIC, UnitSystem
from planner.words import Voice, current, say

if TYPE_CHECKING:
    import typst

Paper = Literal["a4", "letter"]
PAPERS: dict[str, str] = {"a4": "a4", "letter": "us-letter"}
STANDARDS: list[Literal["a-2a", "ua-1"]] = ["a-2a", "ua-1"]
SHORTER = (MOST_CHARACTERS, 40, 20)
"""Characters of a text of a user's: as many as there is room for."""
KEPT = 10
"""Documents that typst remembers the parts of (typst-py: comemo::evict(10) after each)."""
NO_ROOM = "no room: "
"""How the layout begins its complaint about a block that does not fit."""


class NoRoom(StorageError):
    """A sheet that does not fit on one side, however small; names the block."""


@dataclass(frozen=True)
class Fit:
    """How a sheet found room: the body's size in pt, how much was left out of the blocks over the whole width, of the
    left column and of the right one, after how many blocks the left column ends, how much closer lines stand, what
    share of the width the left column has."""

    size: float
    level: int
    left: int
    right: int
    cut: int
    close: int = 0
    share: float = 0.5


@dataclass(frozen=True)
class Printed:
    """A finished PDF: ``fit`` how it found room, ``dropped`` blocks that lost rows, what a reader must know."""

    data: bytes
    remarks: tuple[str, ...] = ()
    fit: Fit | None = None
    dropped: tuple[str, ...] = ()


def sheet_pdf(
    sheet: Sheet, paper: Paper = "a4", units: UnitSystem = METRIC, *, like: Fit | None = None
) -> Printed:
    """A sheet on one side of paper.

    ``like`` is how another sheet of the same kind found room: it is tried first, so that all sheets of one printing
    look alike and nothing is searched twice. Raises NoRoom with the block that has no room at 9.5 pt after everything
    that may go has gone.
    """
    if like is not None:
        told = spoken(sheet, units, on_paper=True)
        alike = _set(told, paper, asdict(like))
        if alike.pages == 1 and not alike.unsafe:
            return _printed(told, alike)
    return _printed(*_roomiest(sheet, units, lambda told: _set(told, paper, None)))


def _printed(told: dict[str, Any], laid: _Laid) -> Printed:
    """A document with what whoever prints it must know: that something had no room, too."""
    less = (current().text(LESS),) if laid.dropped else ()
    return Printed(laid.data, (*told["remarks"], *less), laid.fit, laid.dropped)


def sheet_png(sheet: Sheet, paper: Paper = "a4", units: UnitSystem = METRIC, *, ppi: float = 110.0) -> bytes:
    """A sheet as a picture, to be looked at before it is printed. Raises NoRoom."""
    return _roomiest(sheet, units, lambda told: _set(told, paper, None, ppi=ppi))[1].data


@dataclass(frozen=True)
class _Laid:
    """A document with what its layout tells of itself: ``unsafe`` so many rows about safety are not on it."""

    data: bytes
    fit: Fit
    dropped: tuple[str, ...]
    unsafe: int
    pages: int


def _roomiest(
    sheet: Sheet, units: UnitSystem, laid_out: Callable[[dict[str, Any]], _Laid]
) -> tuple[dict[str, Any], _Laid]:
    """What was laid out of, and what came of it.

    Texts of users are cut shorter where the side is full, or rows about safety would have to go. Raises NoRoom.
    """
    best: tuple[dict[str, Any], _Laid] | None = None
    for most in SHORTER:
        told = spoken(sheet, units, on_paper=True, most=most)
        try:
            laid = laid_out(told)
        except NoRoom:
            if best is None and most == SHORTER[-1]:
                raise
            continue
        if best is None or laid.unsafe < best[1].unsafe:
            best = told, laid
        if not laid.unsafe:
            break
    assert best is not None
    return best


def _set(
    told: dict[str, Any], paper: Paper, given: dict[str, Any] | None, *, ppi: float | None = None
) -> _Laid:
    """A document, or the picture of one."""
    data = compiled("sheet.typ", told, paper, given, ppi=ppi)
    found = _compiler("sheet.typ").query("<told>", field="value", one=True)
    if given is None:
        _forget()
    fit = json.loads(found)
    levels = {name: int(fit[name]) for name in ("level", "left", "right", "cut", "close")}
    found_fit = Fit(size=float(fit["size"]), share=float(fit["share"]), **levels)
    return _Laid(data, found_fit, tuple(fit["dropped"]), int(fit["unsafe"]), int(fit["pages"]))


def labels_pdf(
    labels: Sequence[Label], language: str, paper: Paper = "a4", units: UnitSystem = METRIC
) -> Printed:
    """Labels for boxes, several to a page, each with its QR code and words."""
    told, speaker = _labelled(labels, language, units)
    return Printed(compiled("labels.typ", told, paper), tuple(speaker.remarks(current())))


def labels_png(
    labels: Sequence[Label],
    language: str,
    paper: Paper = "a4",
    units: UnitSystem = METRIC,
    *,
    ppi: float = 110.0,
) -> bytes:
    """The first page of labels as a picture, to be looked at before it is printed."""
    return compiled("labels.typ", _labelled(labels, language, units)[0], paper, ppi=ppi)


def _labelled(labels: Sequence[Label], language: str, units: UnitSystem) -> tuple[dict[str, Any], Speaker]:
    """The texts and codes of labels, and whoever said them."""
    from planner.paper.qr import modules

    speaker = Speaker(Voice(language, units), on_paper=True)
    told = {
        "lang": language,
        "title": speaker.voice.say("sheets.labels_title"),
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
    return told, speaker


def compiled(
    template: str,
    told: dict[str, Any],
    paper: Paper,
    given: dict[str, Any] | None = None,
    *,
    ppi: float | None = None,
) -> bytes:
    """The document as PDF bytes, or as a picture of its first page."""
    import typst

    inputs = {
        "data": json.dumps(_breakable(told), ensure_ascii=False),
        "paper": PAPERS[paper],
        "fit": json.dumps(given),
    }
    try:
        if ppi is not None:
            made = _compiler(template).compile(format="png", sys_inputs=inputs, ppi=ppi)
        else:
            made = _compiler(template).compile(
                format="pdf", sys_inputs=inputs, pdf_standards=[*STANDARDS], timestamp=_present_s()
            )
    except typst.TypstError as error:
        if NO_ROOM in str(error):
            block = str(error).split(NO_ROOM, 1)[1].split('"')[0].strip()
            raise NoRoom(say("sheets.no_room", block=block)) from error
        raise
    first = made[0] if isinstance(made, list) else made
    assert isinstance(first, bytes)
    return first


def _present_s() -> int:
    """The date a file bears, unix s: the typesetter bears no clock that stands before 1970."""
    return max(int(time.time()), 0)


def _breakable(told: Any) -> Any:
    """Every text with places to break in words that no column holds."""
    if isinstance(told, str):
        return breakable(told)
    if isinstance(told, dict):
        return {key: _breakable(value) for key, value in told.items()}
    return [_breakable(value) for value in told] if isinstance(told, list) else told


def _forget() -> None:
    """Let go of every try of a search, some 50 MB: the compiler keeps what its last ten documents looked at."""
    for _ in range(KEPT + 1):
        _compiler("blank.typ").compile(format="pdf", timestamp=_present_s())


@cache
def _fonts() -> typst.Fonts:
    """Our fonts, held once for all threads; neither the system's nor those that typst brings."""
    import typst

    return typst.Fonts(False, False, [str(resource_path("fonts"))])


_own = threading.local()


def _compiler(template: str) -> typst.Compiler:
    """This thread's compiler, that sees our templates and our fonts and nothing else of the machine."""
    import typst

    held: dict[str, typst.Compiler] = _own.__dict__.setdefault("compilers", {})
    if template not in held:
        folder = resource_folder() / "sheets"
        held[template] = typst.Compiler(
            input=str(folder / template),
            root=str(folder),
            font_paths=_fonts(),
        )
    return held[template]
