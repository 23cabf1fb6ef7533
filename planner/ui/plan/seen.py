"""What the plan's views show of an answer, put into words and figures once: rows of the board, cells, the clock.

The window decides nothing: every figure here is one of the answer's own.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from itertools import groupby

from planner.ages import age_s
from planner.app.answer.decide import word_of
from planner.app.answer.records import AS_DECLARED, MIXED, Answer, Band, Candidate, Comparison, Span
from planner.app.common.wording import lower_first
from planner.store.rules import answer_rules
from planner.ui.look import clock
from planner.ui.look import strings as s
from planner.units import UnitSystem, ends, whole
from planner.words import say

CLASS_WORDS = {
    "safe": s.CLASS_SAFE,
    "doubtful": s.CLASS_DOUBTFUL,
    "risky": s.CLASS_RISKY,
    "bad": s.CLASS_BAD,
    "deadly": s.CLASS_DEADLY,
}
MISS_WORDS = {
    "arrival": s.MISS_ARRIVAL,
    "light": s.MISS_LIGHT,
    "gate": s.MISS_GATE,
    "break": s.MISS_BREAK,
}
UNKNOWN = "unknown"
FigureText = tuple[str, str, str]


@dataclass(frozen=True)
class ClockShare:
    """The window on the clock: the least harm of each departure, where it is alike to the best, and the best."""

    leaves_s: tuple[float, ...]
    harm_of_100: tuple[float | None, ...]
    classes: tuple[str, ...]
    go: tuple[bool, ...]
    best_s: float | None
    zone: str


@dataclass(frozen=True)
class Shown:
    """What the answer bar shows."""

    decision: str
    sentence: str
    second: str
    finished: bool
    harm: FigureText
    headroom: FigureText
    clock: ClockShare | None
    reasons: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True)
class Row:
    """A row of the board: its places and set-up, the candidate of each departure, how many places fare alike."""

    title: str
    cells: Mapping[int, Candidate]
    alike: tuple[str, ...] = ()
    as_declared: bool = True

    def at(self, departure: int) -> Candidate | None:
        return self.cells.get(departure)


@dataclass(frozen=True)
class Table:
    """The board as rows of candidates, best row first."""

    departures_s: tuple[float, ...]
    rows: tuple[Row, ...]
    zone: str
    best: Candidate | None = None
    words: Callable[[Candidate], str] = field(default=lambda _: "")

    def find(self, candidate: Candidate) -> tuple[int, int] | None:
        """Departure and row of a candidate."""
        for number, row in enumerate(self.rows):
            held = row.at(candidate.key.departure)
            if held is not None and (held is candidate or held.key == candidate.key):
                return candidate.key.departure, number
        same = [n for n, row in enumerate(self.rows) if _alike_title(row, candidate)]
        return (candidate.key.departure, same[0]) if same else None


def _alike_title(row: Row, candidate: Candidate) -> bool:
    return any(held.place == candidate.place and held.setup == candidate.setup for held in row.cells.values())


# -- the bar -----------------------------------------------------------------------------------------


def shown_of(answer: Answer, units: UnitSystem, *, weather: str = "") -> Shown:
    """The answer bar's contents."""
    best = answer.best
    return Shown(
        decision=answer.decision,
        sentence=answer.sentence,
        second=weather,
        finished=answer.samples.finished,
        harm=_harm_figure(answer, best),
        headroom=_headroom_figure(best, units),
        clock=clock_of(answer),
        reasons=answer.reasons,
        cautions=answer.cautions,
    )


def weather_words(answer: Answer, now_s: float) -> str:
    """Whose weather it is, and how old where it is a forecast; assumed figures are called assumed."""
    weather = answer.weather
    if weather is None:
        return ""
    if weather.kind != "forecast" or not weather.issued_s > 0:
        return s.say(s.FIG_WEATHER, source=weather.source)
    age = age_s(weather.issued_s, now_s)
    if not math.isfinite(age):
        return s.say(s.FIG_WEATHER, source=weather.source)
    source = s.say(s.ANSWER_WEATHER_AGE, source=weather.source, age=clock.span(age))
    return s.say(s.FIG_WEATHER, source=source)


def _harm_figure(answer: Answer, best: Candidate | None) -> FigureText:
    if best is None or best.harm_of_100 is None:
        return s.say(s.FIG_UNKNOWN), "", ""
    count = sum(group.count for group in answer.groups)
    boxes = best.boxes_harmed_expected
    more = "" if boxes is None else s.say(s.FIG_BOXES, value=f"{boxes.value:.1f}", count=count)
    if not answer.samples.finished:
        more = s.say(s.FIG_SAMPLES, count=best.samples)
    return figure_text(best.harm_of_100.value), span_text(best.harm_of_100), more


def _headroom_figure(best: Candidate | None, units: UnitSystem) -> FigureText:
    band = best.headroom_k if best else None
    if band is None:
        return s.say(s.FIG_UNKNOWN), "", ""
    low, middle, high = (units.temp_step(value) for value in (band.p5, band.p50, band.p95))
    span = s.say(s.FIG_SPAN, low=f"{low:+.1f}", high=f"{high:+.1f}")
    return f"{middle:+.1f} {units.temp_unit}", span, ""


def figure_text(of_100: float) -> str:
    """A share of 100 as a whole number; what is rarer than half of one is told as under one."""
    return "<1" if 0.0 < of_100 < 0.5 else str(whole(of_100))


def span_text(span: Span) -> str:
    low, high = ends(span.low, span.high)
    return s.say(s.FIG_SPAN, low=low, high=high)


def clock_of(answer: Answer) -> ClockShare | None:
    """The least harm at each departure, and which departures the answer calls alike to its best."""
    if not answer.departures_s:
        return None
    least: list[float | None] = []
    for number in range(len(answer.departures_s)):
        found = [
            c.harm_of_100.value for c in answer.candidates if c.key.departure == number and c.harm_of_100
        ]
        least.append(min(found, default=None))
    best = answer.best
    going = answer.decision in ("go", "go_if") and best is not None
    go = tuple(
        bool(going and best and best.leave_from_s - 1.0 <= at <= best.leave_to_s + 1.0)
        for at in answer.departures_s
    )
    zone = answer.trip.origin.zone if answer.trip else "UTC"
    classes = tuple(class_of(value) for value in least)
    return ClockShare(answer.departures_s, tuple(least), classes, go, best.leave_s if best else None, zone)


def class_of(of_100: float | None) -> str:
    """The class a share falls into, by the one table of limits."""
    if of_100 is None:
        return UNKNOWN
    return answer_rules().class_of(of_100)


# -- the board ---------------------------------------------------------------------------------------


def table_of(answer: Answer) -> Table:
    """The board: a row for each place and set-up, rows alike folded, the best first.

    Of several that read alike, as groups may ride apart in many ways, a cell shows the answer's best, else the one
    judged in most samples: the least harm of all would be that of the luckiest in few.
    """
    best = answer.best.key if answer.best else None

    def first(one: Candidate) -> tuple[bool, int, tuple[float, float]]:
        return one.key != best, -one.samples, _weight(one)

    words = candidate_words(answer)
    keyed: dict[tuple[str, str], dict[int, Candidate]] = {}
    for candidate in answer.candidates:
        cells = keyed.setdefault((candidate.place, candidate.setup), {})
        held = cells.get(candidate.key.departure)
        if held is None or first(candidate) < first(held):
            cells[candidate.key.departure] = candidate
    rows = [
        Row(row_title(answer, place, setup), cells, as_declared=setup == AS_DECLARED)
        for (place, setup), cells in keyed.items()
    ]
    rows.sort(key=_row_weight)
    zone = answer.trip.origin.zone if answer.trip else "UTC"
    return Table(answer.departures_s, tuple(_folded(rows)), zone, answer.best, words)


def _weight(candidate: Candidate) -> tuple[float, float]:
    harm = candidate.harm_of_100.value if candidate.harm_of_100 else 101.0
    headroom = candidate.headroom_k.p50 if candidate.headroom_k else -99.0
    return harm, -headroom


def _row_weight(row: Row) -> tuple[bool, float, float]:
    """By the best departure of a row, then by all; where there is no room for the boxes, below all others."""
    weights = [_weight(cell) for cell in row.cells.values()]
    no_room = not any(cell.fits for cell in row.cells.values())
    return no_room, min(weights)[0], sum(harm for harm, _ in weights) / len(weights)


def _folded(rows: list[Row]) -> Iterator[Row]:
    """Rows that read the same in every cell stand as one."""

    def read(row: Row) -> tuple[object, ...]:
        told = ((d, _read(cell)) for d, cell in sorted(row.cells.items()))
        return (row.as_declared, *told)

    for _, same in groupby(sorted(rows, key=lambda row: (_row_weight(row), str(read(row)))), key=read):
        first, *others = same
        yield Row(first.title, first.cells, tuple(row.title for row in others), first.as_declared)


def _read(cell: Candidate) -> tuple[object, ...]:
    return (
        None if cell.harm_of_100 is None else figure_text(cell.harm_of_100.value),
        None if cell.headroom_k is None else round(cell.headroom_k.p50, 1),
        cell.fits,
        cell.misses,
        cell.harm_agitated,
    )


def row_title(answer: Answer, place: str, setup: str) -> str:
    """Where boxes ride and how they are set up; as declared goes without saying."""
    where = s.say(s.ROW_MIXED) if place == MIXED else title_in(answer.places, answer.place_titles, place)
    if setup == AS_DECLARED:
        return where
    how = s.say(s.ROW_MIXED_SETUP) if setup == MIXED else title_in(answer.setups, answer.setup_titles, setup)
    return s.say(s.ROW_TITLE, place=where, setup=how)


def title_in(names: tuple[str, ...], titles: tuple[str, ...], name: str) -> str:
    return titles[names.index(name)] if name in names else name


def candidate_words(answer: Answer) -> Callable[[Candidate], str]:
    """Departure, place and set-up of a candidate in a line: what every view's header says."""
    zone = answer.trip.origin.zone if answer.trip else "UTC"

    def words(candidate: Candidate) -> str:
        row = row_title(answer, candidate.place, candidate.setup)
        return s.say(s.CANDIDATE, when=clock.day_hour(candidate.leave_s, zone), row=lower_first(row))

    return words


def cell_words(cell: Candidate | None, units: UnitSystem) -> str:
    """What a cell of the board holds, in a sentence for its tip and for screen readers."""
    if cell is None:
        return ""
    if cell.harm_of_100 is None:
        return s.say(s.BOARD_CELL_UNKNOWN)
    span = cell.harm_of_100
    low, high = ends(span.low, span.high)
    parts = [
        s.say(
            s.BOARD_HARM_CELL,
            value=figure_text(span.value),
            low=low,
            high=high,
            class_name=say("answer.open")
            if word_of(span) == "open"
            else s.say(CLASS_WORDS[class_of(span.value)]),
        )
    ]
    if cell.headroom_k is not None:
        parts.append(s.say(s.BOARD_HEADROOM_CELL, value=band_text(cell.headroom_k, units)))
    if cell.harm_agitated:
        parts.append(s.say(s.BOARD_AGITATED))
    if not cell.fits:
        parts.append(s.say(s.BOARD_ROOM, room=cell.room))
    if cell.misses:
        parts.append(s.say(s.BOARD_MISSES, what=", ".join(s.say(MISS_WORDS[miss]) for miss in cell.misses)))
    return "; ".join(parts)


@dataclass(frozen=True)
class Verdict:
    """How the two pinned candidates compare: in a line by their letters, and in the answer's whole sentence."""

    short: str
    sentence: str


def verdict_of(found: Comparison | None) -> Verdict | None:
    """The comparison of A with B in words: the harm of both, less of it first, then who fares better in how many.

    Where neither comes to harm a variant goes to the larger headroom, so that who is better in more of them may yet
    come to harm more often: wins alone say nothing of who is to be preferred.
    """
    if found is None:
        return None
    sides = [
        (one.harm_of_100.value if one.harm_of_100 else 0.0, -better, letter)
        for letter, one, better in (
            ("A", found.first, found.better_of_100),
            ("B", found.second, found.worse_of_100),
        )
    ]
    (harm, wins, first), (other, losses, second) = sorted(sides, key=lambda side: (whole(side[0]), side[1]))
    short = s.say(
        s.VERDICT,
        first=first,
        second=second,
        harm_first=figure_text(harm),
        harm_second=figure_text(other),
        wins=f"{-wins:.0f}",
        losses=f"{-losses:.0f}",
    )
    return Verdict(short, found.sentence)


def band_text(band: Band, units: UnitSystem) -> str:
    low, middle, high = (units.temp_step(value) for value in (band.p5, band.p50, band.p95))
    return f"{middle:+.1f} {units.temp_unit} ({low:+.1f} / {high:+.1f})"
