"""A sheet said by a voice: the plain texts that paper and phone lay out, each in its own way."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

from planner.app.sheets.records import SAFETY, STAYS, Block, Cell, LongText, Sheet
from planner.paper.clean import CUT, MARK, MOST_CHARACTERS, MOST_LONG, MOST_SENTENCE, Cleaned, cleaned
from planner.units import UnitSystem
from planner.words import Sentence, Title, Voice, current
from planner.words.catalogue import SOURCE, checked, is_bundled

TOPIC = "sheets"
MOST_SAID = 8192
LESS = Sentence("sheets.less")
"""What is said where a side of paper has not room for all."""


@dataclass
class Speaker:
    """Says cells for one medium and remembers what had to be done to users' texts."""

    voice: Voice
    on_paper: bool
    most: int = MOST_CHARACTERS
    marked: bool = field(default=False)
    cut: bool = field(default=False)

    def said(self, cell: Cell, voice: Voice | None = None) -> str:
        """A cell as text, everything of a user's made fit to be set."""
        found = _said(voice or self.voice, self.on_paper, self.most, cell)
        self.marked |= found.marked
        self.cut |= found.cut
        return found.text

    def remarks(self, voice: Voice | None = None) -> list[str]:
        """What must be known of marks and cuts: said to the reader, or by ``voice`` to whoever prints."""
        voice = voice or self.voice
        found = []
        if self.marked:
            found.append(voice.say("sheets.remark_mark", mark=MARK))
        if self.cut:
            found.append(voice.say("sheets.remark_cut", mark=CUT))
        return found


@lru_cache(MOST_SAID)
def _said(voice: Voice, on_paper: bool, most_of_users: int, cell: Cell) -> Cleaned:
    """A cell said and made fit; the sheets of one trip have most of their cells in common."""
    done: list[Cleaned] = []

    def safe(cell: object) -> object:
        match cell:
            case Sentence():
                return Sentence(cell.key, tuple((name, safe(gap)) for name, gap in cell.gaps))
            case Title() if is_bundled(cell.topic, cell.key, cell.english):
                return cell  # cut, it would no longer be found in the reader's language
            case Title():
                most = MOST_LONG if isinstance(cell.english, LongText) else most_of_users
                return Title(cell.topic, cell.key, fit(cell.english, most))
            case LongText():
                return fit(cell, MOST_LONG)
            case str():
                return fit(cell)
        return cell

    def fit(text: str, most: int = most_of_users) -> str:
        done.append(cleaned(text, most, on_paper=on_paper))
        return done[-1].text

    text = fit(voice.text(safe(cell)), MOST_SENTENCE)
    return Cleaned(text, any(one.marked for one in done), any(one.cut for one in done))


def spoken(sheet: Sheet, units: UnitSystem, *, on_paper: bool, most: int = MOST_CHARACTERS) -> dict[str, Any]:
    """The texts of a sheet in its language; safety blocks in English too where nobody has checked the language.

    ``most`` characters of each text of a user's.
    """
    speaker = Speaker(Voice(sheet.language, units), on_paper, most)
    english = None if checked(sheet.language, TOPIC) else Voice(SOURCE, units)
    told: dict[str, Any] = {
        "lang": sheet.language,
        "kind": sheet.kind,
        "title": speaker.said(sheet.head.title),
        "pairs": [[speaker.said(label), speaker.said(value)] for label, value in sheet.head.pairs],
        "void": [speaker.said(cell) for cell in sheet.head.void],
        "figures": [
            {
                "name": figure.name,
                "label": speaker.said(figure.label),
                "value": speaker.said(figure.value),
                "note": speaker.said(figure.note),
            }
            for figure in sheet.figures
        ],
        "blocks": [_block(block, speaker, english) for block in sheet.blocks],
        "unchecked": english is not None,
        "proof": [speaker.said(cell) for cell in sheet.head.proof],
        "less": speaker.said(LESS),
    }
    _order_of_going(sheet, told)
    if english is not None:
        told["proof"].append(speaker.said(Sentence("sheets.unchecked")))
        told["proof"].append(speaker.said(Sentence("sheets.unchecked"), english))
    told["remarks"] = [*sheet.remarks, *speaker.remarks(current())]
    told["proof"] += speaker.remarks()
    return told


NEVER = 9999
"""The place of rows that stay in the order of going."""


def _order_of_going(sheet: Sheet, told: dict[str, Any]) -> None:
    """Number the rows that may go when the side is full, from the one that goes first."""
    rows = [
        (row.keep, -number, said)
        for block, told_block in zip(sheet.blocks, told["blocks"], strict=True)
        if block.rank == 2
        for number, (row, said) in enumerate(zip(block.rows, told_block["rows"], strict=True))
        if row.keep < STAYS
    ]
    for place, (keep, _, said) in enumerate(sorted(rows, key=lambda row: row[:2])):
        said["goes"], said["safety"] = place, keep >= SAFETY


def _block(block: Block, speaker: Speaker, english: Voice | None) -> dict[str, Any]:
    beside = english if block.safety else None
    return {
        "name": block.name,
        "title": speaker.said(block.title),
        "title_en": speaker.said(block.title, beside) if beside else "",
        "rank": block.rank,
        "shape": block.shape,
        "wide": block.wide or beside is not None,
        "more": [
            speaker.said(Sentence(block.more, (("count", count),))) for count in range(1, len(block.rows) + 1)
        ]
        if block.more
        else [],
        "heads": [speaker.said(cell) for cell in block.heads],
        "rows": [
            {
                "sign": row.sign,
                "goes": NEVER,
                "safety": False,
                "cells": _cells(row.cells, speaker),
                "english": _cells(row.cells, speaker, beside) if beside else [],
            }
            for row in block.rows
        ],
    }


def _cells(cells: Sequence[Cell], speaker: Speaker, voice: Voice | None = None) -> list[str]:
    return [speaker.said(cell, voice) for cell in cells]
