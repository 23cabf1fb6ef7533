"""The one place that decides: how a candidate stands to the tolerance, which is better, and what the answer is."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Literal, NamedTuple, cast

from planner.app.answer.records import (
    AS_DECLARED,
    CANNOT_TELL,
    DO_NOT_GO,
    GO,
    GO_IF,
    Candidate,
    ClassName,
    DecisionName,
    Span,
    StandingName,
    Tolerance,
)
from planner.app.answer.tally import cost_of
from planner.model.compare import DEAD_STEP, ENOUGH_HEADROOM_K, HEADROOM_STEP_K
from planner.store.rules import answer_rules

HARM_STEP_OF_100 = 2.0
"""Shares of harm closer than this count as equal where the samples cannot tell more; a rule of this program."""

BOX_STEP = 0.02
"""Expected shares of boxes harmed closer than this count as equal."""

COST_STEP_H = 0.5

LONG_SHUT_H = 4.0
"""Boxes shut so long before they are lifted are shut for a night: what that costs is said at once."""


def stands(candidate: Candidate, tolerance: Tolerance, boxes: int) -> StandingName:
    """Within, open or above: by both intervals of a candidate, as they are shown."""
    return standing_of(candidate.harm_of_100, candidate.boxes_harmed_expected, tolerance, boxes)


def standing_of(harm: Span | None, expected: Span | None, tolerance: Tolerance, boxes: int) -> StandingName:
    """Within, open or above: by the share of samples with harm and by the boxes expected to be harmed."""
    if harm is None or expected is None:
        return "unknown"
    allowed = tolerance.boxes_of_100 * boxes / 100.0
    if harm.high <= tolerance.harm_of_100 and expected.high <= allowed:
        return "within"
    if harm.low > tolerance.harm_of_100 or expected.low > allowed:
        return "above"
    return "open"


def classed(candidate: Candidate, tolerance: Tolerance, boxes: int) -> Candidate:
    """The candidate with its standing and the word for its share of harm."""
    harm = candidate.harm_of_100
    name = None if harm is None else answer_rules().class_of(harm.value)
    return replace(
        candidate,
        standing=stands(candidate, tolerance, boxes),
        harm_class=None if name is None else cast(ClassName, name),
        harm_agitated=(candidate.agitated_of_100 or 0.0) > tolerance.harm_of_100,
    )


def word_of(harm: Span) -> ClassName | Literal["open"]:
    """The word of certainty where the interval leaves one or two of the five; few samples earn none."""
    names = [name for name, _ in answer_rules().classes]
    low, word, high = (answer_rules().class_of(end) for end in (harm.low, harm.value, harm.high))
    return cast(ClassName, word) if names.index(high) - names.index(low) < 2 else "open"


def is_declared(candidate: Candidate) -> bool:
    """Whether nothing that the user has settled is done otherwise."""
    return candidate.setup == AS_DECLARED and candidate.changes == 0


def decision_of(candidates: Sequence[Candidate]) -> DecisionName:
    """What the candidates of the asked window come to, by their intervals: few samples decide nothing."""
    fitting = [one for one in candidates if one.fits and one.standing != "unknown"]
    within = [one for one in fitting if one.standing == "within"]
    if any(is_declared(one) for one in within):
        return cast(DecisionName, GO)
    if within:
        return cast(DecisionName, GO_IF)
    if not any(one.standing != "unknown" for one in candidates):
        return cast(DecisionName, CANNOT_TELL)
    if any(one.standing == "open" for one in fitting):
        return cast(DecisionName, CANNOT_TELL)
    return cast(DecisionName, DO_NOT_GO)


def order(candidate: Candidate, boxes: int) -> tuple[float, ...]:
    """Sorts candidates, best first.

    Known before unknown, fitting before crowded, within the tolerance before open before above. Of those within: the
    load as declared, fewer wishes missed, fewer changes, least harm, headroom up to what is enough, fewer hours shut
    and bees left behind, less work. Of the others, as the trade ranks harm: fewer boxes harmed, fewer workers dead,
    fewer boxes ruined, later harm; peaks of the dead are no measure. Of those with the same share of boxes harmed the
    ones come first that were judged in more samples. Harm counts by the upper end of its interval, as in deciding: luck
    in few samples leads nobody.
    """
    if candidate.harm_of_100 is None or candidate.boxes_harmed_expected is None:
        return (9.0, candidate.leave_s)
    standing = {"within": 0.0, "open": 1.0, "above": 2.0}[candidate.standing]
    first = (0.0, 0.0 if candidate.fits else 1.0, standing)
    share = candidate.boxes_harmed_expected.high / boxes
    easy = (round(cost_of(candidate) / COST_STEP_H), candidate.work)
    if candidate.standing == "within":
        return (
            *first,
            *trouble_of(candidate),
            math.floor(candidate.harm_of_100.high / HARM_STEP_OF_100),
            -spare_steps(candidate),
            *easy,
            candidate.harm_of_100.value,
            candidate.leave_s,
        )
    dead = candidate.workers_dead_share.p50 if candidate.workers_dead_share else 0.0
    later = candidate.first_harm_h if candidate.first_harm_h is not None else 1e3
    return (
        *first,
        round(share / BOX_STEP),
        -candidate.samples,
        round(dead / DEAD_STEP),
        round(candidate.ruined_share, 2),
        candidate.changes,
        len(candidate.misses),
        -spare_steps(candidate),
        -round(later),
        *easy,
        candidate.leave_s,
    )


def trouble_of(candidate: Candidate) -> tuple[float, ...]:
    """What a candidate asks of the user beyond the load as declared: wishes given up, things changed, work.

    That the bees that fly come along is a wish of everybody's.
    """
    asked = not is_declared(candidate)
    left = leaves_bees(candidate.home_share)
    work = candidate.work if candidate.changes else 0
    return (float(asked), len(candidate.misses) + left, candidate.changes, work)


def leaves_bees(home_share: float) -> bool:
    """Whether more bees that are out by day are left behind than anybody wishes; ``home_share`` 0 to 1."""
    return 100.0 * (1.0 - home_share) > answer_rules().left_of_100


def spare_steps(candidate: Candidate) -> float:
    """Headroom that counts, in steps the model can tell apart; enough where the air does not follow the outside."""
    band = candidate.headroom_k
    spare = min(band.p50 if band else ENOUGH_HEADROOM_K, ENOUGH_HEADROOM_K)
    return float(math.floor(spare / HEADROOM_STEP_K))


def helps(changed: Candidate, one: Candidate) -> bool:
    """Whether a change of a candidate does less harm beyond chance, told in the same samples."""
    before, after = one.harm_of_100, changed.harm_of_100
    if before is None or after is None or changed.samples < one.samples or not changed.fits:
        return False
    same = (changed.key.departure, changed.key.arrangement) == (one.key.departure, one.key.arrangement)
    return (
        same and changed.key.setups != one.key.setups and after.high < before.value > before.low > after.value
    )


def alike(first: Candidate, second: Candidate) -> bool:
    """Whether two departures are one answer: alike within the samples' own error and the model's step.

    Bees left behind, and boxes shut a night longer, are another answer however harmless they are.
    """
    return _alike(_traits(first), _traits(second))


class _Traits(NamedTuple):
    """What makes a departure another answer, read once: a long window compares each with many."""

    harm: Span
    rest: tuple[object, ...]
    shut_h: float
    steps: float


def _traits(one: Candidate) -> _Traits | None:
    """None where no figures are known."""
    if one.harm_of_100 is None:
        return None
    rest = one.standing, one.fits, one.misses, one.setup, one.place, leaves_bees(one.home_share)
    return _Traits(one.harm_of_100, rest, one.shut_h, spare_steps(one))


def _alike(first: _Traits | None, second: _Traits | None) -> bool:
    if first is None or second is None or first.rest != second.rest:
        return False
    if abs(first.shut_h - second.shut_h) >= LONG_SHUT_H or abs(first.steps - second.steps) > 1.0:
        return False
    a, b = first.harm, second.harm
    return a.low <= b.value <= a.high or b.low <= a.value <= b.high


def folded(candidates: Sequence[Candidate]) -> list[Candidate]:
    """The candidates, each with the span of departures around it that are alike, everything else the same."""
    rows: dict[tuple[object, ...], list[int]] = {}
    for index, one in enumerate(candidates):
        rows.setdefault((one.key.arrangement, one.key.setups), []).append(index)
    out = list(candidates)
    for row in rows.values():
        row.sort(key=lambda index: candidates[index].key.departure)
        traits = [_traits(candidates[index]) for index in row]
        joins = [_next_to(candidates[row[i]], candidates[row[i + 1]]) for i in range(len(row) - 1)]
        for at, index in enumerate(row):
            first, last = at, at
            while first and joins[first - 1] and _alike(traits[at], traits[first - 1]):
                first -= 1
            while last + 1 < len(row) and joins[last] and _alike(traits[at], traits[last + 1]):
                last += 1
            out[index] = replace(
                candidates[index],
                leave_from_s=candidates[row[first]].leave_s,
                leave_to_s=candidates[row[last]].leave_s,
            )
    return out


def _next_to(before: Candidate, after: Candidate) -> bool:
    return after.key.departure - before.key.departure == 1
