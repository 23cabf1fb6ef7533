"""The answer written down: a document by ``resources/plan.schema.json``, a table as CSV, a page to print.

The keys of the first edition are all still there, filled from the same samples; those of the one answer stand beside
them. Unknown is null. ``draws`` is what files have called the samples from the start.
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Mapping
from typing import Any

import numpy as np

from planner.app.answer.board import board_svg
from planner.app.answer.records import FATES, Answer, Band, Candidate, Comparison, GroupFate, Span
from planner.app.answer.words import Words, table
from planner.app.common.cautions import SIGNS
from planner.app.common.timetext import utc_text
from planner.app.common.wording import duration_text
from planner.app.plan.pictures import curves_svg
from planner.app.plan.results import Curves, Plan
from planner.bundled import resource_path
from planner.model.catalogue import Catalogue
from planner.model.limits import HARM, LEVELS, UNKNOWN, VERDICTS
from planner.units import METRIC, UnitSystem

FORMAT = 2


def as_json(document: Mapping[str, Any]) -> str:
    """A document as text, a line for each key and each entry of a list; finer breaks take ten times as long."""

    def plain(value: Any) -> str:
        return json.dumps(value, ensure_ascii=False, allow_nan=False)

    def lines(value: Any) -> str:
        if isinstance(value, list) and value:
            return "[\n  " + ",\n  ".join(map(plain, value)) + "\n ]"
        return plain(value)

    return "{\n " + ",\n ".join(f"{plain(key)}: {lines(value)}" for key, value in document.items()) + "\n}\n"


def as_document(found: Answer) -> dict[str, Any]:
    """The whole answer as plain values."""
    trip, road, weather = found.trip, found.road, found.weather
    return {
        "skepway_plan": FORMAT,
        "trip": trip.title if trip else None,
        "invented": trip.invented if trip else None,
        "answer": found.sentence,
        "next_best": found.next_best,
        "reasons": list(found.reasons),
        "how_sure": list(found.how_sure),
        "cautions": list(found.cautions),
        "notes": list(found.notes),
        "weather": {
            "source": weather.source if weather else None,
            "kind": weather.kind if weather else None,
            "attribution": weather.attribution if weather else None,
        },
        "road": {
            "source": road.source if road else None,
            "km": _number(road.length_km) if road else None,
            "driving_s": _number(road.driving_s) if road else None,
            "estimated": road.estimated if road else None,
        },
        "decision": found.decision,
        "sentence": found.sentence,
        "window": found.window,
        "settle": list(found.settle),
        "missing": list(found.missing),
        "tolerance": {
            "harm_of_100": found.tolerance.harm_of_100,
            "boxes_of_100": found.tolerance.boxes_of_100,
            "from": found.tolerance.source,
        },
        "draws": {
            "count": found.samples.count,
            "seed": found.samples.seed,
            "finished": found.samples.finished,
        },
        "candidates": [candidate(one) for one in found.candidates],
        "best": candidate(found.best) if found.best else None,
        "next": candidate(found.next) if found.next else None,
        "groups": [group(one) for one in found.groups],
    }


def candidate(one: Candidate) -> dict[str, Any]:
    """One candidate: the keys of the one answer, then those of the first edition."""
    return {
        "leave": utc_text(one.leave_s),
        "leave_from": utc_text(one.leave_from_s),
        "leave_to": utc_text(one.leave_to_s),
        "arrive": utc_text(one.arrive_s),
        "place": one.place,
        "setup": one.setup,
        "by_group": [
            {
                "label": choice.label,
                "place": choice.place,
                "setup": choice.setup,
                "closing": {
                    "rule": choice.closing.rule,
                    "at": utc_text(choice.closing.at_s),
                    "fixed": choice.closing.fixed,
                },
            }
            for choice in one.by_group
        ],
        "harm_of_100": _span(one.harm_of_100),
        "samples": one.samples,
        "boxes_harmed_expected": _span(one.boxes_harmed_expected),
        "workers_dead_share": _band(one.workers_dead_share),
        "headroom_k": _band(one.headroom_k),
        "fits": one.fits,
        "misses": list(one.misses),
        "standing": one.standing,
        "harm_class": one.harm_class,
        **_first_edition(one),
    }


def comparison(found: Comparison) -> dict[str, Any]:
    """Two candidates in the same samples as plain values."""
    return {
        "skepway_compare": 1,
        "answer": found.sentence,
        "first": candidate(found.first),
        "second": candidate(found.second),
        "better_of_100": found.better_of_100,
        "alike_of_100": found.alike_of_100,
        "worse_of_100": found.worse_of_100,
        "draws": found.samples,
    }


def group(one: GroupFate) -> dict[str, Any]:
    """What happens to one group of the best candidate."""
    return {
        "label": one.label,
        "count": one.count,
        "place": one.place,
        "harm_of_100": {name: _span(one.harm_of_100[name]) for name in FATES},
        "peak_c": _band(one.peak_c),
        "low_c": _band(one.low_c),
        "workers_dead_share": _band(one.workers_dead_share),
    }


def _first_edition(one: Candidate) -> dict[str, Any]:
    """What was written before there was one answer, from the same samples: medians of the worst box."""
    typical: Mapping[str, float | None] = one.typical
    spare = [value for value in (typical.get("hotter_k"), typical.get("colder_k")) if value is not None]
    return {
        "departure": utc_text(one.leave_s),
        "arrival": utc_text(one.arrive_s),
        "closed": utc_text(one.shut_s),
        "opened": utc_text(one.open_s),
        "level": _level(typical.get("level")),
        "level_disturbed": _level(typical.get("level_p95")),
        **{name: _level(typical.get(f"level_{name}")) for name in VERDICTS},
        "peak_core_c": typical.get("peak_p50"),
        "peak_core_calm_c": typical.get("peak_p5"),
        "peak_core_disturbed_c": typical.get("peak_p95"),
        "peak_stores_c": typical.get("peak_stores_c"),
        "low_core_c": typical.get("low_core_c"),
        "headroom_hotter_k": typical.get("hotter_k"),
        "headroom_colder_k": typical.get("colder_k"),
        "headroom_exact": one.headroom_exact,
        "margin_k": one.headroom_k.p50 if one.headroom_k else (min(spare) if spare else None),
        "margin_disturbed_k": one.headroom_k.p5 if one.headroom_k else None,
        "dead_share": typical.get("dead_share"),
        "water_ml_per_box": typical.get("water_ml"),
        "water_short_ml_per_box": typical.get("water_short_ml"),
        "peak_co2_share": typical.get("peak_co2_share"),
        "closed_by_day": one.home_share < 1.0,
    }


def as_csv(found: Answer) -> str:
    """Every candidate as a row, best first; spans and bands as columns of their own, units in the names."""
    rows = [_flat(candidate(one)) for one in found.candidates]
    out = io.StringIO()
    names = list(dict.fromkeys(name for row in rows for name in row)) or ["leave"]
    writer = csv.DictWriter(out, fieldnames=names, lineterminator="\n")
    writer.writeheader()
    writer.writerows(
        {name: "" if (value := row.get(name)) is None else value for name in names} for row in rows
    )
    return out.getvalue()


def as_html(said: Answer, plan: Plan, drawn: Curves, catalogue: Catalogue, units: UnitSystem = METRIC) -> str:
    """A page for people, fit to print: answer, pictures, table, reasons, cautions and the driver's page.

    ``plan`` and ``drawn`` are those of the best candidate.
    """
    from jinja2 import Environment, StrictUndefined  # late: of all documents only the report needs it

    page = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True)
    template = page.from_string(resource_path("templates/report.html.j2").read_text(encoding="utf-8"))
    words = Words(said, catalogue, units)
    return template.render(
        trip=said.trip,
        road=said.road,
        weather=said.weather,
        said=said,
        word=words.word(said.best) if said.best else "",
        heads=words.heads(),
        rows=table(said, catalogue, units),
        board=board_svg(said, catalogue, units),
        curves=curves_svg(plan, drawn, units),
        signs=SIGNS,
        road_text=f"{units.distance_text(plan.road.length_km)}, {duration_text(plan.road.driving_s)} driving",
        boxes=sum(group.count for group in plan.trip.groups),
    )


def _flat(document: Mapping[str, Any]) -> dict[str, Any]:
    out: dict[str, Any] = {}
    for name, value in document.items():
        if name == "by_group":
            out["closings"] = " ".join(f"{each['label']}: {each['closing']['at']}" for each in value)
        elif isinstance(value, dict):
            out |= {f"{name}_{end}": figure for end, figure in value.items()}
        elif isinstance(value, list):
            out[name] = " ".join(value)
        else:
            out[name] = value
    return out


def _level(value: float | None) -> str:
    return LEVELS[UNKNOWN] if value is None else LEVELS[min(int(value), HARM)]


def _span(span: Span | None) -> dict[str, float] | None:
    return None if span is None else {"low": span.low, "value": span.value, "high": span.high}


def _band(band: Band | None) -> dict[str, float] | None:
    return None if band is None else {"p5": band.p5, "p50": band.p50, "p95": band.p95}


def _number(value: float) -> float | None:
    return round(value, 4) if np.isfinite(value) else None
