"""A planned day for machines."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from planner.app.answer.records import Span
from planner.app.day.records import Appointment, DayPlan, PutOff
from planner.app.day.words import head_words, put_off_words, short_words

VERSION = 1


def day_document(plan: DayPlan) -> dict[str, Any]:
    """Every key is always there; unknown is None. Instants are UTC."""
    return {
        "skepway_day": VERSION,
        "title": plan.day.title,
        "date": plan.day.date.isoformat(),
        "sentence": head_words(plan),
        "tolerance": {
            "harm_of_100": plan.tolerance.harm_of_100,
            "boxes_of_100": plan.tolerance.boxes_of_100,
            "from": plan.tolerance.source,
        },
        "samples": {"count": plan.samples, "seed": plan.seed, "finished": plan.finished},
        "exact": plan.exact,
        "days_ahead": plan.days_ahead,
        "appointments": [_appointment(plan, one) for one in plan.appointments],
        "put_off": [_put_off(plan, one) for one in plan.put_off],
        "short": [
            {"what": s.sort, "amount": round(s.amount, 2), "at": None if s.at_s is None else _stamp(s.at_s)}
            for s in plan.short
        ],
        "short_serves": plan.short_serves,
        "short_words": list(short_words(plan)),
    }


def _appointment(plan: DayPlan, one: Appointment) -> dict[str, Any]:
    return {
        "buyer": plan.day.buyers[one.buyer].name,
        "slot": _stamp(one.slot_s),
        "order": one.order,
        "boxes": list(one.boxes),
        "setup": one.setup,
        "closing": {"rule": one.closing, "at": _stamp(one.closed_s)},
        "leave": _stamp(one.leave_s),
        "arrive": _stamp(one.arrive_s),
        "open": _stamp(one.open_s),
        "bays": list(one.bays),
        "decision": one.decision,
        "harm_of_100": _span(one.harm_of_100),
        "boxes_harmed_expected": _span(one.boxes_harmed),
        "samples": one.samples,
        "moved_from": None if one.moved_from_s is None else _stamp(one.moved_from_s),
    }


def _put_off(plan: DayPlan, one: PutOff) -> dict[str, Any]:
    return {
        "buyer": plan.day.buyers[one.buyer].name,
        "decision": one.decision,
        "why": one.why,
        "least_harm_of_100": one.least_of_100,
        "samples": one.samples,
        "next_day": None if one.next_day_s is None else _stamp(one.next_day_s)[:10],
        "sentence": put_off_words(plan, one),
    }


def _span(span: Span) -> dict[str, float]:
    return {"low": span.low, "value": span.value, "high": span.high}


def _stamp(at_s: float) -> str:
    return datetime.fromtimestamp(at_s, UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
