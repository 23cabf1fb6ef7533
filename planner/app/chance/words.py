"""How sure, in words: in how many of a hundred samples it goes well, what beats what, and what would settle it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np

from planner.app.chance.race import OTHER_WINDOW_S, Chances, Comparison, Share, at
from planner.app.chance.samples import SampleSpace
from planner.app.chance.sensitivity import LOST_K, SUBJECT_WORDS, VarianceShares, sensitivity_lines
from planner.app.common.cautions import ALWAYS
from planner.app.common.timetext import utc_text
from planner.app.common.wording import clock_text
from planner.app.plan.results import UNKNOWN, VERDICTS, Choice
from planner.app.plan.words import CAUTION_WORDS, HARM_WORDS, choice_text
from planner.model.compare import ENOUGH_HEADROOM_K
from planner.model.records import Floats
from planner.units import METRIC, UnitSystem

SURE, LIKELY, UNLIKELY = 0.95, 0.80, 0.20
"""Shares of samples without harm from which it is called safe, probably safe, and below which harmful."""

EVEN = 0.15
"""A comparison whose share lies this close to one half is not decided."""

EQUAL = 0.5
"""Two candidates that come out alike in at least this share of samples are called equally good."""

WORTH_SETTLING = 0.10
CANNOT_DECIDE = "cannot decide"
VERDICT_WORDS = ("safe", "probably safe", CANNOT_DECIDE, "harm likely", "unknown")

LOGGER = "drive one such box with a temperature logger in its brood nest, and fit it"
REMEDIES = {
    "agitation": LOGGER,
    "resting heat": LOGGER,
    "water": LOGGER,
    "box": LOGGER,
    "cold": LOGGER,
    "bees": "count the frames of bees once the boxes are shut, with the lid off for a moment",
    "air flow": "hold every floor mesh to the light, and measure the openings",
    "place": "lay a thermometer where the boxes will ride, on a like day",
    "forecast": "wait for the next forecast",
}


@dataclass(frozen=True)
class Sure:
    """What the user is told about chance. ``verdict`` is one of VERDICT_WORDS; ``settle`` says what would help."""

    choice: Choice
    verdict: str
    headline: str
    chances: tuple[str, ...]
    comparisons: tuple[str, ...]
    settle: tuple[str, ...]
    sensitivity: tuple[str, ...]
    method: tuple[str, ...]
    cautions: tuple[str, ...] = ALWAYS


def how_sure(
    known: Chances,
    found: VarianceShares | None = None,
    units: UnitSystem = METRIC,
    *,
    choice: Choice | None = None,
) -> Sure:
    """Put samples into words, about the best candidate or a given one."""
    picked = choice or known.ranking[0]
    verdict = verdict_of(known, picked)
    undecided = [rival for rival, comparison in _comparisons(known, picked) if is_even(comparison)]
    settle: list[str] = []
    if verdict == CANNOT_DECIDE:
        settle += settling(known, np.clip(known.headroom_k[at(picked)], LOST_K, 2.0 * ENOUGH_HEADROOM_K))
    for rival in undecided:
        settle += settling(known, known.scores(picked) - known.scores(rival))
    return Sure(
        choice=picked,
        verdict=verdict,
        headline=_headline(known, picked, verdict, units),
        chances=tuple(_chance_lines(known, picked, units)),
        comparisons=tuple(
            _comparison_text(known, picked, rival, comparison)
            for rival, comparison in _comparisons(known, picked)
        ),
        settle=tuple(dict.fromkeys(settle)),
        sensitivity=tuple(sensitivity_lines(found)) if found else (),
        method=tuple(_method(known)),
    )


def verdict_of(known: Chances, choice: Choice) -> str:
    """Safe, probably safe, cannot decide, harm likely or unknown, by the share of samples without harm."""
    share = known.no_harm(choice)
    if known.plan.worst_level(choice) == UNKNOWN or not share.samples:
        return "unknown"
    if share.reaches(SURE):
        return "safe"
    if share.reaches(LIKELY):
        return "probably safe"
    return CANNOT_DECIDE if share.reaches(UNLIKELY) else "harm likely"


def is_even(comparison: Comparison) -> bool:
    """Whether neither wins clearly although they differ: a comparison that cannot be decided."""
    return (
        comparison.samples > 0
        and comparison.ties < EQUAL * comparison.samples
        and abs(comparison.share - 0.5) < EVEN
    )


def _headline(known: Chances, choice: Choice, verdict: str, units: UnitSystem) -> str:
    share, what = known.no_harm(choice), choice_text(known.plan, choice)
    low, middle, high = (units.temp(float(t)) for t in known.peak_band_c(choice))
    peak = f"peak {middle:.1f} {units.temp_unit} ({low:.1f}-{high:.1f})"
    count = f"in {{}} of 100 simulated variants (± {100.0 * share.error:.0f}) of {what}, no box is harmed; {peak}."
    if verdict == "unknown":
        return "Cannot say: there is no weather for this trip."
    if not known.plan.fits(choice):
        what = f"{what} ({known.plan.room[choice.loading_place].text} boxes)"
    if verdict == CANNOT_DECIDE:
        return f"Cannot decide whether it is safe: {count.format(share.of_hundred)}"
    if verdict == "harm likely":
        return f"Harm is likely: {count.format(f'only {share.of_hundred}')}"
    return f"{verdict[:1].upper()}{verdict[1:]}: {count.format(share.of_hundred)}"


def _of_hundred(share: Share) -> str:
    return f"{share.of_hundred} of 100 variants (± {100.0 * share.error:.0f})"


def _chance_lines(known: Chances, choice: Choice, units: UnitSystem) -> Iterator[str]:
    for verdict in VERDICTS:
        share = known.harm(choice, verdict)
        if share.value > 0.0:
            yield f"In {_of_hundred(share)} {HARM_WORDS[verdict]}."
    warned = [name for name in VERDICTS if known.caution_only(choice, name) >= 0.5]
    if warned:
        yield "More often than not " + ", ".join(CAUTION_WORDS[name] for name in warned) + "."
    low, middle, high = (units.step_text(float(k)) for k in known.headroom_band_k(choice))
    yield f"Headroom of the box that has least: usually {middle}, {low} to {high} in 90 of 100 variants."


def _comparisons(known: Chances, choice: Choice) -> list[tuple[Choice, Comparison]]:
    """The best rival at another hour, at another place, and with the boxes as declared."""
    return [(rival, known.comparison(choice, rival)) for rival in rivals(known, choice)]


def rivals(known: Chances, choice: Choice) -> list[Choice]:
    """The best others of another kind: leaving hours apart, riding elsewhere, boxes as declared."""
    departures = known.plan.departures_s
    tests = (
        lambda c: abs(departures[c.departure] - departures[choice.departure]) >= OTHER_WINDOW_S,
        lambda c: c.loading_place != choice.loading_place,
        lambda c: c.setup == 0 != choice.setup,
    )
    found = (next(filter(test, known.ranking), None) for test in tests)
    return list(dict.fromkeys(c for c in found if c is not None))


def _comparison_text(known: Chances, choice: Choice, rival: Choice, comparison: Comparison) -> str:
    plan = known.plan
    differs = [
        choice.departure != rival.departure,
        choice.loading_place != rival.loading_place,
        choice.setup != rival.setup,
    ]
    zone = plan.trip.origin.zone

    def name(c: Choice) -> str:
        if differs == [True, False, False]:
            return clock_text(float(plan.departures_s[c.departure]), zone)
        if differs == [False, True, False]:
            return plan.loading_place_titles[c.loading_place]
        if differs == [False, False, True]:
            return f"“{plan.setup_titles[c.setup]}”"
        return choice_text(plan, c)

    first, second = name(choice), name(rival)
    count = comparison.samples or 1
    wins, ties, losses = (
        round(100.0 * n / count) for n in (comparison.wins, comparison.ties, comparison.losses)
    )
    if is_even(comparison):
        text = f"Cannot decide between {first} and {second}"
        return f"{text}: better in {wins}, worse in {losses} of 100 variants."
    if comparison.ties >= EQUAL * comparison.samples:
        return f"{first} and {second} come out alike in {ties} of 100 variants; better in {wins}, worse in {losses}."
    if comparison.share > 0.5:
        return f"{first} beats {second} in {wins} of 100 variants (alike in {ties}, worse in {losses})."
    return f"{second} beats {first} in {losses} of 100 variants (alike in {ties}, worse in {wins})."


class Sampled(Protocol):
    """What was judged in samples: their points, (sample, column), and the space they lie in."""

    @property
    def uniform(self) -> Floats: ...

    @property
    def space(self) -> SampleSpace: ...


def settling(known: Sampled, answers: Floats) -> list[str]:
    """What would settle an open question, from what moves its answer most in the samples already made.

    Parameters
    ----------
    answers : (sample,) any number whose spread is the question; NaN where not drawn
    """
    lines: dict[str, float] = {}
    for subject, share in influence(known, answers).items():
        if share >= WORTH_SETTLING and subject in REMEDIES:
            lines[REMEDIES[subject]] = lines.get(REMEDIES[subject], 0.0) + share
    ranked = sorted(lines.items(), key=lambda item: -item[1])[:3]
    out = [f"{text[:1].upper()}{text[1:]}." for text, _ in ranked]
    return out or ["Nothing that can be measured before the trip would settle it: choose by the headroom."]


def influence(known: Sampled, answers: Floats) -> dict[str, float]:
    """Share of the spread of ``answers`` that goes straight with each subject, largest first.

    Squared rank correlations with every unknown of the subject, less what chance gives, scaled to sum to one.
    """
    seen = np.flatnonzero(~np.isnan(answers))
    ranks = np.argsort(np.argsort(answers[seen], kind="stable"), kind="stable").astype(np.float64)
    count = ranks.size
    totals = dict.fromkeys(SUBJECT_WORDS, 0.0)
    if count < 3 or np.ptp(answers[seen]) == 0.0:
        return totals
    points = known.uniform[seen] - known.uniform[seen].mean(axis=0)
    ranks -= ranks.mean()
    scale = np.sqrt((points**2).sum(axis=0) * (ranks**2).sum())
    squared = (points.T @ ranks / np.maximum(scale, 1e-12)) ** 2
    # chance alone gives 1 / (count - 1) on average, and twice the logarithm of their number for the largest of many
    by_chance = (4.0 + 2.0 * np.log(squared.size)) / (count - 1)
    for subject, value in zip(known.space.subjects, squared, strict=True):
        totals[subject] += float(value) if value > by_chance else 0.0
    whole = sum(totals.values()) or 1.0
    return dict(sorted(((s, v / whole) for s, v in totals.items()), key=lambda item: -item[1]))


def _method(known: Chances) -> Iterator[str]:
    plan = known.plan
    tried = known.level[..., 0] >= 0
    few = int((tried.sum(axis=-1) < known.sharpness).sum())
    yield (
        f"{known.sharpness:,} variants of the trip were simulated; {len(known.space.columns)} unknowns differ in them: "
        "the numbers of the model within their ranges, the loading place, the forecast. Every option met the same "
        "variants."
    )
    if few:
        yield (f"{few:,} of {len(known.ranking):,} options were dropped early because they could not win.")
    if not np.isfinite(plan.weather.issued_s) and plan.weather.kind not in ("ensemble", "forecast"):
        yield f"The weather is {plan.weather.kind}, not a forecast: its error is an assumption."


def as_document(
    known: Chances, said: Sure, found: VarianceShares | None = None, rows: int = 24
) -> dict[str, Any]:
    """The answer for machines: the words, then the front candidates with their shares and bands."""
    document: dict[str, Any] = {
        "skepway_sure": 1,
        "trip": known.plan.trip.title,
        "verdict": said.verdict,
        "answer": said.headline,
        "chances": list(said.chances),
        "duels": list(said.comparisons),
        "settle": list(said.settle),
        "method": list(said.method),
        "cautions": list(said.cautions),
        "draws": known.sharpness,
        "candidates": [candidate(known, choice) for choice in known.ranking[:rows]],
    }
    if found:
        document["doubt"] = [
            {"subject": s, "first": a, "first_error": b, "total": c, "total_error": d, "share": e}
            for s, a, b, c, d, e in zip(
                found.subjects,
                *(
                    np.round(v, 4).tolist()
                    for v in (
                        found.indices.first,
                        found.indices.first_error,
                        found.indices.total,
                        found.indices.total_error,
                        found.share,
                    )
                ),
                strict=True,
            )
        ]
    return document


def candidate(known: Chances, choice: Choice) -> dict[str, Any]:
    """One candidate's chances as plain values."""
    plan, share = known.plan, known.no_harm(choice)
    return {
        "departure": utc_text(float(plan.departures_s[choice.departure])),
        "place": plan.loading_places[choice.loading_place],
        "setup": plan.setups[choice.setup],
        "draws": share.samples,
        "no_harm": _number(share.value),
        "no_harm_error": _number(share.error),
        **{f"harm_{verdict}": _number(known.harm(choice, verdict).value) for verdict in VERDICTS},
        "peak_core_c": [_number(float(v)) for v in known.peak_band_c(choice)],
        "headroom_k": [_number(float(v)) for v in known.headroom_band_k(choice)],
        "margin_k": [_number(float(v)) for v in known.headroom_band_k(choice)],
    }


def _number(value: float) -> float | None:
    return round(value, 4) if np.isfinite(value) else None
