"""A plan as documents: JSON for machines, CSV for tables, HTML for people and print."""

from __future__ import annotations

import csv
import io
from typing import Any

import numpy as np

from planner.app.common.cautions import SIGNS
from planner.app.common.timetext import utc_text
from planner.app.common.wording import clock_text, duration_text
from planner.app.plan.pictures import board_svg, curves_svg
from planner.app.plan.results import LEVELS, TYPICAL, VERDICTS, Choice, Curves, Headroom, Plan
from planner.app.plan.words import Answer
from planner.bundled import resource_path
from planner.units import METRIC, UnitSystem

ROWS = 12
FORMAT = 1


def candidate(plan: Plan, choice: Choice) -> dict[str, Any]:
    """One candidate as plain values, SI units, times in UTC; ``margin_k`` is what older readers call the headroom."""
    o = plan.outcomes
    at = choice.departure, choice.loading_place, choice.setup
    low, typical, high = plan.peak_c(choice)
    headroom = plan.headroom(choice)
    verdicts = o.verdict[(*at, TYPICAL)].max(axis=0)
    return {
        "departure": utc_text(float(plan.departures_s[choice.departure])),
        "arrival": utc_text(float(plan.arrives_s[choice.departure])),
        "closed": utc_text(float(plan.closed_s[choice.departure])),
        "opened": utc_text(float(plan.opened_s[choice.departure])),
        "place": plan.loading_places[choice.loading_place],
        "setup": plan.setups[choice.setup],
        "fits": plan.fits(choice),
        "level": LEVELS[plan.worst_level(choice)],
        "level_disturbed": LEVELS[plan.worst_level(choice, -1)],
        **{name: LEVELS[int(level)] for name, level in zip(VERDICTS, verdicts, strict=True)},
        "peak_core_c": _number(typical),
        "peak_core_calm_c": _number(low),
        "peak_core_disturbed_c": _number(high),
        "peak_stores_c": _number(_most(o.peak_stores_c[(*at, TYPICAL)])),
        "low_core_c": _number(float(np.min(o.low_core_c[(*at, TYPICAL)]))),
        "headroom_k": _number(headroom.k),
        "headroom_hotter_k": _number(headroom.hotter_k),
        "headroom_colder_k": _number(headroom.colder_k),
        "headroom_exact": headroom.exact,
        "margin_k": _number(headroom.k),
        "margin_disturbed_k": _number(plan.headroom_k(choice, -1)),
        "dead_share": _number(_most(o.dead_share[(*at, TYPICAL)])),
        "water_ml_per_box": _number(_most(o.water_ml[(*at, TYPICAL)])),
        "water_short_ml_per_box": _number(_most(o.water_short_ml[(*at, TYPICAL)])),
        "peak_co2_share": _number(_most(o.peak_co2_share[(*at, TYPICAL)])),
        "closed_by_day": bool(plan.closed_by_day[choice.departure]),
    }


def as_document(plan: Plan, said: Answer) -> dict[str, Any]:
    """The whole plan for machines: answer, then every candidate in ranked order."""
    return {
        "skepway_plan": FORMAT,
        "trip": plan.trip.title,
        "invented": plan.trip.invented,
        "answer": said.headline,
        "next_best": said.next_best,
        "reasons": list(said.reasons),
        "how_sure": list(said.how_sure),
        "cautions": list(said.cautions),
        "notes": list(said.notes),
        "weather": {
            "source": plan.weather.source,
            "kind": plan.weather.kind,
            "attribution": plan.weather.attribution,
        },
        "road": {
            "source": plan.road.source,
            "km": _number(plan.road.length_km),
            "driving_s": _number(plan.road.driving_s),
            "estimated": plan.road.estimated,
        },
        "candidates": [candidate(plan, choice) for choice in plan.ranking],
    }


def as_csv(plan: Plan) -> str:
    """Every candidate as a row, best first; units in the column names."""
    rows = [candidate(plan, choice) for choice in plan.ranking]
    out = io.StringIO()
    writer = csv.DictWriter(out, fieldnames=list(rows[0]), lineterminator="\n")
    writer.writeheader()
    writer.writerows({key: "" if value is None else value for key, value in row.items()} for row in rows)
    return out.getvalue()


def table(plan: Plan, units: UnitSystem = METRIC, rows: int = ROWS) -> list[dict[str, str]]:
    """The best candidates as text for people."""
    return [_row(plan, choice, units) for choice in plan.ranking[:rows]]


def _row(plan: Plan, choice: Choice, units: UnitSystem) -> dict[str, str]:
    low, typical, high = plan.peak_c(choice)
    o = plan.outcomes.verdict[choice.departure, choice.loading_place, choice.setup, TYPICAL].max(axis=0)
    troubles = [f"{name} {LEVELS[int(v)]}" for name, v in zip(VERDICTS, o, strict=True) if v]
    return {
        "leave": clock_text(float(plan.departures_s[choice.departure]), plan.trip.origin.zone),
        "arrive": clock_text(float(plan.arrives_s[choice.departure]), plan.trip.destination.zone),
        "place": plan.loading_place_titles[choice.loading_place],
        "setup": plan.setup_titles[choice.setup],
        "peak": _known(typical, f"{units.temp(typical):.1f} ({units.temp(low):.1f}-{units.temp(high):.1f})"),
        "headroom": _headroom_cell(plan.headroom(choice), units),
        "level": LEVELS[plan.worst_level(choice)],
        "verdicts": _room_first(plan, choice, _known(typical, ", ".join(troubles) or "all five clear")),
    }


def as_html(plan: Plan, said: Answer, curves: Curves, units: UnitSystem = METRIC) -> str:
    """A page for people, fit to print: answer, pictures, table, reasons, cautions and the driver's page."""
    from jinja2 import Environment, StrictUndefined  # late: of all documents only the report needs it

    page = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True)
    template = page.from_string(resource_path("templates/report.html.j2").read_text(encoding="utf-8"))
    return template.render(
        plan=plan,
        said=said,
        level=LEVELS[said.level],
        rows=table(plan, units),
        board=board_svg(plan, said.choice, units),
        curves=curves_svg(plan, curves, units),
        signs=SIGNS,
        road_text=f"{units.distance_text(plan.road.length_km)}, {duration_text(plan.road.driving_s)} driving",
        boxes=sum(group.count for group in plan.trip.groups),
        temp_unit=units.temp_unit,
    )


def _room_first(plan: Plan, choice: Choice, verdicts: str) -> str:
    return verdicts if plan.fits(choice) else f"{plan.room[choice.loading_place].text}; {verdicts}"


def _headroom_cell(headroom: Headroom, units: UnitSystem) -> str:
    if not headroom.known:
        return "unknown"
    return f"{'' if headroom.exact else 'about '}{units.step_cell(headroom.k)}"


def _known(value: float, text: str) -> str:
    return "unknown" if np.isnan(value) else text


def _most(values: Any) -> float:
    known = values[~np.isnan(values)]
    return float(known.max()) if known.size else float("nan")


def _number(value: float) -> float | None:
    return round(value, 4) if np.isfinite(value) else None
