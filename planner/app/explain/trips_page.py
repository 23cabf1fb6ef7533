"""What we say of thirty common trips, beside what keepers say: so that a beekeeper can judge the program."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from planner.app.explain.page import Block, Head, Lines, Page, Table
from planner.app.explain.words import say
from planner.app.trade.run import SEED, RowResult
from planner.app.trade.table import TradeYear
from planner.app.trade.words import chill_text, finding_text, headline, method, range_text
from planner.units import METRIC, UnitSystem

THIRTY = 30


def trips_page(year: TradeYear, results: Sequence[RowResult], units: UnitSystem = METRIC) -> Page:
    """The page from the table and the results kept of it; without results it says how to get them."""
    if not results:
        return Page(say("trips_title"), say("trips_none"), ())
    chosen = thirty(year, results)
    rest = [result for result in results if result not in chosen]
    blocks: list[Block] = [Lines(tuple(method(year, results, SEED, units)))]
    blocks += _by_kind(year, chosen, units)
    if rest:
        blocks += [Head(say("trips_rest")), *_by_kind(year, rest, units)]
    return Page(say("trips_title"), headline(results), tuple(blocks))


def thirty(year: TradeYear, results: Sequence[RowResult]) -> list[RowResult]:
    """Thirty of the trips, as many of each kind as can be, evenly from first to last of the kind."""
    by_kind = [[r for r in results if r.row.kind == kind] for kind in year.kinds.values()]
    taken = [0] * len(by_kind)
    while sum(taken) < min(THIRTY, len(results)):
        free = [at for at, mine in enumerate(by_kind) if taken[at] < len(mine)]
        taken[min(free, key=lambda at: taken[at])] += 1
    return [
        mine[int(at)]
        for mine, count in zip(by_kind, taken, strict=True)
        for at in np.unique(np.linspace(0, len(mine) - 1, count).round())
    ]


def _by_kind(year: TradeYear, results: Sequence[RowResult], units: UnitSystem) -> list[Block]:
    blocks: list[Block] = []
    for kind in year.kinds.values():
        mine = [result for result in results if result.row.kind == kind]
        if mine:
            blocks += [Head(kind.title[:1].upper() + kind.title[1:]), _table(mine, units)]
    return blocks


def _table(results: Sequence[RowResult], units: UnitSystem) -> Table:
    rows, marks = [], []
    for result in results:
        rows.append(_cells(result, units))
        marks.append(result.found)
        if result.row.chilled is not None:
            rows.append(_chill_cells(result, units))
            marks.append(result.found_chilled)
    heads = ("trip", "keepers_say", "we_say", "inside", "agreed")
    return Table(tuple(say(f"head_{head}") for head in heads), tuple(rows), tuple(marks))


def _cells(result: RowResult, units: UnitSystem) -> tuple[str, ...]:
    low, middle, high = (units.temp(value) for value in result.peak_c)
    return (
        result.row.title,
        say("cell_ruined", share=range_text(result.row.ruined)),
        say("cell_ruined", share=f"{result.ruined_share:.0%}"),
        say("cell_peak", middle=middle, low=low, high=high, unit=units.temp_unit),
        finding_text(result),
    )


def _chill_cells(result: RowResult, units: UnitSystem) -> tuple[str, ...]:
    assert result.row.chilled is not None
    return (
        say("cell_same"),
        say("cell_chilled", share=range_text(result.row.chilled)),
        say("cell_chilled", share=f"{result.chilled_share:.0%}"),
        say("cell_low", low=units.temp(result.low_c), unit=units.temp_unit),
        chill_text(result),
    )
