"""A page to read, told once for the window and for a file: headed lines, tables and figures in their order."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from html import escape
from typing import TypeAlias

from planner.app.common.chart import Box
from planner.app.common.draw import Canvas
from planner.app.common.svg import FONT, PAPER, SvgCanvas

TRIPS, MODEL = "common-trips", "model"
"""The pages there are, by name."""


@dataclass(frozen=True)
class Head:
    """The heading of what follows."""

    text: str


@dataclass(frozen=True)
class Lines:
    """Paragraphs, each one sentence or more."""

    texts: tuple[str, ...]


@dataclass(frozen=True)
class Table:
    """Rows of words under their heads; ``marks`` names the standing of each row: holds, fails, reported or nothing."""

    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    marks: tuple[str, ...] = ()


@dataclass(frozen=True)
class Figure:
    """A drawing of a height for every width, painted on any canvas; ``title`` says what it shows."""

    title: str
    height: float
    paint: Callable[[Canvas, Box], None]


Block: TypeAlias = Head | Lines | Table | Figure


@dataclass(frozen=True)
class Page:
    """A whole page: its title, what it comes to, and its blocks."""

    title: str
    lead: str
    blocks: tuple[Block, ...]


WIDTH = 960.0


def page_html(page: Page) -> str:
    """The page as one file that needs nothing else, fit to print."""
    return (
        '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{escape(page.title)} - Skepway</title>\n<style>{STYLE}</style>\n</head>\n"
        f"<body>\n{page_body(page, lambda _, figure: figure_svg(figure))}\n</body>\n</html>\n"
    )


def page_body(page: Page, shown: Callable[[int, Figure], str]) -> str:
    """The page in HTML without head and style; ``shown`` puts down a figure, given its number."""
    parts = [f"<h1>{escape(page.title)}</h1>", f'<p class="lead">{escape(page.lead)}</p>']
    for number, block in enumerate(page.blocks):
        parts.append(
            f"<figure>{shown(number, block)}</figure>" if isinstance(block, Figure) else _html(block)
        )
    return "\n".join(parts)


STYLE = (
    'body{font:15px/1.5 Inter,"Segoe UI",Helvetica,Arial,sans-serif;color:#1d2530;margin:0 auto;max-width:1010px;'
    "padding:28px 24px 60px;background:#fff}h1{font-size:24px}h2{font-size:17px;margin:34px 0 8px}"
    ".lead{font-size:18px;border-left:5px solid #a85a00;padding-left:14px}figure{margin:22px 0 0}"
    "svg{max-width:100%;height:auto;display:block}table{border-collapse:collapse;width:100%;font-size:13.5px}"
    "th{text-align:left;color:#56606c;border-bottom:1.5px solid #1d2530;padding:4px 8px 4px 0}"
    "td{border-bottom:1px solid #e3e6ea;padding:5px 8px 5px 0;vertical-align:top}"
    "tr.fails td:last-child{color:#a5372b;font-weight:600}tr.reported td:last-child{color:#56606c}"
    "@media print{body{padding:0;font-size:12px}}"
)


def _html(block: Head | Lines | Table) -> str:
    match block:
        case Head():
            return f"<h2>{escape(block.text)}</h2>"
        case Lines():
            return "\n".join(f"<p>{escape(text)}</p>" for text in block.texts)
        case Table():
            return _table_html(block)


def _table_html(table: Table) -> str:
    marks = table.marks or ("",) * len(table.rows)
    heads = "".join(f"<th>{escape(head)}</th>" for head in table.heads)
    rows = "\n".join(
        f'<tr class="{mark}">{"".join(f"<td>{escape(cell)}</td>" for cell in cells)}</tr>'
        for mark, cells in zip(marks, table.rows, strict=True)
    )
    return f"<table>\n<thead><tr>{heads}</tr></thead>\n<tbody>\n{rows}\n</tbody>\n</table>"


def figure_svg(figure: Figure, width: float = WIDTH) -> str:
    """A figure as a picture on paper."""
    canvas = SvgCanvas()
    figure.paint(canvas, Box(0.0, 0.0, width, figure.height))
    return (
        f"<svg xmlns='http://www.w3.org/2000/svg' viewBox='0 0 {width:.0f} {figure.height:.0f}' "
        f"width='{width:.0f}' height='{figure.height:.0f}' role='img' {FONT}><title>{escape(figure.title)}</title>"
        f"<rect width='100%' height='100%' fill='{PAPER['panel']}'/>{''.join(canvas.parts)}</svg>"
    )
