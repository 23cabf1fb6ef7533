"""The model page: one drawing, every term with its figure and grade, the checks, and what judgement leaves of it."""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np

from planner.app.chance.samples import SUBJECTS, subject_of
from planner.app.explain.checks import Check
from planner.app.explain.drawing import Noted, Span, model_figure, spans_figure
from planner.app.explain.left_out import left_out
from planner.app.explain.page import Block, Head, Lines, Page, Table
from planner.app.explain.words import SENTENCES, say
from planner.app.trade.table import TradeYear
from planner.model.parameters import ParameterRow, ParameterTable
from planner.store.posterior import LEAK, LEVELS, Narrowed, Posterior

MADE = (
    "rest_heat_w_kg",
    "activity_waiting",
    "activity_driving",
    "activity_jolt",
    "agitation_gain",
    "quiet_share",
    "fanning_w_kg",
    "shiver_max_w_kg",
    "larvae_w_per_1000",
    "sealed_w_per_1000",
    "frame_bees_factor",
    "closed_at_night_gain",
)
LOST = (
    "mesh_porosity",
    "discharge_mesh",
    "single_sided",
    "foam_porosity",
    "bee_cover_share",
    "fan_flow_m3_s",
    "evaporation_max_w_kg",
    "crop_water_kg",
    "inside_film_m2k_w",
    "outside_film_still_w_m2k",
)
STANDS = ("brood_hold_c", "brood_danger_c", "new_comb_danger_c", "worker_danger_c")
"""Rows of the table that the drawing names, by where they stand in it."""

BAND = (0.05, 0.5, 0.95)


def model_page(
    table: ParameterTable, year: TradeYear, posterior: Posterior | None, checks: Sequence[Check]
) -> Page:
    """The page from the tables, the narrowed ranges and the checks kept."""
    noted = [
        [_noted(table.rows[name]) for name in names if name in table.rows] for names in (MADE, LOST, STANDS)
    ]
    terms = [table.rows[name] for name in (*MADE, *LOST, *STANDS) if name in table.rows]
    blocks: list[Block] = [
        model_figure(*noted),
        Lines((say("grades"),)),
        Head(say("terms")),
        _term_table(terms),
        Head(say("checks")),
        *_checks(checks),
        Head(say("left_out")),
        Lines((say("left_out_lead"),)),
        _left_out(),
        Head(say("narrowed")),
        *_narrowed(year, posterior),
        Head(say("numbers")),
    ]
    for subject in (*SUBJECTS, None):
        rows = [row for row in table.rows.values() if subject_of(row.name) == subject]
        if rows:
            blocks += [Head(say(f"subject_{subject or 'other'}")), _term_table(rows)]
    return Page(say("model_title"), say("model_lead"), tuple(blocks))


def name_of(row: str) -> str:
    """A row of the table as people read it: words of its own, or its name without the unit."""
    return SENTENCES.get(f"term_{row}") or row.replace("_", " ")


READABLE = {"m3/s": ("L/s", 1e3), "m3/s per bee": ("L/s per bee", 1e3), "kg per bee": ("mg per bee", 1e6)}
"""Units that nobody counts in, and those that people do."""

SMALL_KG = 1e-3
"""Below this, kilograms are shown as milligrams."""


def _noted(row: ParameterRow) -> Noted:
    """For the drawing: the figure without what it is counted by, which its words say."""
    unit, factor = _unit(row)
    short = re.split(r" (?:per|at) ", unit)[0]
    return Noted(name_of(row.name), f"{row.value * factor:g} {short}".strip(), row.grade)


def _unit(row: ParameterRow) -> tuple[str, float]:
    """The unit a row is shown in, and how many of it are one of the table's."""
    if row.unit == "kg" and row.value < SMALL_KG:
        return "mg", 1e6
    return READABLE.get(row.unit, ("" if row.unit == "1" else row.unit, 1.0))


def _figure(row: ParameterRow) -> str:
    unit, factor = _unit(row)
    value, low, high = (f"{number * factor:g}" for number in (row.value, row.low, row.high))
    key = "figure_fixed" if row.low == row.high else "figure"
    return say(key, value=value, low=low, high=high, unit=unit).strip()


def _term_table(rows: Sequence[ParameterRow]) -> Table:
    heads = tuple(say(f"head_{head}") for head in ("term", "figure", "grade", "source"))
    return Table(heads, tuple((name_of(row.name), _figure(row), row.grade, row.source) for row in rows))


def _checks(checks: Sequence[Check]) -> list[Block]:
    if not checks:
        return [Lines((say("checks_none"),))]
    met = sum(check.met for check in checks)
    rows = tuple(
        (check.says, say("check_met") if check.met else say("check_missed", reason=check.reason))
        for check in sorted(checks, key=lambda check: check.met)
    )
    marks = tuple("holds" if check.met else "fails" for check in sorted(checks, key=lambda check: check.met))
    lead = say("checks_lead", met=met, all=len(checks))
    return [Lines((lead,)), Table((say("head_check"), say("head_standing")), rows, marks)]


def _left_out() -> Table:
    heads = tuple(say(f"head_{head}") for head in ("left_out", "worth", "why"))
    rows = tuple(
        (row.what, say(f"worth_{row.makes}", least=row.least_k, most=row.most_k), row.why)
        for row in left_out()
    )
    return Table(heads, rows)


# -- what judgement leaves -----------------------------------------------------------------------


def _narrowed(year: TradeYear, posterior: Posterior | None) -> list[Block]:
    if posterior is None:
        return [Lines((say("narrowed_none"),))]
    told = posterior.report
    return [
        Lines((say("narrowed_what"), *_told(year, posterior))),
        spans_figure([_span(name, row) for name, row in posterior.rows.items()]),
        Lines((_heat(told["products"]["heat_driving"]), say("narrowed_used"))),
    ]


def _told(year: TradeYear, posterior: Posterior) -> tuple[str, ...]:
    told = posterior.report
    kind, kind_most = max(told["left_out"].items(), key=lambda item: item[1])
    rule, rule_most = max(told["rules"].items(), key=lambda item: item[1])
    return (
        say(
            "narrowed_size",
            dated=posterior.dated,
            seed=posterior.seed,
            share=told["effective_share"],
            top=told["top_hundredth"],
            exponent=told["exponent"],
        ),
        _judges("narrowed_in", told, "fitted"),
        _judges("narrowed_out", told, "held_out"),
        say("narrowed_kind", most=kind_most, kind=year.kinds[kind].title),
        say("narrowed_rule", most=rule_most, rule=say(f"rule_{rule}")),
    )


def _judges(key: str, told: dict[str, int] | object, which: str) -> str:
    assert isinstance(told, dict)
    return say(
        key, inside=told[f"{which}_inside"], covered=told[f"{which}_covered"], rows=told[f"{which}_rows"]
    )


def _heat(product: dict[str, list[float]]) -> str:
    before, after = product["prior"], product["posterior"]
    return say(
        "narrowed_heat",
        before_low=before[0],
        before_high=before[-1],
        after_low=after[0],
        after_high=after[-1],
    )


def _span(name: str, row: Narrowed) -> Span:
    """A number as places in its range, in the scale of its own quantiles."""
    _, low, high = row.made_from
    text = say("leak") if name == LEAK else name_of(name)

    def places(quantiles: np.ndarray) -> tuple[float, float, float]:
        at = (np.interp(BAND, LEVELS, quantiles) - low) / (high - low)
        return float(at[0]), float(at[1]), float(at[2])

    return Span(text, places(row.prior), places(row.posterior))
