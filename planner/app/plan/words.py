"""The answer in plain words: one sentence first, then why, how sure, what to avoid and what to mind."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from planner.app.common.cautions import ALWAYS
from planner.app.common.limits_words import degrees_text
from planner.app.common.wording import clock_text, duration_text, heat_doubt, local, lower_first, runs
from planner.app.plan.results import (
    CAUTION,
    CLEAR,
    HARM,
    LEVELS,
    LIMITS,
    TYPICAL,
    UNKNOWN,
    VERDICTS,
    Choice,
    Plan,
)
from planner.model.catalogue import Catalogue
from planner.model.compare import ENOUGH_HEADROOM_K, HEADROOM_STEP_K
from planner.model.headroom import COMMON_SHIFTS_K
from planner.model.limits import MOST_HEADROOM_K
from planner.model.records import Floats, LoadingPlace
from planner.model.timeline import waypoint_drive_s
from planner.units import METRIC, UnitSystem

HARM_WORDS = {
    "brood": "brood is damaged",
    "queen": "the queen's stored sperm is damaged",
    "workers": "workers die",
    "comb": "comb collapses",
    "chill": "bees or brood are chilled",
}
CAUTION_WORDS = {
    "brood": "brood gets warm",
    "queen": "the queen gets warm",
    "workers": "workers get hot",
    "comb": "new comb softens",
    "chill": "the box gets cold",
}
BEYOND = {
    "brood_caution": ("core_37", "brood nest above {temp}"),
    "brood_danger": ("core_40", "above {temp}"),
    "worker_caution": ("core_42", "bees above {temp}"),
    "comb_danger": ("comb_danger", "stores comb beyond its danger limit"),
    "chill_caution": ("chill_caution", "colder than the caution limit"),
}
"""Limits of which time beyond is said: the column of ``over_s`` that counts it, and the words."""
HEADROOM_TEXTS = {
    "exact": "Headroom: it may get {hotter} hotter or {colder} colder outside before a box is harmed.",
    "read": (
        "Headroom, read from a few shifts of the air: it may get about {hotter} hotter or {colder} colder outside "
        "before a box is harmed."
    ),
    "cooler": "It would have to be {step} cooler outside for no box to be harmed.",
    "warmer": "It would have to be {step} warmer outside for no box to be harmed.",
    "hopeless": "However warm or cool it were outside, there would be harm: {harm}.",
    "held": "Air conditioning holds the air around the boxes, so there is no headroom to tell.",
    "step": "{step}",
    "more": "{step} or more",
}
AGE_WORTH_SAYING_S = 3 * 3600.0
LONG_STRETCH_S = 4 * 3600.0


@dataclass(frozen=True)
class Answer:
    """What the user is told. ``choice`` is the candidate the words are about; ``level`` its worst verdict."""

    choice: Choice
    level: int
    headline: str
    next_best: str
    avoid: str
    reasons: tuple[str, ...]
    how_sure: tuple[str, ...]
    cautions: tuple[str, ...]
    notes: tuple[str, ...]


def answer(
    plan: Plan,
    catalogue: Catalogue,
    units: UnitSystem = METRIC,
    *,
    now_s: float | None = None,
    choice: Choice | None = None,
) -> Answer:
    """Put a plan into words.

    Parameters
    ----------
    units : how quantities are written
    now_s : present instant, for the age of the forecast; None leaves the age out
    choice : the candidate to speak about; by default the best
    """
    picked = choice or plan.ranking[0]
    words = _Words(plan, catalogue, units)
    return Answer(
        choice=picked,
        level=plan.worst_level(picked),
        headline=words.headline(picked),
        next_best=words.next_best(picked),
        avoid=words.avoid(picked),
        reasons=tuple(words.reasons(picked)),
        how_sure=tuple(words.how_sure(picked, now_s)),
        cautions=(*words.own_cautions(picked), *ALWAYS),
        notes=plan.notes,
    )


def choice_text(plan: Plan, choice: Choice) -> str:
    """Departure, place and set-up of a candidate, e.g. ``Thursday 21:30, open trailer, roof screens on``."""
    when = clock_text(float(plan.departures_s[choice.departure]), plan.trip.origin.zone)
    return f"{when}, {lower_first(plan.loading_place_titles[choice.loading_place])}, {plan.setup_titles[choice.setup]}"


class _Words:
    """Sentences about one plan."""

    def __init__(self, plan: Plan, catalogue: Catalogue, units: UnitSystem) -> None:
        self._plan, self._catalogue, self._units = plan, catalogue, units

    # -- the first sentence ------------------------------------------------------------------------

    def headline(self, choice: Choice) -> str:
        plan, level = self._plan, self._plan.worst_level(choice)
        if level == UNKNOWN:
            return "Cannot say: there is no weather for part of this trip in any of the departures."
        spread = self._spread(choice)
        crowded = self._crowded(choice)
        if level == HARM:
            return (
                f"{crowded}No departure in this window is safe. The least harmful, {choice_text(plan, choice)}, "
                f"still peaks at {spread}{self._culprit(choice)}: {self._bad_news(choice, HARM, HARM_WORDS)}."
            )
        avoid = self.avoid(choice)
        warned = self._bad_news(choice, CAUTION, CAUTION_WORDS)
        caution = f" (caution: {warned})" if warned else ""
        tail = f"; avoid {avoid}" if avoid else ""
        where = self._culprit(choice)
        lead = f"{crowded}Were there room: " if crowded else "Leave "
        return f"{lead}{choice_text(plan, choice)}: the hottest box{where} peaks at {spread}{caution}{tail}."

    def _crowded(self, choice: Choice) -> str:
        """The sentence that comes first where the boxes find no room; else nothing."""
        plan = self._plan
        if plan.fits(choice):
            return ""
        title, room = plan.loading_place_titles[choice.loading_place], plan.room[choice.loading_place]
        everywhere = "" if plan.fits(plan.ranking[0]) else "No loading place of this trip holds the load. "
        return f"{everywhere}{title} {room.text} boxes. "

    def _culprit(self, choice: Choice) -> str:
        """The label of the hottest group, where there are several."""
        groups = self._plan.trip.groups
        if len(groups) < 2:
            return ""
        peaks = self._plan.outcomes.peak_core_c[choice.departure, choice.loading_place, choice.setup, TYPICAL]
        return f" ({groups[int(np.nanargmax(peaks))].label})"

    def _spread(self, choice: Choice) -> str:
        low, typical, high = self._plan.peak_c(choice)
        shown = [f"{self._units.temp(t):.1f}" for t in (typical, low, high)]
        return f"{shown[0]} {self._units.temp_unit} ({shown[1]}-{shown[2]})"

    def _bad_news(self, choice: Choice, level: int, words: dict[str, str]) -> str:
        verdicts = self._verdicts(choice, TYPICAL)
        return ", ".join(
            words[name] for name, found in zip(VERDICTS, verdicts, strict=True) if found == level
        )

    def _verdicts(self, choice: Choice, agitation: int) -> list[int]:
        table = self._plan.outcomes.verdict[choice.departure, choice.loading_place, choice.setup, agitation]
        return [int(level) for level in table.max(axis=0)]

    # -- what to avoid and what else would do --------------------------------------------------------

    def avoid(self, choice: Choice) -> str:
        """Departures that do harm at the chosen place and set-up, as spans of local time; empty if none."""
        worst = self._plan.outcomes.verdict[:, choice.loading_place, choice.setup, TYPICAL].max(axis=(-2, -1))
        harmful = worst == HARM
        if not harmful.any() or harmful.all():
            return ""
        spans = sorted(runs(harmful), key=lambda run: run[0] - run[1])[:2]
        return " and ".join(self._span(first, last) for first, last in sorted(spans))

    def _span(self, first: int, last: int) -> str:
        zone = self._plan.trip.origin.zone
        start, end = (local(float(self._plan.departures_s[i]), zone) for i in (first, last))
        several_days = (
            local(float(self._plan.departures_s[0]), zone).date()
            != local(float(self._plan.departures_s[-1]), zone).date()
        )
        if first == last:
            return f"{start:%A} {start:%H:%M}" if several_days else f"{start:%H:%M}"
        if not several_days:
            return f"{start:%H:%M}-{end:%H:%M}"
        if start.date() == end.date():
            return f"{start:%A} {start:%H:%M}-{end:%H:%M}"
        return f"{start:%A} {start:%H:%M} to {end:%A} {end:%H:%M}"

    def next_best(self, choice: Choice) -> str:
        """The best candidate with another departure, or with another place when there is but one departure."""
        others = [c for c in self._plan.ranking if c.departure != choice.departure]
        others = others or [c for c in self._plan.ranking if c.loading_place != choice.loading_place]
        others = others or [c for c in self._plan.ranking if c != choice]
        if not others or self._plan.worst_level(others[0]) == UNKNOWN:
            return ""
        other = others[0]
        level = LEVELS[self._plan.worst_level(other)]
        room = "" if self._plan.fits(other) else f", {self._plan.room[other.loading_place].text}"
        return f"{choice_text(self._plan, other)}, peak {self._spread(other)}, {level}{room}."

    # -- why -------------------------------------------------------------------------------------------

    def reasons(self, choice: Choice) -> Iterator[str]:
        plan, units = self._plan, self._units
        if plan.worst_level(choice) == UNKNOWN:
            yield "The weather source has no values for part of the road or of the hours shut."
            return
        yield self._headroom(choice)
        yield from self._setup_gain(choice)
        yield from self._place_gain(choice)
        yield self._closing(choice)
        yield self._water(choice)
        yield from self._time_beyond(choice)
        yield from self._stale_air(choice)
        yield (
            "Ranking: least harm first (agitated bees break ties), then headroom up to "
            f"{units.step_text(ENOUGH_HEADROOM_K, 0)} in steps of {units.step_text(HEADROOM_STEP_K)}, then "
            "convenience: arrival wishes, hours shut, work."
        )

    def _headroom(self, choice: Choice) -> str:
        headroom, units = self._plan.headroom(choice), self._units
        if not headroom.known:
            return HEADROOM_TEXTS["held"]
        if headroom.hopeless:
            return HEADROOM_TEXTS["hopeless"].format(harm=self._bad_news(choice, HARM, HARM_WORDS))
        if headroom.k < 0.0:
            key = "cooler" if headroom.hotter_k < 0.0 else "warmer"
            return HEADROOM_TEXTS[key].format(step=units.step_text(-headroom.k))
        return HEADROOM_TEXTS["exact" if headroom.exact else "read"].format(
            hotter=self._up_to(headroom.hotter_k, headroom.exact),
            colder=self._up_to(headroom.colder_k, headroom.exact),
        )

    def _up_to(self, step_k: float, exact: bool) -> str:
        """A step, and that there is more where nothing further was tried."""
        last_k = MOST_HEADROOM_K if exact else max(COMMON_SHIFTS_K)
        key = "more" if step_k >= last_k else "step"
        return HEADROOM_TEXTS[key].format(step=self._units.step_text(step_k))

    def _setup_gain(self, choice: Choice) -> Iterator[str]:
        if choice.setup == 0:
            return
        plain = Choice(choice.departure, choice.loading_place, 0)
        yield (
            f"With the boxes as declared the same departure would peak at {self._spread(plain)} "
            f"({LEVELS[self._plan.worst_level(plain)]})."
        )

    def _place_gain(self, choice: Choice) -> Iterator[str]:
        peaks = self._plan.outcomes.peak_core_c[choice.departure, :, choice.setup, TYPICAL].max(axis=-1)
        if peaks.size < 2 or np.isnan(peaks).all():
            return
        worst = int(np.nanargmax(peaks))
        if worst != choice.loading_place:
            other = Choice(choice.departure, worst, choice.setup)
            title = lower_first(self._plan.loading_place_titles[worst])
            yield f"The worst place then is {title}: {self._spread(other)}."

    def _closing(self, choice: Choice) -> str:
        plan, zone = self._plan, self._plan.trip.origin.zone
        shut, opened = float(plan.closed_s[choice.departure]), float(plan.opened_s[choice.departure])
        text = (
            f"First box shut {clock_text(shut, zone)}, arrival "
            f"{clock_text(float(plan.arrives_s[choice.departure]), plan.trip.destination.zone)}, all open "
            f"{duration_text(opened - shut)} after the first was shut."
        )
        if plan.closed_by_day[choice.departure]:
            text += " Boxes are shut while bees fly: the foragers are lost."
        return text

    def _water(self, choice: Choice) -> str:
        o = self._plan.outcomes
        at = choice.departure, choice.loading_place, choice.setup, TYPICAL
        used, short = float(np.nanmax(o.water_ml[at])), float(np.nanmax(o.water_short_ml[at]))
        text = f"use about {self._units.volume_text(used)} that they carry"
        if short > 10.0:
            more = self._units.volume_text(short)
            return f"Water: each box's bees {text}, and up to {more} more with air to carry it off."
        return f"No water needed: each box's bees {text}."

    def _stale_air(self, choice: Choice) -> Iterator[str]:
        at = choice.departure, choice.loading_place, choice.setup, TYPICAL
        share = float(np.nanmax(self._plan.outcomes.peak_co2_share[at]))
        p = self._catalogue.parameters.typical()
        alert, danger = float(p.co2_alert_share), float(p.co2_danger_share)
        if share > alert:
            verdict = "which harms bees" if share > danger else "which disturbs bees"
            yield f"Carbon dioxide in the worst box reaches {share:.1%} (alert {alert:.0%}), {verdict}: more air."

    def _time_beyond(self, choice: Choice) -> Iterator[str]:
        over_s = self._plan.outcomes.over_s[choice.departure, choice.loading_place, choice.setup, TYPICAL]
        for name, (column, text) in BEYOND.items():
            longest_s, at_c = max(self._beyond(over_s[:, LIMITS.index(column)], name), default=(0.0, 0.0))
            if longest_s > 0.0:
                said = _upper_first(text.format(temp=degrees_text(at_c, self._units)))
                yield f"{said} for {duration_text(longest_s)} in the worst box."

    def _beyond(self, over_s: Floats, name: str) -> Iterator[tuple[float, float]]:
        """Seconds beyond a limit and where it lies, of every group whose box has it; ``over_s`` (group,)."""
        for seconds, limits in zip(over_s, self._plan.limits, strict=True):
            yield from ((float(seconds), limit.at_c) for limit in limits if limit.name == name)

    # -- how sure --------------------------------------------------------------------------------------

    def how_sure(self, choice: Choice, now_s: float | None) -> Iterator[str]:
        plan, units = self._plan, self._units
        yield heat_doubt(self._catalogue.parameters)
        yield (
            "The range in brackets is lowest with calm bees in a cooler spot than assumed, highest with agitated bees "
            "in a warmer one."
        )
        place = self._place(choice)
        yield f"The air of the loading place is good to about {units.step_text(place.band_k, 0)} either way (estimate)."
        level = plan.worst_level(choice)
        other = plan.worst_level(choice, -1)
        if level < HARM <= other and other != UNKNOWN:
            yield (
                "With agitated bees this does harm: keep them calm, and have water and an open place ready."
            )
        elif other == CLEAR:
            yield "Even agitated bees stay within every limit."
        weather = plan.weather
        yield f"Weather: {weather.source} ({weather.kind}){self._age(now_s)}."
        if plan.trip.invented:
            yield "This is an invented example: people, places' names, load and weather are made up."

    def _age(self, now_s: float | None) -> str:
        issued = self._plan.weather.issued_s
        if now_s is None or not np.isfinite(issued):
            return ""
        age = now_s - issued
        return f", {duration_text(age)} old" if age > AGE_WORTH_SAYING_S else ", fresh"

    def _place(self, choice: Choice) -> LoadingPlace:
        return self._catalogue.loading_places[self._plan.loading_places[choice.loading_place]]

    def own_cautions(self, choice: Choice) -> Iterator[str]:
        """Cautions of the road, of the chosen place and of every place a group is pinned to."""
        yield from self._long_stretches()
        pinned = [
            self._catalogue.loading_places[g.loading_place] for g in self._plan.trip.groups if g.loading_place
        ]
        yield from dict.fromkeys(text for place in [self._place(choice), *pinned] for text in place.cautions)

    def _long_stretches(self) -> Iterator[str]:
        plan = self._plan
        longest = float(np.max(np.diff(waypoint_drive_s(plan.road)))) * plan.trip.drive_time_factor
        if longest > LONG_STRETCH_S:
            yield (
                f"There is no halt in {duration_text(longest)} of driving: enter the breaks that the law on driving "
                "hours asks for, and plan with them."
            )


def _upper_first(text: str) -> str:
    return text[:1].upper() + text[1:]
