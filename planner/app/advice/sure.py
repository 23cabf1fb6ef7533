"""How sure the answer is, from its own record: what is harmed how often, what beats what, what would settle it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from planner.app.answer.ask import Asked, spare_k
from planner.app.answer.compare import compared
from planner.app.answer.records import Answer, Candidate
from planner.app.answer.tally import fates_of, span_of
from planner.app.answer.words import Words, table
from planner.app.chance.sensitivity import VarianceShares, sensitivity_lines
from planner.app.chance.words import settling
from planner.app.common.cautions import ALWAYS
from planner.app.common.timetext import utc_text
from planner.model.limits import HARM, VERDICTS
from planner.units import METRIC, UnitSystem, ends
from planner.words import Voice

OTHER_WINDOW_S = 3 * 3600.0
ROWS, BEST_ROWS = 24, 6


@dataclass(frozen=True)
class Sure:
    """What the user is told about chance; ``verdict`` is the word of certainty."""

    verdict: str
    headline: str
    chances: tuple[str, ...]
    comparisons: tuple[str, ...]
    settle: tuple[str, ...]
    sensitivity: tuple[str, ...]
    best: tuple[str, ...]
    method: tuple[str, ...]
    cautions: tuple[str, ...] = ALWAYS


def how_sure(
    asked: Asked,
    said: Answer,
    one: Candidate,
    found: VarianceShares | None = None,
    units: UnitSystem = METRIC,
) -> Sure:
    """Put the chance of one candidate into words, from the samples of the answer."""
    words = Words(said, asked.catalogue, units)
    rivals = rivals_of(said, one)
    seen = [compared(asked, one.key, rival.key, units=units) for rival in rivals]
    open_ = one.standing == "open"
    return Sure(
        verdict=words.word(one),
        headline=said.sentence,
        chances=tuple(_chance_lines(asked, one, words, units)),
        comparisons=tuple(each.sentence for each in seen),
        settle=tuple(settling(asked.race.field, spare_k(asked.race.field, one.key)))
        if open_
        else said.settle,
        sensitivity=tuple(sensitivity_lines(found)) if found else (),
        best=tuple(
            f"{row['leave']}, {row['place']}, {row['setup']}: {row['harm']}"
            for row in table(said, asked.catalogue, units, BEST_ROWS)
        ),
        method=tuple(words.how_sure(one)),
    )


def _chance_lines(asked: Asked, one: Candidate, words: Words, units: UnitSystem) -> Iterator[str]:
    voice = Voice(units=units)
    yield f"{words.name(one)}: {words.harm(one)}."
    for verdict, span in harms_of(asked, one).items():
        if span["value"] > 0.0:
            low, high = ends(span["low"], span["high"])
            yield voice.say(f"sure.harm_{verdict}", of=words.figure(span["value"]), low=low, high=high)


def harms_of(asked: Asked, one: Candidate) -> dict[str, dict[str, float]]:
    """In how many of 100 samples each of the five harms happens to a box, with its interval."""
    level = fates_of(asked.race.field, one.key).level.max(axis=0)
    out = {}
    for row, name in enumerate(VERDICTS):
        span = span_of((level[:, row] == HARM).sum(), len(level))
        out[name] = {"low": span.low, "value": span.value, "high": span.high}
    return out


def rivals_of(said: Answer, one: Candidate) -> list[Candidate]:
    """The best others of another kind: leaving hours apart, riding elsewhere, boxes as declared."""
    known = [each for each in said.candidates if each.harm_of_100 is not None and each.key != one.key]
    tests = (
        lambda each: abs(each.leave_s - one.leave_s) >= OTHER_WINDOW_S,
        lambda each: each.place != one.place,
        lambda each: not any(each.key.setups) and any(one.key.setups),
    )
    found = [next(filter(test, known), None) for test in tests]
    return list({each.key: each for each in found if each is not None}.values())


def as_document(
    asked: Asked, answer: Answer, said: Sure, found: VarianceShares | None = None
) -> dict[str, Any]:
    """The answer for machines: the words, then the front candidates with their shares and bands."""
    document: dict[str, Any] = {
        "skepway_sure": 1,
        "trip": answer.trip.title if answer.trip else None,
        "decision": answer.decision,
        "verdict": said.verdict,
        "answer": said.headline,
        "chances": list(said.chances),
        "duels": list(said.comparisons),
        "settle": list(said.settle),
        "method": list(said.method),
        "cautions": list(said.cautions),
        "draws": answer.samples.count,
        "candidates": [
            candidate(asked, one) for one in answer.candidates[:ROWS] if one.harm_of_100 is not None
        ],
    }
    if found:
        columns = (
            np.round(values, 4).tolist()
            for values in (
                found.indices.first,
                found.indices.first_error,
                found.indices.total,
                found.indices.total_error,
                found.share,
            )
        )
        document["doubt"] = [
            {"subject": s, "first": a, "first_error": b, "total": c, "total_error": d, "share": e}
            for s, a, b, c, d, e in zip(found.subjects, *columns, strict=True)
        ]
    return document


def candidate(asked: Asked, one: Candidate) -> dict[str, Any]:
    """One candidate's chances as plain values; shares 0 to 1, as the first edition wrote them."""
    assert one.harm_of_100 is not None
    band = one.headroom_k
    spare = [band.p5, band.p50, band.p95] if band else [None] * 3
    peaks = [one.typical.get(name) for name in ("peak_p5", "peak_p50", "peak_p95")]
    return {
        "departure": utc_text(one.leave_s),
        "place": one.place,
        "setup": one.setup,
        "draws": one.samples,
        "no_harm": round(1.0 - one.harm_of_100.value / 100.0, 4),
        "harm_of_100": {
            "low": one.harm_of_100.low,
            "value": one.harm_of_100.value,
            "high": one.harm_of_100.high,
        },
        "no_harm_error": round((one.harm_of_100.high - one.harm_of_100.low) / 200.0, 4),
        **{f"harm_{name}": round(span["value"] / 100.0, 4) for name, span in harms_of(asked, one).items()},
        "peak_core_c": peaks,
        "headroom_k": spare,
        "margin_k": spare,
    }
