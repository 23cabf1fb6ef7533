"""The printed list to check boxes by where there is no screen, a QR code beside every name."""

from __future__ import annotations

import html
from collections.abc import Sequence

from planner.app.inspect.codes import code_text
from planner.app.inspect.items import Item, boxes_of, items, items_of, planned_value
from planner.app.inspect.judge import Judge
from planner.model.catalogue import Catalogue
from planner.model.records import Group, Trip
from planner.words import say

NOT_ASKED = "–"


def list_html(trip: Trip, catalogue: Catalogue, judge: Judge | None = None) -> str:
    """The list as one page of HTML that needs nothing else: a row a box, a column an item, the code to scan later.

    An item that no box of the trip is asked about has no column; a box that is not asked about one has a dash there.
    """
    boxes = boxes_of(trip)
    groups = [judge.planned(box.name) if judge else trip.groups[box.group] for box in boxes]
    asked = [items_of(catalogue.box_types[group.box_type], group) for group in groups]
    columns = tuple(item for item in items() if any(item in each for each in asked))
    head = "".join(f"<th>{_text(say(f'checks.short_{item.name}'))}</th>" for item in columns)
    rows = []
    for box, group, each in zip(boxes, groups, asked, strict=True):
        cells = "".join(
            f"<td>{_text(_planned(item, group) if item in each else NOT_ASKED)}</td>" for item in columns
        )
        name = f"<th scope='row'>{_code(box.name)}<br>{_text(box.name)}<br><small>{_text(group.label)}</small></th>"
        rows.append(f"<tr>{name}{cells}<td class='wide'></td></tr>")
    title = _text(say("checks.list_title", title=trip.title))
    said = "".join(
        f"<p>{_text(line)}</p>"
        for line in (say("checks.list_lead"), say("checks.list_rule"), say("checks.list_typed"))
    )
    what = "".join(
        f"<li><b>{_text(say(f'checks.short_{item.name}'))}</b>: {_text(item.title)}</li>" for item in columns
    )
    return _PAGE.format(
        title=title,
        said=said,
        what=what,
        head=head,
        remark=_text(say("checks.list_remark")),
        rows="\n".join(rows),
    )


def _planned(item: Item, group: Group) -> str:
    """What the plan has, small, so that a difference is seen; nothing where there is nothing to differ from."""
    value = planned_value(item, group)
    return "" if value is None or not item.figure else f"{value:g}"


def _code(box: str, size_mm: int = 18) -> str:
    rows = _modules(code_text(box))
    quiet = 4
    side = len(rows) + 2 * quiet
    squares = "".join(
        f"M{quiet + x} {quiet + y}h1v1h-1z"
        for y, row in enumerate(rows)
        for x, dark in enumerate(row)
        if dark
    )
    return (
        f"<svg viewBox='0 0 {side} {side}' width='{size_mm}mm' height='{size_mm}mm' role='img' "
        f"aria-label='{html.escape(box)}'><rect width='{side}' height='{side}' fill='#fff'/><path d='{squares}'/></svg>"
    )


def _modules(text: str) -> Sequence[Sequence[int]]:
    import segno

    return [list(row) for row in segno.make_qr(text, error="m").matrix]


def _text(text: str) -> str:
    return html.escape(text)


_PAGE = """<!DOCTYPE html>
<html lang="en"><head><meta charset="utf-8"><title>{title}</title>
<meta name="viewport" content="width=device-width, initial-scale=1">
<style>
body {{ font: 11pt/1.35 sans-serif; color: #111; background: #fff; margin: 10mm; }}
table {{ border-collapse: collapse; width: 100%; }}
th, td {{ border: 1px solid #444; padding: 1mm; text-align: center; vertical-align: bottom; color: #555; }}
tbody td {{ height: 20mm; }}
thead th, tbody th {{ color: #111; }}
thead th {{ height: auto; font-size: 8pt; }}
thead {{ display: table-header-group; }}
tr {{ break-inside: avoid; }}
td {{ font-size: 8pt; min-width: 10mm; }}
.wide {{ min-width: 30mm; }}
ul {{ columns: 2; font-size: 9pt; padding-left: 5mm; }}
@page {{ size: A4 landscape; margin: 8mm; }}
</style></head><body>
<h1>{title}</h1>
{said}
<ul>{what}</ul>
<table><thead><tr><th></th>{head}<th>{remark}</th></tr></thead>
<tbody>
{rows}
</tbody></table>
</body></html>
"""
