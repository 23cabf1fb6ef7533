"""What a sheet is made of: blocks of sentences and values with units, in no language and no layout yet.

A cell holds a sentence not said yet, a value with its unit, or a text of the user's; renderers have a voice say them.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from planner.words import Moment, Quantity, Sentence, Stretch, Title

Cell = Sentence | Title | Quantity | Moment | Stretch | int | str
Kind = Literal["driver", "buyer", "receiver", "yard", "receipt"]
KINDS: tuple[Kind, ...] = ("driver", "buyer", "receiver", "yard", "receipt")
Shape = Literal["lines", "table", "signs", "pairs", "blanks"]
"""How a block is read: lines one by one, a table with heads, drawn signs, names with values, lines to be filled in."""
Rank = Literal[1, 2, 3]
"""What goes first when the side is full: 3 as a whole, then rows of 2 by what they are worth; 1 never."""


class LongText(str):
    """A text of a user's that is printed whole, as long as a sentence may be: a reason, not a name."""

    __slots__ = ()


SAFETY, STAYS = 8, 9
"""What a row is worth that goes last of all, and one that never goes."""


@dataclass(frozen=True)
class Row:
    """One row of a block; ``sign`` names a drawing that stands before it.

    ``keep``: of the rows that may go when the side is full, those with the lowest go first, the last of them before
    the others; from ``SAFETY`` on only after everything else that may, lists and the length of texts; ``STAYS`` never.
    """

    cells: tuple[Cell, ...]
    sign: str = ""
    keep: int = 5


@dataclass(frozen=True)
class Block:
    """One block of a sheet.

    ``safety``: said in English too, beside a language nobody whose mother tongue it is has checked. ``wide``: over the
    whole width. ``more``: the sentence, with a count, that ends a list that was too long for one side; empty where
    none may be cut so.
    """

    name: str
    title: Sentence
    rank: Rank
    shape: Shape
    rows: tuple[Row, ...]
    heads: tuple[Cell, ...] = ()
    safety: bool = False
    wide: bool = False
    more: str = ""


@dataclass(frozen=True)
class Figure:
    """One of the three numbers: what it is, the number itself, and what goes with it."""

    name: str
    label: Sentence
    value: Cell
    note: Cell = ""


@dataclass(frozen=True)
class Head:
    """Who, which boxes, from where to where; ``void`` says why there are no figures, empty where there are."""

    title: Cell
    pairs: tuple[tuple[Sentence, Cell], ...]
    proof: tuple[Cell, ...]
    void: tuple[Cell, ...] = ()


@dataclass(frozen=True)
class Sheet:
    """One side of paper, or one page of a phone; ``person`` is empty for the user's own."""

    kind: Kind
    language: str
    person: str
    head: Head
    figures: tuple[Figure, ...]
    blocks: tuple[Block, ...]
    remarks: tuple[str, ...] = ()

    def cells(self) -> Iterator[Cell]:
        """Everything that is said, in the order of reading."""
        yield self.head.title
        yield from self.head.void
        for label, value in self.head.pairs:
            yield from (label, value)
        for figure in self.figures:
            yield from (figure.label, figure.value, figure.note)
        for block in self.blocks:
            yield block.title
            yield from block.heads
            for row in block.rows:
                yield from row.cells
        yield from self.head.proof


@dataclass(frozen=True)
class Label:
    """What is stuck on one box: its name, what its QR code holds, and words."""

    box: str
    code: str
    lines: tuple[Cell, ...]


@dataclass(frozen=True)
class Entry:
    """One entry of a calendar: instants in POSIX seconds UTC; ``role`` is part of its lasting name."""

    role: str
    begin_s: float
    end_s: float
    title: Sentence
    body: tuple[Cell, ...]
    place: str
    alarm_min: int


def values_in(cell: Cell) -> Iterator[Quantity | Moment | Stretch | int]:
    """The values of a cell, those inside the gaps of sentences too."""
    if isinstance(cell, Sentence):
        for _, gap in cell.gaps:
            if isinstance(gap, Sentence | Quantity | Moment | Stretch | int):
                yield from values_in(gap)
    elif isinstance(cell, Quantity | Moment | Stretch) or (
        isinstance(cell, int) and not isinstance(cell, bool)
    ):
        yield cell
