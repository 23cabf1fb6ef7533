"""Where things lie on the departure board: titles, cells and key, measured once for a table in a room."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from PySide6.QtCore import QRectF, QSize, Qt
from PySide6.QtGui import QFont, QFontMetricsF

from planner.ui.look import theme

MOST_LABEL_SHARE = 0.40
MOST_WIDE, MOST_HIGH = 64.0, 40.0
FOOT_PX = 3.0
KEY_PX, KEY_GAP_PX, CORNER_GAP_PX = 15.0, 9.0, 22.0
"""From a class's colour to its words, and from there to the next."""
LEAST_ROWS = 4
"""With fewer rows in sight the key of the colours moves into the empty corner above the rows' titles."""
CORNER_LINES = 3
STEP, CORNER_STEP = -0.7, -1.2
"""Type of titles, figures and key, and of a key in the corner."""

TITLE_STEPS = (STEP, -1.1, -1.5, -1.9)
TITLE_EDGE_PX, ROW_GAP_PX, TITLE_OVER_PX = 10.0, 1.5, 2.0
"""Beside and between titles; so far a title may reach into the gap."""
WRAPPED = int(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter | Qt.TextFlag.TextWordWrap)
Key = tuple[str, str]
"""A class and its words."""


@dataclass(frozen=True)
class BoardLayout:
    """All measures in pixels of the viewport; ``corner`` is the key line by line where it stands above the titles."""

    field: QRectF
    cell_wide: float
    cell_high: float
    row_high: float
    foot: float
    corner: tuple[tuple[tuple[str, str, float], ...], ...]
    in_corner: bool


def lay_out(
    room: QSize,
    titles: Sequence[str],
    departures: int,
    widest: str,
    keys: Sequence[Key],
    short: Sequence[Key],
) -> BoardLayout:
    """Share the room out: ``widest`` is the longest figure of a cell, ``keys`` the classes with their names,
    ``short`` without them.
    """
    plain, bold = QFontMetricsF(theme.font(STEP)), QFontMetricsF(theme.font(STEP, bold=True))
    wides = [bold.horizontalAdvance(title) + 12.0 for title in titles]
    label = min(max(wides, default=12.0), room.width() * MOST_LABEL_SHARE)
    lines = 2 if any(wide > label for wide in wides) else 1
    row_high = plain.height() * lines + (5.0 if lines == 1 else 2.0)
    row_high = max(row_high, *(least_high(title, label - TITLE_EDGE_PX) for title in titles), 0.0)
    top = 2 * plain.height() + 8.0
    foot = _tall_foot(plain, keys, room)
    corner = _corner(short, label - CORNER_GAP_PX)
    in_corner = (
        bool(titles)
        and room.height() - top - foot < row_high * min(LEAST_ROWS, len(titles))
        and len(corner) <= CORNER_LINES
    )
    foot = FOOT_PX if in_corner else foot
    field = QRectF(label, top, room.width() - label - 2, room.height() - top - foot)
    wide = high = 1.0
    if titles and departures:
        least, across = plain.horizontalAdvance(widest) + 5.0, room.width() - label - 4.0
        whole = max(int(across / least), 1)  # a cell cut at the edge would tell 13 as 3
        wide = min(across / min(departures, whole), MOST_WIDE)
        rows = max(int((field.height() + 1.0) / row_high), 1)
        high = field.height() / min(len(titles), rows)
        if len(titles) <= rows:
            high = max(min(high, MOST_HIGH), row_high)
    return BoardLayout(field, wide, high, row_high, foot, corner, in_corner)


def least_high(title: str, wide: float) -> float:
    """How tall a row has to be for its title in the smallest type: in a narrow board a long one takes three lines."""
    face = QFontMetricsF(theme.font(TITLE_STEPS[-1], bold=True))
    return face.boundingRect(QRectF(0, 0, wide, 1000), WRAPPED, title).height() + ROW_GAP_PX - TITLE_OVER_PX


def title_font(title: str, room: QRectF, *, bold: bool) -> QFont:
    """The type in which a row's whole title finds room; the smallest of a few where none does."""
    for step in TITLE_STEPS:
        font = theme.font(step, bold=bold)
        tall = QRectF(0, 0, room.width(), 1000)
        if QFontMetricsF(font).boundingRect(tall, WRAPPED, title).height() <= room.height() + TITLE_OVER_PX:
            break
    return font


def key_lines(keys: Sequence[Key], wide: float) -> int:
    """Over how many lines the key runs."""
    metrics = QFontMetricsF(theme.font(STEP))
    whole = sum(KEY_PX + KEY_GAP_PX + metrics.horizontalAdvance(words) for _, words in keys)
    return 1 if whole - KEY_GAP_PX < wide - 8 else 2


def _tall_foot(metrics: QFontMetricsF, keys: Sequence[Key], room: QSize) -> float:
    return metrics.height() * (2.0 if key_lines(keys, room.width()) > 1 else 1.0) + 18.0


def _corner(keys: Sequence[Key], room: float) -> tuple[tuple[tuple[str, str, float], ...], ...]:
    """Class, words and left edge, line by line."""
    metrics = QFontMetricsF(theme.font(CORNER_STEP))
    lines: list[list[tuple[str, str, float]]] = [[]]
    x = 2.0
    for name, words in keys:
        wide = KEY_PX + metrics.horizontalAdvance(words)
        if lines[-1] and x + wide > room:
            lines.append([])
            x = 2.0
        lines[-1].append((name, words, x))
        x += wide + KEY_GAP_PX
    return tuple(tuple(line) for line in lines)


def apart(heads: dict[str, QRectF]) -> dict[str, QRectF]:
    """The heads of the days, each before the next: one of which too little is in sight gives way to the next."""
    kept: dict[str, QRectF] = {}
    later: QRectF | None = None
    for day, box in reversed(heads.items()):
        if later is None or box.right() <= later.left():
            kept[day] = later = box
    return kept
