"""The answer about a lane for machines."""

from __future__ import annotations

from typing import Any

from planner.app.answer.records import Span
from planner.app.lane.records import LaneAnswer, Way
from planner.app.lane.words import label, message, questions, sentence

VERSION = 1


def lane_document(answer: LaneAnswer, titles: dict[str, str]) -> dict[str, Any]:
    """Every key is always there; unknown is None."""
    best = answer.best
    return {
        "skepway_lane": VERSION,
        "title": answer.lane.title,
        "week": answer.lane.monday.isoformat(),
        "decision": answer.decision,
        "sentence": sentence(answer),
        "tolerance": {
            "harm_of_100": answer.tolerance.harm_of_100,
            "boxes_of_100": answer.tolerance.boxes_of_100,
            "from": answer.tolerance.source,
        },
        "samples": {"count": answer.samples, "seed": answer.seed},
        "best": None if best is None else _way(best),
        "ways": [_way(way) for way in answer.ways],
        "late_of_100": answer.late_of_100,
        "late_harm_of_100": None if answer.late_harm is None else _span(answer.late_harm),
        "late_bearable": answer.late_ok,
        "drives": [
            {
                "stage": blame.stage,
                "kind": answer.lane.stages[blame.stage].kind,
                "of_100": blame.of_100,
                "harmed": blame.harmed,
                "of": blame.of,
            }
            for blame in answer.blame
        ],
        "questions": list(questions(answer, titles)),
        "cold_share": round(answer.cold_share, 3),
        "carrier_takes_bees": answer.ticked,
        "asked_on": None
        if answer.lane.carrier.asked_on is None
        else answer.lane.carrier.asked_on.isoformat(),
        "hours_shut": dict(zip(("p5", "p50", "p95"), (round(h, 1) for h in answer.hours), strict=True)),
        "label": list(label(answer)),
        "message": list(message(answer)),
        "weather": answer.source,
    }


def _way(way: Way) -> dict[str, Any]:
    return {
        "post": way.posting.day.isoformat(),
        "due": way.posting.due.isoformat(),
        "crosses_free_days": way.posting.crosses,
        "setup": way.setup,
        "harm_of_100": None if way.harm_of_100 is None else _span(way.harm_of_100),
        "standing": way.standing,
        "samples": way.samples,
    }


def _span(span: Span) -> dict[str, float]:
    return {"low": span.low, "value": span.value, "high": span.high}
