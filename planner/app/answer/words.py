"""The one that words the answer: its sentence, then window, why, how sure, cautions; by key, in the reader's units."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from datetime import datetime
from zoneinfo import ZoneInfo

import numpy as np

from planner.ages import age_s
from planner.app.answer.decide import LONG_SHUT_H, helps, is_declared, leaves_bees, word_of
from planner.app.answer.race import COUNTS
from planner.app.answer.records import (
    AS_DECLARED,
    CANNOT_TELL,
    DO_NOT_GO,
    GO,
    GO_IF,
    MIXED,
    Answer,
    Band,
    Candidate,
    Comparison,
    GroupFate,
    Span,
)
from planner.app.answer.tally import interval, span_of
from planner.app.chance.units import CLOSER_SHIFTS_K, SHIFTS_K
from planner.app.common.cautions import ALWAYS
from planner.app.common.wording import (
    finished,
    heat_doubt,
    lower_first,
    of_100_words,
    roughly,
    upper_first,
)
from planner.app.plan.breaks import rule_of, without_rest
from planner.app.plan.room import held_of
from planner.model.catalogue import Catalogue
from planner.model.compare import ENOUGH_HEADROOM_K
from planner.model.preparations import ALL, FED
from planner.model.records import LoadingPlace, Trip
from planner.model.timeline import schedule
from planner.model.ways import gate_opens_s, likely_ways
from planner.store.rules import answer_rules
from planner.units import METRIC, UnitSystem, ends, outward
from planner.words import Moment, Stretch, Voice, distance, duration, share, step, temp, volume
from planner.words.quantities import Form
from planner.zones import ahead_s

EVEN, LEAST_APART = 0.3, 10.0
"""A comparison whose wins and losses lie closer than this share of both, or are fewer of 100, is not decided."""

MANY_BOXES = 20
"""Of fewer boxes a number harmed is told in hundredths, for there a tenth hides what is accepted."""

WORTH_SAYING_SHARE = 0.005
LONG_STRETCH_S = 4 * 3600.0
WEEKDAYS_S = 6 * 24 * 3600.0
"""A window longer than this has a weekday twice: its departures are told by date."""

AGE_WORTH_SAYING_S = 3 * 3600.0


def worded(
    found: Answer, catalogue: Catalogue, units: UnitSystem = METRIC, *, now_s: float | None = None
) -> Answer:
    """The answer with all its words; ``now_s`` is the present, for the age of the forecast."""
    words = Words(found, catalogue, units, now_s)
    found = replace(found, settle=words._settling())
    words = Words(found, catalogue, units, now_s)
    best = found.best
    return replace(
        found,
        sentence=words.sentence(),
        window=words.window(best) if best else "",
        next_best=words.next_best(),
        reasons=tuple(words.reasons(best)) if best else (),
        how_sure=tuple(words.how_sure(best)),
        cautions=tuple(words.cautions(best)),
        notes=tuple(finished(upper_first(note)) for note in found.notes),
        settle=found.settle or tuple(words.settle()),
    )


class Words:
    """Sentences about one answer."""

    def __init__(
        self, found: Answer, catalogue: Catalogue, units: UnitSystem = METRIC, now_s: float | None = None
    ) -> None:
        assert found.trip is not None
        self._found, self._catalogue, self._now_s = found, catalogue, now_s
        self._trip: Trip = found.trip
        self._voice = Voice(units=units)
        self._zone = self._trip.origin.zone
        asked_s = self._trip.window.last_s - self._trip.window.first_s
        self._form: Form = "date_clock" if asked_s > WEEKDAYS_S else "day_clock"

    def _say(self, key: str, **gaps: object) -> str:
        return self._voice.say(f"answer.{key}", **gaps)

    # -- the first sentence ------------------------------------------------------------------------

    def sentence(self) -> str:
        """The answer in its first sentence."""
        found, best = self._found, self._found.best
        if best is None:
            both = len(found.missing) > 1
            return self._say("cannot_tell_both" if both else f"cannot_tell_{found.missing[0]}")
        if not found.samples.finished:
            return self._say("so_far", **self._about(best), but=self._but(best))
        if found.decision == GO:
            start = self._start(best, "start_any", "start_one")
            return self._say("go", start=start, **self._told(best), cost=self._cost(best))
        if found.decision == GO_IF:
            return self._say(
                "go_if",
                conditions=self._listed(
                    [
                        *self.conditions(best),
                        self._say("condition_leave", start=self._start(best, "start_any", "start_at")),
                    ]
                ),
                **self._told(best),
                cost=self._cost(best),
                declared=self._declared(),
            )
        if found.decision == DO_NOT_GO and not best.fits:
            held = held_of(self._trip, self._catalogue)
            when, harm = self._at(best.leave_s), self.harm(best, brief=True)
            return self._say("do_not_go_room", fit=f"{held.fit:.0f}", ride=held.ride, when=when, harm=harm)
        if found.decision == DO_NOT_GO:
            return self._say("do_not_go", **self._about(best), but=self._but(best), other=self._other())
        return self._say(
            "cannot_tell_open",
            **self._about(best) | {"harm": self.harm(best)},  # here the ends of the interval are what is open
            accepted=self._accepted(),
            but=self._but(best),
            settle=next(iter(found.settle), ""),  # what costs least; the rest stands below
        )

    def _about(self, one: Candidate, *, changed: bool = True) -> dict[str, object]:
        return {
            "when": self._at(one.leave_s),
            "place": self._place_said(one, changed=changed),
            "harm": self.harm(one, brief=True),
        }

    def _told(self, one: Candidate) -> dict[str, object]:
        about = self._about(one, changed=False)
        del about["when"]
        return about | {"but": self._but(one)}

    def _start(self, one: Candidate, several: str, single: str) -> str:
        """The departures that are alike, or the one."""
        if one.leave_from_s == one.leave_to_s:
            return self._say(single, when=self._at(one.leave_s))
        span = self._span(one)
        return self._say(several, first=span["first"], last=span["last"])

    def _span(self, one: Candidate) -> dict[str, object]:
        """The ends of the departures that are alike, and the best; the day is said once where it is the same."""
        days = [
            datetime.fromtimestamp(at_s, ZoneInfo(self._zone)).date()
            for at_s in (one.leave_from_s, one.leave_s, one.leave_to_s)
        ]
        form: Form = "clock" if len(set(days)) == 1 else self._form
        return {
            "first": self._at(one.leave_from_s),
            "last": Moment(one.leave_to_s, self._zone, form),
            "best": Moment(one.leave_s, self._zone, form),
        }

    def _at(self, time_s: float) -> Moment:
        return Moment(time_s, self._zone, self._form)

    def _listed(self, parts: Iterable[str]) -> str:
        """Parts as one reads them out: a, b and c."""
        first, *rest = parts
        for at, part in enumerate(rest, 1):
            if at == len(rest):
                return self._say("and_last", first=first, last=part)
            first = self._say("and_more", first=first, next=part)
        return first

    def harm(self, one: Candidate, *, brief: bool = False) -> str:
        """Share of harm with its interval and, where there are several groups, the one that is harmed most.

        Where the share alone would not forbid it, but the boxes may, the boxes are told too. ``brief``: to be read
        aloud, without intervals and the group's own share.
        """
        if one.harm_of_100 is None:
            return self._say("no_figures")
        said, boxes = self._harm(one, one.harm_of_100, brief=brief), one.boxes_harmed_expected
        accepted = self._found.tolerance
        most = accepted.boxes_of_100 * self._boxes / 100.0
        if one.harm_of_100.low > accepted.harm_of_100 or boxes is None or boxes.high <= most:
            return said
        shown = self._ends_of(boxes, 100.0 / self._boxes, 1)
        band = "" if brief else self._say("harm_band", low=shown["low"], high=shown["high"])
        return self._say("harm_boxes", harm=said, value=shown["value"], band=band)

    def _harm(self, one: Candidate, harm: Span, *, brief: bool) -> str:
        shown = self._span_of(harm)
        band = "" if brief else self._say("harm_band", low=shown["low"], high=shown["high"])
        gaps = {"of": shown["of"], "band": band}
        worst = self._worst(one.groups)
        cause = (
            "_cold" if self._chills(one) else "_own" if harm.value > 0.0 and self._in_cold_air(one) else ""
        )
        if worst is None or len(one.groups) < 2 or harm.value == 0.0:
            return self._say(f"harm{cause}" if cause else "harm_some", **gaps)
        own = worst.harm_of_100["any"]
        assert own is not None
        group = self._say("group_said", count=worst.count, label=worst.label)
        if self._span_of(own) == shown:  # the same figures twice tell nothing
            return self._say(f"harm{cause}_group_alone", **gaps, group=group)
        share_ = "" if brief else self._say("harm_own_share", **self._span_of(own))
        return self._say(f"harm{cause}_group", **gaps, group=group, own=share_)

    def _ends_of(self, span: Span, scale: float, digits: int) -> dict[str, str]:
        """A figure in another measure, the ends of its interval rounded outward as those of shares are."""
        low, high = outward(scale * span.low, scale * span.high, digits)
        figures = {"value": scale * span.value, "low": low, "high": high}
        return {name: self._voice.number(figure, digits) for name, figure in figures.items()}

    @property
    def _boxes(self) -> int:
        return sum(group.count for group in self._trip.groups)

    def _span_of(self, span: Span) -> dict[str, str]:
        low, high = ends(span.low, span.high)
        return {"of": self.figure(span.value), "low": str(low), "high": str(high)}

    def figure(self, of_100: float) -> str:
        """A share of 100 as a whole number; what rounds to none without being none says so."""
        return of_100_words(of_100, self._voice)

    @staticmethod
    def _worst(groups: Sequence[GroupFate]) -> GroupFate | None:
        known = [group for group in groups if group.harm_of_100["any"] is not None]
        return max(known, key=lambda group: group.harm_of_100["any"].value, default=None)  # type: ignore[union-attr]

    @staticmethod
    def _by_cold(group: GroupFate) -> bool:
        chill, every = group.harm_of_100["chill"], group.harm_of_100["any"]
        return bool(chill and every and every.value > 0.0 and chill.value > 0.5 * every.value)

    def _chills(self, one: Candidate) -> bool:
        """Whether what harms the load most is the cold: then water, and more air, are the wrong help."""
        worst = self._worst(one.groups)
        return worst is not None and self._by_cold(worst)

    def _in_cold_air(self, one: Candidate) -> bool:
        """Whether it is so cold all the way that nobody expects heat to do the harm."""
        weather = self._found.weather
        if weather is None:
            return False
        air_c = weather.air_c[(weather.time_s >= one.shut_s) & (weather.time_s <= one.open_s)]
        known = air_c[~np.isnan(air_c)]
        return known.size > 0 and float(known.max()) < answer_rules().no_flight_below_c

    def group(self, one: GroupFate) -> str:
        """A group of boxes by its label, with their number."""
        return self._say("group", count=one.count, label=one.label)

    def _named(self, rows: Sequence[int]) -> str:
        """Groups in a table or a line of their own."""
        groups = [self._trip.groups[row] for row in rows]
        return ", ".join(self._say("group", count=group.count, label=group.label) for group in groups)

    def _spoken(self, rows: Sequence[int]) -> str:
        """Groups inside a sentence, as one reads them out."""
        groups = [self._trip.groups[row] for row in rows]
        return self._listed(self._say("group_said", count=group.count, label=group.label) for group in groups)

    def _accepted(self) -> str:
        said = self._found.tolerance
        return self._say(
            "accepted", harm=self._amount(said.harm_of_100), boxes=self._amount(said.boxes_of_100)
        )

    def _amount(self, value: float) -> str:
        return self._voice.number(value, 0 if value == round(value) else 1)

    def place(self, one: Candidate) -> str:
        """Where it rides, in a table: of groups that are pinned to a place only the others are told."""
        if one.place != MIXED:
            return lower_first(self._title(one.place))
        by_place = self._chosen_places(one)
        if len(by_place) == 1:
            return lower_first(self._title(next(iter(by_place))))
        return "; ".join(
            self._say("place_of_groups", groups=self._named(rows), place=lower_first(self._title(name)))
            for name, rows in by_place.items()
        ) or self._say("mixed_places")

    def _place_said(self, one: Candidate, *, changed: bool = True) -> str:
        """Where it rides and, where ``changed`` is said here, what is done otherwise; "" where there is no choice."""
        moved = {row for rows in self._moved(one).values() for row in rows}
        by_place = {
            name: left
            for name, rows in self._chosen_places(one).items()
            if (left := [row for row in rows if row not in moved])
        }
        parts = []
        if len(self._found.places) > 1 or len(by_place) > 1:
            for name, rows in by_place.items():
                title = lower_first(self._title(name))
                many = one.place == MIXED
                parts.append(
                    self._say("place_of_groups", groups=self._spoken(rows), place=title) if many else title
                )
        if changed and (one.changes or one.setup != AS_DECLARED):
            parts.append(self.setup(one))
        return self._say("place_said", place="; ".join(parts)) if parts else ""

    def _chosen_places(self, one: Candidate) -> dict[str, list[int]]:
        """The groups that are pinned to no place, by where this candidate puts them."""
        found: dict[str, list[int]] = {}
        for row, (group, choice) in enumerate(zip(self._trip.groups, one.by_group, strict=True)):
            if group.loading_place is None:
                found.setdefault(choice.place, []).append(row)
        return found

    def _title(self, place: str) -> str:
        return self._catalogue.loading_places[place].title

    def setup(self, one: Candidate) -> str:
        """How the boxes are set up and which are moved, in a table."""
        if one.setup not in (AS_DECLARED, MIXED):
            parts = [self._setup_title(one.setup)]
        else:
            names = dict.fromkeys(group.setup for group in one.by_group if group.setup != AS_DECLARED)
            parts = [
                self._say(
                    "setup_for", setup=self._setup_title(name), groups=self._named(self._rows(one, name))
                )
                for name in names
            ]
        for name, rows in self._moved(one).items():
            place = lower_first(self._title(name))
            parts.append(self._say("setup_moved", groups=self._named(rows), place=place))
        for (at_s, zone), rows in self._shut_otherwise(one).items():
            parts.append(self._say("setup_shut", groups=self._named(rows), when=Moment(at_s, zone)))
        return "; ".join(parts) or self._say("as_declared")

    @staticmethod
    def _rows(one: Candidate, setup: str) -> list[int]:
        """Groups that have a set-up."""
        return [row for row, group in enumerate(one.by_group) if group.setup == setup]

    def _setups(self, one: Candidate) -> Iterator[str]:
        for name in dict.fromkeys(g.setup for g in one.by_group if g.setup != AS_DECLARED):
            yield self._say(f"condition_{name}_for", groups=self._spoken(self._rows(one, name)))

    def _moved(self, one: Candidate) -> dict[str, list[int]]:
        """Groups that ride where the trip does not have them, by the place they are moved to."""
        found: dict[str, list[int]] = {}
        for row, (group, choice) in enumerate(zip(self._trip.groups, one.by_group, strict=True)):
            allowed = [group.loading_place] if group.loading_place else list(self._trip.loading_places)
            if choice.place not in allowed:
                found.setdefault(choice.place, []).append(row)
        return found

    @staticmethod
    def _setup_title(name: str) -> str:
        return next(setup.title for setup in ALL if setup.name == name)

    def conditions(self, one: Candidate) -> Iterator[str]:
        """What has to be done otherwise than declared."""
        if one.setup not in (AS_DECLARED, MIXED):
            yield self._say(f"condition_{one.setup}")
        else:
            yield from self._setups(one)
        moves = [
            self._say("moved_to", groups=self._spoken(rows), place=lower_first(self._title(name)))
            for name, rows in self._moved(one).items()
        ]
        if moves:
            yield self._say("condition_moved", moves=self._listed(moves))
        for (at_s, zone), rows in self._shut_otherwise(one).items():
            yield self._say("condition_closing", groups=self._spoken(rows), when=Moment(at_s, zone))

    def _shut_otherwise(self, one: Candidate) -> dict[tuple[float, str], list[int]]:
        """Groups shut otherwise than the trip has fixed it, by instant and zone."""
        found: dict[tuple[float, str], list[int]] = {}
        for row, (group, choice) in enumerate(zip(self._trip.groups, one.by_group, strict=True)):
            declared = group.closing or self._trip.closing
            if choice.closing.fixed and choice.closing.rule != declared.rule:
                found.setdefault((choice.closing.at_s, self._zone_of(row)), []).append(row)
        return found

    def _declared(self) -> str:
        one = self._found.declared
        if one is None or one.harm_of_100 is None:
            return ""
        key = "declared_open" if one.standing == "open" else "declared"
        return self._say(key, of=self.figure(one.harm_of_100.value))

    def _declared_full(self, best: Candidate) -> str:
        one = self._found.declared
        if one is None or one.key == best.key:
            return ""
        if self._same_start(one, best):
            return self._say("declared_same_full", harm=self.harm(one))
        return self._say("declared_full", when=self._at(one.leave_s), harm=self.harm(one))

    @staticmethod
    def _same_start(one: Candidate, other: Candidate) -> bool:
        return one.leave_s == other.leave_s and one.key.arrangement == other.key.arrangement

    def _but(self, one: Candidate) -> str:
        """What a candidate misses, in the same breath."""
        parts = [self._say("but_room", room=one.room)] if one.room else []
        for miss in one.misses:
            if miss == "break":
                parts.append(self._say("but_break", breaks=self._breaks()))
            elif miss == "gate":
                opens_s = float(gate_opens_s(self._trip, np.array([one.arrive_s]))[0])
                parts.append(self._say("but_gate", opens=Moment(opens_s, self._trip.destination.zone)))
            else:
                parts.append(self._say(f"but_{miss}"))
        return self._say("but", what=self._listed(parts)) if parts else ""

    def _cost(self, one: Candidate) -> str:
        """What the closing of the load costs, where a box is shut for a night or by day."""
        lifted = self._lifted(one)
        early = [at - choice.closing.at_s for at, choice in zip(lifted, one.by_group, strict=True)]
        longest = int(np.argmax(early))
        said = ""
        if early[longest] >= LONG_SHUT_H * 3600.0:
            said = self._say(
                "cost_shut",
                hours=duration(one.open_s - one.by_group[longest].closing.at_s),
                group=self._spoken([longest]),
                when=Moment(one.by_group[longest].closing.at_s, self._zone_of(longest)),
                before=duration(early[longest]),
            )
        least = min(range(len(early)), key=lambda row: one.by_group[row].closing.home_share)
        home = one.by_group[least].closing.home_share
        if leaves_bees(home):
            when = Moment(one.by_group[least].closing.at_s, self._zone_of(least))
            said += self._say("cost_foragers", group=self._spoken([least]), when=when, share=share(home))
        return said

    def _lifted(self, one: Candidate) -> list[float]:
        """When each group is lifted; on the origin's loading where the road does not say better."""
        if self._found.road is None:
            return [one.leave_s - self._trip.loading_s] * len(one.by_group)
        arrive, _ = schedule(self._trip, self._found.road, np.array([one.leave_s]))
        return [float(arrive[0, group.load_waypoint]) for group in self._trip.groups]

    def _zone_of(self, row: int) -> str:
        return self._trip.waypoints[self._trip.groups[row].load_waypoint].zone

    def _other(self) -> str:
        one = self._found.next
        if one is None:
            return self._say("next_none") if self._found.looked_outside else ""
        return self._say(
            "next_found",
            when=Moment(one.leave_s, self._zone, "date_clock"),
            place=self._place_said(one),
            harm=self.harm(one, brief=True),
            but=self._but(one) + self._cost(one),
        )

    def row(self, one: Candidate, alike: int = 0) -> dict[str, str]:
        """A candidate as a row of a table."""
        harm, headroom, remarks, _ = self.told_beside_place(one)
        more = [self._say("remark_places", count=alike)] if alike else []
        return {
            "leave": self._leave_cell(one),
            "place": self.place(one),
            "setup": self.setup(one),
            "harm": harm,
            "headroom": headroom,
            "remarks": ", ".join([*remarks, *more]),
        }

    def told_beside_place(self, one: Candidate) -> tuple[str, str, tuple[str, ...], int]:
        """What a row tells of a candidate beside its departure, place and set-up; last, how much is done otherwise."""
        remarks = [one.room] if one.room else []
        remarks += [self._say(f"remark_{miss}") for miss in one.misses]
        if leaves_bees(one.home_share):
            remarks.append(self._say("remark_foragers"))
        if one.harm_agitated and one.standing == "within":
            remarks.append(self._say("remark_agitated"))
        return self._harm_cell(one), self._headroom_cell(one), tuple(remarks), one.changes

    def _leave_cell(self, one: Candidate) -> str:
        """The departures of a row, in one day by their clocks."""
        if self._form == "day_clock":
            return self._voice.text(Stretch(one.leave_from_s, one.leave_to_s, self._zone))
        ends = self._span(one)
        begin, end = self._voice.text(ends["first"]), self._voice.text(ends["last"])
        return begin if one.leave_from_s == one.leave_to_s else self._say("leave_cell", begin=begin, end=end)

    def heads(self) -> dict[str, str]:
        """The heads of the table's columns."""
        heads = {name: self._say(f"column_{name}") for name in COLUMNS}
        return heads | ({"headroom": self._say("column_headroom_us")} if self._voice.units.us else {})

    def _harm_cell(self, one: Candidate) -> str:
        if one.harm_of_100 is None:
            return self._say("no_figures")
        return self._say(
            "harm_cell", **self._span_of(one.harm_of_100), word=self._say(word_of(one.harm_of_100))
        )

    def _headroom_cell(self, one: Candidate) -> str:
        band = one.headroom_k
        if band is None:
            return self._say("no_figures")
        if not one.headroom_exact and band.p5 >= max(SHIFTS_K):
            return self._spare(one, band.p5)
        if self._one_figure(band):
            return self._spare(one, band.p50)
        spare = {"typical": band.p50, "low": band.p5, "high": band.p95}
        return self._say("headroom_cell", **{name: self._spare(one, k) for name, k in spare.items()})

    def _one_figure(self, band: Band) -> bool:
        """Whether both ends of a headroom are the same figure in whole degrees: no span is told then."""
        low, high = (self._voice.text(step(k, 0)) for k in (band.p5, band.p95))
        return low == high

    def _spare(self, one: Candidate, spare_k: float) -> str:
        """Headroom as a bare figure; beyond the shifts of the air that were tried it is that or more, or or less."""
        return self._bounded(one, spare_k, self._voice.number(self._voice.units.temp_step(spare_k)))

    def _bounded(self, one: Candidate, spare_k: float, figure: str) -> str:
        if spare_k >= max(CLOSER_SHIFTS_K if one.headroom_exact else SHIFTS_K):
            return self._say("at_least", value=figure)
        return self._say("at_most", value=figure) if spare_k <= min(CLOSER_SHIFTS_K) else figure

    def _steps(self, one: Candidate, spare_k: float) -> str:
        """Headroom in degrees, inside a sentence."""
        return self._bounded(one, spare_k, self._voice.text(step(spare_k, 0)))

    def compared(self, found: Comparison) -> str:
        """Two candidates in one sentence of verdict."""
        if found.first.key == found.second.key:
            return self._say("compare_same", first=self.name(found.first))
        wins, losses = found.better_of_100, found.worse_of_100
        apart = wins + losses
        even = apart < LEAST_APART or abs(wins - losses) < EVEN * apart
        if found.less_harm:
            key = "compare_less_harm" if found.less_harm > 0 else "compare_more_harm"
        else:
            key = "compare_even" if even else "compare_better" if wins > losses else "compare_worse"
        harms = [one.harm_of_100.value if one.harm_of_100 else 0.0 for one in (found.first, found.second)]
        return self._say(
            key,
            first=self.name(found.first),
            second=self.name(found.second),
            wins=self.figure(wins),
            ties=self.figure(found.alike_of_100),
            losses=self.figure(losses),
            harm_first=self.figure(harms[0]),
            harm_second=self.figure(harms[1]),
        )

    def about(self, one: Candidate) -> list[str]:
        """What there is to say of one candidate looked at closely."""
        return [f"{self.name(one)}: {self.harm(one)}.", *self._closings(one), *self._fates(one)]

    def name(self, one: Candidate) -> str:
        """A candidate by what it is, inside a sentence."""
        return self._say(
            "candidate_name", when=self._at(one.leave_s), place=self.place(one), setup=self.setup(one)
        )

    def settle(self) -> Iterator[str]:
        """What would let us tell where something is missing."""
        for name in self._found.missing:
            yield self._say(f"settle_{name}")

    def _settling(self) -> tuple[str, ...]:
        """What would settle an open answer, what costs least first: more variants, or a limit that binds alone."""
        found, one = self._found, self._found.best
        if found.decision != CANNOT_TELL or one is None or one.harm_of_100 is None:
            return found.settle
        surest = 100.0 * interval(0, COUNTS[-1])[1]
        if min(found.tolerance.harm_of_100, found.tolerance.boxes_of_100) < surest:
            high = self._voice.number(math.ceil(10.0 * surest) / 10.0, 1)
            return (self._say("settle_tolerance", most=self._voice.number(COUNTS[-1]), high=high),)
        first = []
        if one.samples < COUNTS[-1]:
            first.append(self._say("settle_variants", count=one.samples, most=self._voice.number(COUNTS[-1])))
        boxes = one.boxes_harmed_expected
        if (
            one.harm_of_100.high <= found.tolerance.harm_of_100
            and boxes is not None
            and one.standing == "open"
        ):
            high = self._ends_of(boxes, 100.0 / self._boxes, 1)["high"]
            first.append(
                self._say("settle_boxes", boxes=self._amount(found.tolerance.boxes_of_100), high=high)
            )
        return (*(text for text in first if text not in found.settle), *found.settle)

    # -- the rest ----------------------------------------------------------------------------------

    def window(self, one: Candidate) -> str:
        """The departures that are alike; where none is advised, only which of them does least harm."""
        if self._found.decision not in (GO, GO_IF):
            key = "window_none" if self._found.decision == DO_NOT_GO else "window_open"
            return self._say(key, when=self._at(one.leave_s))
        if one.leave_from_s == one.leave_to_s:
            return self._say("window_one", when=self._at(one.leave_s))
        return self._say("window_any", **self._span(one))

    def next_best(self) -> str:
        """The best candidate outside the best one's window, or elsewhere, that the first row has not told of.

        One whose own window runs into that of the best tells little that is new: one that stands apart is named as long
        as it is no worse placed to what is accepted.
        """
        best = self._found.best
        if best is None:
            return ""
        alike: set[int] = set()
        _places_alike(best, self, self._found, alike)
        rest = [
            one
            for one in self._found.candidates[1:]
            if one.harm_of_100 is not None and id(one) not in alike and not _tells_of(best, one)
        ]
        outside = [one for one in rest if not best.leave_from_s <= one.leave_s <= best.leave_to_s]
        apart = [
            one
            for one in outside
            if (one.leave_from_s > best.leave_to_s or one.leave_to_s < best.leave_from_s)
            and (one.standing, one.fits) == (outside[0].standing, outside[0].fits)
        ]
        one = next(iter(apart or outside or rest), None)
        if one is None:
            return ""
        return self._say(
            "next_best",
            when=self._at(one.leave_s),
            place=self._place_said(one),
            harm=self.harm(one),
            but=self._but(one) + self._cost(one),
        )

    def reasons(self, one: Candidate) -> Iterator[str]:
        """Why: headroom, closings, other places and set-ups, water, air."""
        band = one.headroom_k
        if band is None:
            yield self._say("headroom_none")
        elif band.p50 < 0.0:
            key = "headroom_chill" if self._chills(one) else "headroom_heat"
            least = self._voice.text(step(-band.p50, 0))
            beyond = band.p50 <= min(CLOSER_SHIFTS_K)
            yield self._say(key, step=self._say("at_least", value=least) if beyond else least)
        else:
            way = self._say(f"headroom_{one.headroom_side or 'either'}")
            spare = {"typical": band.p50, "low": band.p5, "high": band.p95}
            if band.p5 < 0.0:
                yield self._say("headroom_thin", typical=self._steps(one, band.p50), way=way)
            elif self._one_figure(band):
                yield self._say("headroom_sure", typical=self._steps(one, band.p50), way=way)
            else:
                told = {name: self._steps(one, k) for name, k in spare.items()}
                yield self._say("headroom", way=way, **told)
        if (
            one.harm_of_100
            and one.harm_of_100.value > 0.0
            and self._in_cold_air(one)
            and not self._chills(one)
        ):
            yield self._say("own_heat")
        yield from self._closings(one)
        yield self._say("arrival", when=self._there(one.arrive_s))
        yield from self._elsewhere(one)
        used, more = one.typical.get("water_ml"), one.typical.get("water_short_ml")
        if used is not None:
            if more and more > 10.0:
                yield self._say("water", used=volume(roughly(used)), more=volume(roughly(more)))
            else:
                yield self._say("water_none", used=volume(roughly(used)))
        co2 = one.typical.get("peak_co2_share")
        p = self._catalogue.parameters.typical()
        if co2 is not None and co2 > float(p.co2_alert_share):
            harms = co2 > float(p.co2_danger_share)
            yield self._say("stale_air_harms" if harms else "stale_air", share=share(co2, 1))
        if one.standing == "within":
            yield self._say("ranking", enough=step(ENOUGH_HEADROOM_K, 0))
        else:
            yield self._say("ranking_above")

    def _closings(self, one: Candidate) -> Iterator[str]:
        """When the boxes are shut, groups that are shut alike together."""
        alike: dict[tuple[object, ...], list[int]] = {}
        for row, choice in enumerate(one.by_group):
            closing = choice.closing
            kind = closing.at_s, closing.rule, closing.home_share, self._zone_of(row)
            alike.setdefault(kind, []).append(row)
        for rows in alike.values():
            closing = one.by_group[rows[0]].closing
            gaps = {
                "group": self._say("all_boxes") if len(alike) == 1 else self._named(rows),
                "when": Moment(closing.at_s, self._zone_of(rows[0])),
                "rule": self._say(f"closing_{self._rule(one, rows[0])}"),
                "open": self._there(one.open_s),
                "hours": duration(one.open_s - closing.at_s),
            }
            if closing.home_share < 1.0:
                yield self._say("closing_home", share=share(closing.home_share), **gaps)
            else:
                yield self._say("closing", **gaps)

    def _rule(self, one: Candidate, row: int) -> str:
        """The rule that shuts a group; where the sun does not set, or not in time, the boxes are shut when lifted."""
        closing = one.by_group[row].closing
        by_sun = closing.rule in ("after_sunset", "before_sunrise")
        return "at_loading" if by_sun and closing.at_s >= self._lifted(one)[row] else closing.rule

    def _there(self, at_s: float) -> str:
        """An instant by the clock of the destination; said so where the clock of the start shows another hour."""
        when = self._voice.text(Moment(at_s, self._trip.destination.zone))
        apart = ahead_s(at_s, self._zone, self._trip.destination.zone)
        return self._say("by_clocks_there", when=when) if apart else when

    def _elsewhere(self, one: Candidate) -> Iterator[str]:
        """The same start in the worst other place, and set-ups that help, told from the same variants."""
        same = [
            other
            for other in self._found.candidates
            if other.key.departure == one.key.departure and other.harm_of_100 is not None
        ]
        places = [o for o in same if o.key.setups == one.key.setups and o.place != one.place and o.fits]
        worst = max(places, key=lambda other: other.harm_of_100.value, default=None)  # type: ignore[union-attr]
        if worst is not None and self._surely_worse(worst, one):
            yield self._say("place_gain", place=self.place(worst), harm=self.harm(worst))
        for other in same:
            behind = leaves_bees(other.home_share) and not leaves_bees(one.home_share)
            if helps(other, one) and not behind and other.harm_of_100 and one.harm_of_100:
                yield self._say(
                    "setup_gain",
                    setup=upper_first(self.setup(other)),
                    before=self.figure(one.harm_of_100.value),
                    **self._span_of(other.harm_of_100),
                )

    @staticmethod
    def _surely_worse(other: Candidate, one: Candidate) -> bool:
        """Whether another candidate is harmed more often beyond chance."""
        a, b = other.harm_of_100, one.harm_of_100
        return a is not None and b is not None and a.low > b.value

    def how_sure(self, one: Candidate | None) -> Iterator[str]:
        """How sure: samples, the class, boxes, groups, whence tolerance and weather."""
        found, trip = self._found, self._trip
        if one is not None and one.harm_of_100 is not None and one.boxes_harmed_expected is not None:
            yield self._say("share_of", count=one.samples, samples=self._voice.number(one.samples))
            edges = {name: self._amount(last) for name, last in answer_rules().classes if name != "deadly"}
            word = self.word(one)
            yield self._say("class_said", word=word[:1].upper() + word[1:], **edges)
            yield self._say("figures", harm=self.harm(one), declared=self._declared_full(one))
            boxes, dead = one.boxes_harmed_expected, one.workers_dead_share
            digits = 1 if self._boxes >= MANY_BOXES else 2
            yield self._say("boxes_expected", total=self._boxes, **self._ends_of(boxes, 1.0, digits))
            if dead is not None and dead.p95 >= WORTH_SAYING_SHARE:
                yield self._say("workers_dead", typical=share(dead.p50), high=share(dead.p95))
            yield from self._fates(one)
            yield heat_doubt(self._catalogue.parameters)
        yield self._say(f"from_{found.tolerance.source}", accepted=self._accepted())
        yield from self._too_strict(one)
        yield from self._unjudged()
        if len(likely_ways(trip)) > 1:
            yield self._say("ways")
        yield from self._weather()
        if trip.invented:
            yield self._say("invented")

    def _too_strict(self, one: Candidate | None) -> Iterator[str]:
        """Where less is accepted than any number of variants without harm could show."""
        if one is None or not one.samples:
            return
        least = span_of(0, one.samples).high
        if min(self._found.tolerance.harm_of_100, self._found.tolerance.boxes_of_100) < least:
            gaps = {"samples": self._voice.number(one.samples), "least": self._voice.number(least, 1)}
            yield self._say("too_strict", **gaps)

    def _unjudged(self) -> Iterator[str]:
        """Departures of the window without weather."""
        known: dict[float, bool] = {}
        for one in self._found.candidates:
            known[one.leave_s] = known.get(one.leave_s, False) or one.harm_of_100 is not None
        blank = sorted(leave_s for leave_s, judged in known.items() if not judged)
        if blank and len(blank) < len(known):
            yield self._say(
                "unjudged",
                count=len(blank),
                all=len(known),
                first=self._at(blank[0]),
                last=self._at(blank[-1]),
            )

    def _fates(self, one: Candidate) -> Iterator[str]:
        for group in one.groups:
            span, peak, low = group.harm_of_100["any"], group.peak_c, group.low_c
            if span is not None and peak is not None and low is not None:
                yield self._say(
                    "group_fate",
                    group=self.group(group),
                    **self._span_of(span),
                    cool=temp(low.p50),
                    peak=temp(peak.p50),
                    cool_low=temp(low.p5),
                    peak_high=temp(peak.p95),
                )

    def word(self, one: Candidate) -> str:
        """The word of certainty."""
        return self._say(one.harm_class or "unknown")

    def _weather(self) -> Iterator[str]:
        weather = self._found.weather
        if weather is None:
            return
        gaps: dict[str, object] = {"source": weather.source, "kind": weather.kind}
        age = math.nan if self._now_s is None else age_s(weather.issued_s, self._now_s)
        if not math.isfinite(age):
            yield self._say("weather_plain", **gaps)
        elif age > AGE_WORTH_SAYING_S:
            yield self._say("weather_old", **gaps, age=duration(age))
        else:
            yield self._say("weather", **gaps)
        if not np.isfinite(weather.issued_s) and weather.kind not in ("ensemble", "forecast"):
            yield self._say("assumed", kind=weather.kind)

    def cautions(self, one: Candidate | None) -> Iterator[str]:
        """Those that bind first: breaks of the law, bees that may be agitated, the places, then what always holds."""
        yield from self._law()
        if one is not None:
            yield from self._floors()
            if any(group.setup == FED.name for group in one.by_group):
                yield self._say("syrup_can_caution")
            yield from self._driver(one)
            if one.harm_agitated and one.agitated_of_100 is not None:
                key = "agitated_chill" if self._chills(one) else "agitated"
                yield self._say(key, of=self.figure(one.agitated_of_100))
            places = dict.fromkeys(choice.place for choice in one.by_group)
            rows = [self._catalogue.loading_places[place] for place in places]
            yield from self._of_places(rows)
        yield from ALWAYS

    def _law(self) -> Iterator[str]:
        """What the law asks of the driver: breaks and rests in one line, and a day's driving that is still too long."""
        put_in = self._found.breaks
        if put_in:
            laws = dict.fromkeys(each.law for each in put_in)
            yield self._say("break_caution", breaks=self._breaks(), law=self._listed(laws))
        if any(each.is_rest for each in put_in):
            yield self._say("rest_put_in")
        unrested = self._found.road and without_rest(self._trip, self._found.road)
        if unrested:
            driven_s, rule = unrested
            yield self._say(
                "rest_caution",
                driven=duration(driven_s),
                most=duration(rule.daily_driving_s),
                rest=duration(rule.daily_rest_s),
                law=rule.daily_law,
            )

    def _breaks(self) -> str:
        """What was put in: how long, and where."""
        said = (
            self._say("break_put_in", length=duration(each.break_s), km=distance(each.km))
            for each in self._found.breaks
        )
        return self._listed(list(said))

    def _of_places(self, rows: Sequence[LoadingPlace]) -> Iterator[str]:
        """Cautions of the places; of one among several with its name."""
        told: dict[str, list[str]] = {}
        for row in rows:
            for text in row.cautions:
                told.setdefault(text, []).append(lower_first(row.title))
        for text, titles in told.items():
            if len(titles) == len(rows):
                yield finished(text)
            else:
                place = upper_first(self._listed(titles))
                yield self._say("place_caution", place=place, caution=finished(lower_first(text)))

    def _floors(self) -> Iterator[str]:
        """What comes of floors nobody has looked at: said where it is more than is accepted."""
        gummed = self._found.gummed
        share_ = gummed.harm_of_100 if gummed else None
        if gummed and share_ and share_.value > self._found.tolerance.harm_of_100:
            yield self._say("floors_shut", harm=self.harm(gummed))

    def _driver(self, one: Candidate) -> Iterator[str]:
        """What binds who drives: air that boxes use up where people sit, and driving for hours without a halt."""
        p = self._catalogue.parameters.typical()
        manned = [g.place for g in one.by_group if self._catalogue.loading_places[g.place].people > 0.0]
        co2 = one.typical.get("peak_around_co2_share") or 0.0
        limits = {"alert": float(p.driver_co2_alert_share), "caution": float(p.driver_co2_caution_share)}
        passed = next((name for name, limit in limits.items() if manned and co2 > limit), None)
        if passed:
            place, limit = lower_first(self._title(manned[0])), share(limits[passed], 1)
            yield self._say(f"driver_co2_{passed}", place=place, share=share(co2, 1), limit=limit)
        if self._found.road is not None:
            road = self._found.road
            calls_s = road.drive_s[list(road.waypoint_vertex)] * self._trip.drive_time_factor
            longest_s = float(np.diff(calls_s).max())
            if longest_s > LONG_STRETCH_S and rule_of(self._trip, road) is None:
                yield self._say("no_halt", hours=duration(longest_s))


# -- the table -----------------------------------------------------------------------------------------

COLUMNS = ("leave", "place", "setup", "harm", "headroom", "remarks")
"""Columns of the table of candidates, in their order."""


def table(
    found: Answer, catalogue: Catalogue, units: UnitSystem = METRIC, rows: int = 12
) -> list[dict[str, str]]:
    """The best candidates as text for people: departures that are alike are one row, and so are places that are.

    The best of those as declared is always among them: the sentence compares with it.
    """
    words = Words(found, catalogue, units)
    folded: set[int] = set()
    listed: list[tuple[Candidate, int]] = []
    for one in found.candidates:
        if len(listed) == rows:
            break
        if id(one) not in folded and not _told(one, found, folded):
            row = _apart(one, [other for other, _ in listed], found.departures_s)
            listed.append((row, _places_alike(one, words, found, folded)))
    first = next((one for one in found.candidates if is_declared(one)), None)
    if first is not None and len(listed) > 1 and not any(is_declared(one) for one, _ in listed):
        listed[-1] = first, _places_alike(first, words, found, folded)
    return [words.row(one, alike) for one, alike in listed]


def _told(one: Candidate, found: Answer, folded: set[int]) -> bool:
    """Whether a row before it has told of this departure already, as one alike."""
    for other in found.candidates:
        if other is one:
            break
        if _tells_of(other, one) and id(other) not in folded:
            return True
    return False


def _tells_of(row: Candidate, one: Candidate) -> bool:
    """Whether a row tells of a candidate as one alike: the same places and set-ups at a departure of its window."""
    same = (row.key.arrangement, row.key.setups) == (one.key.arrangement, one.key.setups)
    return same and row.leave_from_s <= one.leave_s <= row.leave_to_s


def _apart(one: Candidate, rows: Sequence[Candidate], departures_s: Sequence[float]) -> Candidate:
    """The candidate with those departures alike that no row before it of the same kind has told of."""
    kind = one.key.arrangement, one.key.setups
    told = [
        other
        for other in rows
        if (other.key.arrangement, other.key.setups) == kind
        and other.leave_from_s <= one.leave_to_s
        and one.leave_from_s <= other.leave_to_s
    ]
    if not told:
        return one

    def free(row: int) -> bool:
        if not 0 <= row < len(departures_s):
            return False
        at_s = departures_s[row]
        mine = one.leave_from_s <= at_s <= one.leave_to_s
        return mine and not any(other.leave_from_s <= at_s <= other.leave_to_s for other in told)

    first = last = one.key.departure
    while free(first - 1):
        first -= 1
    while free(last + 1):
        last += 1
    return replace(one, leave_from_s=departures_s[first], leave_to_s=departures_s[last])


def _places_alike(one: Candidate, words: Words, found: Answer, folded: set[int]) -> int:
    """Other places whose rows tell the same figures of the same departure and set-up; they are folded into this row."""
    if one.harm_of_100 is None:
        return 0
    kind = one.key.departure, one.key.setups
    told = words.told_beside_place(one)
    alike = [
        other
        for other in found.candidates
        if other is not one
        and (other.key.departure, other.key.setups) == kind
        and words.told_beside_place(other) == told
    ]
    folded |= {id(other) for other in alike}
    return len({other.place for other in alike} - {one.place})
