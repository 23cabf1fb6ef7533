"""What the program says of the trade's year, for people and for machines; every sentence stands in ``SENTENCES``."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from planner.app.common.wording import Said
from planner.app.trade.run import ORDINARY_MOST, PEAK_BAND, RUINING_LEAST, RowResult, senses
from planner.app.trade.table import Row, TradeYear
from planner.units import METRIC, UnitSystem

SENTENCES = {
    "headline": (
        "Of {rows} common trips the program agrees with keepers on {ordinary_hold} of {ordinary} that arrive and on "
        "{ruining_hold} of {ruining} that are ruined."
    ),
    "judgement": (
        "What keepers say is judgement about dead bees and fallen comb only, written down on {dated} before the "
        "program was tried on it; it leans towards optimism and says nothing of brood or queens."
    ),
    "ruined": "A box counts as ruined when more than a fifth of its workers are dead, or its comb is down.",
    "samples": "Each trip was simulated in {samples} variants from seed {seed}.",
    "bounds": (
        "A trip that keepers say arrives agrees when at most {ordinary_most:.0%} of its variants are ruined, one that "
        "they say is ruined when at least {ruining_least:.0%} are; the rest are only told."
    ),
    "row": "{title}: ruined in {share:.0%} of variants; keepers say {said}; {found}.",
    "chilled": "{title}: chilled in {share:.0%} of variants; keepers say {said}; {found}.",
    "said_range": "{low:.0%} to {high:.0%}",
    "said_one": "{low:.0%}",
    "holds_ordinary": "agreed, it arrives",
    "fails_ordinary": "not agreed, we say it is ruined too often",
    "holds_ruining": "agreed, it is ruined",
    "fails_ruining": "not agreed, we say it arrives too often",
    "reported": "told, not judged",
    "chill_holds_ordinary": "agreed, it keeps warm",
    "chill_fails_ordinary": "not agreed, we say it chills too often",
    "chill_holds_ruining": "agreed, it chills",
    "chill_fails_ruining": "not agreed, we say it keeps warm too often",
    "narrow_band": (
        "In {share:.0%} of the trips that keepers say arrive, the hottest temperature is known within {width}: nine of "
        "ten variants lie that close together."
    ),
}
"""Every sentence of this room by its key; gaps by name."""

NARROW_K = 4.0
"""Width of the 90 % band of peaks under which a trip counts as known."""


def say(key: str, **gaps: Any) -> str:
    """A sentence with its gaps filled."""
    return SENTENCES[key].format(**gaps)


def range_text(share: tuple[float, float]) -> str:
    """A credible range of shares, e.g. ``5% to 50%``."""
    low, high = share
    return say("said_one", low=low) if low == high else say("said_range", low=low, high=high)


def finding_text(result: RowResult) -> str:
    """Whether program and trade agree on the bees' lives, in words."""
    return _found(result.found, result.row, "")


def chill_text(result: RowResult) -> str:
    """The same of chill."""
    return _found(result.found_chilled, result.row, "chill_")


def _found(found: str, row: Row, prefix: str) -> str:
    if found == "reported":
        return say("reported")
    sense = row.chill_sense if prefix else row.sense
    return say(f"{prefix}{found}_{sense}")


def trade_words(year: TradeYear, results: Sequence[RowResult], seed: int, units: UnitSystem = METRIC) -> Said:
    """The whole table in words: every kind with its rows."""
    sections = [
        (kind.title.capitalize(), tuple(_lines([r for r in results if r.row.kind == kind])))
        for kind in year.kinds.values()
    ]
    return Said(
        headline(results), (*sections, ("How it was found", tuple(method(year, results, seed, units))))
    )


def headline(results: Sequence[RowResult]) -> str:
    """How far the program agrees with the trade, in one sentence."""
    counted = {sense: (hold, all_) for sense, hold, all_ in senses(results)}
    (ordinary_hold, ordinary), (ruining_hold, ruining) = counted["ordinary"], counted["ruining"]
    return say(
        "headline",
        rows=len(results),
        ordinary_hold=ordinary_hold,
        ordinary=ordinary,
        ruining_hold=ruining_hold,
        ruining=ruining,
    )


def method(year: TradeYear, results: Sequence[RowResult], seed: int, units: UnitSystem = METRIC) -> list[str]:
    """How it was found and what it is worth, in sentences."""
    return [
        say("judgement", dated=year.dated),
        say("ruined"),
        say("samples", samples=max((result.samples for result in results), default=0), seed=seed),
        say("bounds", ordinary_most=ORDINARY_MOST, ruining_least=RUINING_LEAST),
        say("narrow_band", share=narrow_share(results), width=units.step_text(NARROW_K, 0)),
    ]


def narrow_share(results: Sequence[RowResult]) -> float:
    """Of the ordinary rows, the share whose 90 % band of peak core temperature is under NARROW_K wide."""
    mine = [result for result in results if result.row.sense == "ordinary"]
    narrow = [result for result in mine if result.peak_c[-1] - result.peak_c[0] < NARROW_K]
    return len(narrow) / max(len(mine), 1)


def _lines(results: Sequence[RowResult]) -> list[str]:
    lines = []
    for result in results:
        row = result.row
        lines.append(
            say(
                "row",
                title=row.title,
                share=result.ruined_share,
                said=range_text(row.ruined),
                found=finding_text(result),
            )
        )
        if row.chilled is not None:
            lines.append(
                say(
                    "chilled",
                    title=row.title,
                    share=result.chilled_share,
                    said=range_text(row.chilled),
                    found=chill_text(result),
                )
            )
    return lines


def trade_document(year: TradeYear, results: Sequence[RowResult], seed: int) -> dict[str, Any]:
    """The same for machines: shares, temperatures in C."""
    return {
        "skepway_trade_year": 1,
        "dated": year.dated,
        "seed": seed,
        "peak_quantiles": list(PEAK_BAND),
        "narrow_band_share": round(narrow_share(results), 4),
        "rows": [_row(result) for result in results],
    }


def _row(result: RowResult) -> dict[str, Any]:
    row = result.row
    return {
        "name": row.name,
        "kind": row.kind.name,
        "title": row.title,
        "sense": row.sense,
        "said_ruined": list(row.ruined),
        "said_chilled": None if row.chilled is None else list(row.chilled),
        "samples": result.samples,
        "ruined": result.ruined,
        "chilled": result.chilled,
        "found": result.found,
        "found_chilled": result.found_chilled,
        "peak_core_c": [round(value, 2) for value in result.peak_c],
        "low_core_c": round(result.low_c, 2),
    }
