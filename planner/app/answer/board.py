"""The board as a chart: departures across, places down, the chance of harm in five classes, or headroom, in figures."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

import numpy as np

from planner.app.answer.decide import is_declared
from planner.app.answer.records import CLASSES, Answer, Candidate
from planner.app.answer.words import Words
from planner.app.common.chart import (
    Axis,
    Chart,
    Colour,
    Key,
    Ring,
    Stretch,
    Tick,
    Tile,
    day_ticks,
    hour_ticks,
)
from planner.app.common.scale import CLASS_STEPS
from planner.app.common.svg import chart_svg
from planner.model import sun
from planner.model.catalogue import Catalogue
from planner.store.rules import answer_rules
from planner.units import METRIC, UnitSystem, whole
from planner.words import Voice

TWILIGHT_DEG = 6.0
HEADROOM_EDGES_K = (8.0, 4.0, 2.0, 0.0)
"""Least headroom of the first four steps of the other view, safe to bad; below the last is deadly."""

FIGURES_UP_TO = 40
"""Departures beyond which a cell is too narrow for its figure on paper."""


def board_svg(
    said: Answer, catalogue: Catalogue, units: UnitSystem = METRIC, *, headroom: bool = False
) -> str:
    """The board on paper."""
    rows = rows_of(said)
    return chart_svg(board_chart(said, catalogue, units, headroom=headroom), 960.0, 170.0 + 26.0 * len(rows))


def board_chart(
    said: Answer, catalogue: Catalogue, units: UnitSystem = METRIC, *, headroom: bool = False
) -> Chart:
    """The board of an answer; ``headroom`` shows that instead of the chance of harm."""
    words, voice = Words(said, catalogue, units), Voice(units=units)
    rows = rows_of(said)
    departures = len(said.departures_s)
    best = said.best
    return Chart(
        title=voice.say("answer.board_headroom" if headroom else "answer.board_harm"),
        x=Axis(0.0, float(departures), _ticks(said), on_top=True),
        y=Axis(float(len(rows)), 0.0, (tuple(_row_ticks(said, rows, words, voice)),)),
        marks=(
            *_cells(rows, departures, voice, units, headroom=headroom),
            *((_ring(rows, best),) if best and _row_of(rows, best) is not None else ()),
        ),
        above=tuple(_day_and_night(said)),
        legend=tuple(_keys(said, voice, headroom=headroom)),
    )


Row = tuple[Mapping[int, Candidate], int]


def rows_of(said: Answer) -> list[Row]:
    """Rows of the board, best first: the candidates by departure, and how many more places come to just the same."""
    by_place: dict[int, dict[int, Candidate]] = {}
    for one in said.candidates:
        if is_declared(one):
            by_place.setdefault(one.key.arrangement, {})[one.key.departure] = one
    out: list[Row] = []
    for cells in by_place.values():
        same = next((i for i, (other, _) in enumerate(out) if _alike(cells, other)), None)
        if same is None:
            out.append((cells, 0))
        else:
            out[same] = out[same][0], out[same][1] + 1
    return out


def _alike(first: Mapping[int, Candidate], second: Mapping[int, Candidate]) -> bool:
    return first.keys() == second.keys() and all(
        (one.harm_of_100, one.headroom_k, one.fits)
        == (second[d].harm_of_100, second[d].headroom_k, second[d].fits)
        for d, one in first.items()
    )


def class_step(one: Candidate, *, headroom: bool = False) -> int | None:
    """Row of CLASSES a cell is coloured by; None where nothing is known."""
    if headroom:
        if one.headroom_k is None:
            return None
        spare = one.headroom_k.p50
        return next((i for i, least in enumerate(HEADROOM_EDGES_K) if spare >= least), len(CLASSES) - 1)
    return None if one.harm_class is None else CLASSES.index(one.harm_class)


def _cells(
    rows: Sequence[Row], departures: int, voice: Voice, units: UnitSystem, *, headroom: bool
) -> Iterator[Tile]:
    for k, (cells, _) in enumerate(rows):
        for d, one in cells.items():
            step = class_step(one, headroom=headroom)
            fill: Colour = "unknown" if step is None else CLASS_STEPS[step]
            text = ""
            if departures <= FIGURES_UP_TO and step is not None:
                band, harm = one.headroom_k, one.harm_of_100
                figure = units.temp_step(band.p50) if headroom and band else harm.value if harm else 0.0
                text = voice.number(round(figure) if headroom else whole(figure))
            agitated = one.harm_agitated and one.standing == "within"
            sign = "unknown" if step is None else "cross" if not one.fits else "dot" if agitated else ""
            yield Tile(d, d + 1, k, k + 1, fill, sign=sign, gap=1.0, text=text)


def _row_of(rows: Sequence[Row], one: Candidate) -> int | None:
    return next(
        (
            k
            for k, (cells, _) in enumerate(rows)
            if one.key.departure in cells and cells[one.key.departure].key == one.key
        ),
        None,
    )


def _ring(rows: Sequence[Row], best: Candidate) -> Ring:
    row = _row_of(rows, best) or 0
    return Ring(best.key.departure, best.key.departure + 1, row, row + 1, "ink", 2.4)


def _row_ticks(said: Answer, rows: Sequence[Row], words: Words, voice: Voice) -> Iterator[Tick]:
    for k, (cells, more) in enumerate(rows):
        one = next(iter(cells.values()))
        title = words.place(one)
        if more:
            title = voice.say(
                "answer.board_row_more", place=title, more=voice.say("answer.remark_places", count=more)
            )
        yield Tick(k + 0.5, title, bool(said.best and said.best.key.arrangement == one.key.arrangement))


def _ticks(said: Answer) -> tuple[tuple[Tick, ...], tuple[Tick, ...]]:
    """Full hours, and the days above them."""
    assert said.trip is not None
    times, zone = said.departures_s, said.trip.origin.zone
    hours = hour_ticks(times[0], times[-1], zone)
    at = np.interp([tick.at for tick in hours], times, np.arange(len(times))) + 0.5
    days = tuple(Tick(d, text, True) for d, text in day_ticks(list(times), zone))
    return tuple(Tick(float(x), tick.text) for x, tick in zip(at, hours, strict=True)), days


def _day_and_night(said: Answer) -> Iterator[Stretch]:
    """Night under everything, and day over it by its share."""
    assert said.trip is not None
    site = said.trip.origin
    height = sun.sun_position(np.array(said.departures_s), site.lat_deg, site.lon_deg).elevation_deg
    yield Stretch(0.0, float(height.size), "night")
    share = np.clip((height + TWILIGHT_DEG) / (2.0 * TWILIGHT_DEG), 0.0, 1.0)
    yield from (Stretch(d, d + 1, "day", round(one, 2)) for d, one in enumerate(share.tolist()) if one > 0.0)


def _keys(said: Answer, voice: Voice, *, headroom: bool) -> Iterator[Key]:
    """The five classes with their edges, and where the user's tolerance lies among them."""
    least = 0.0
    for step, (name, last) in enumerate(answer_rules().classes):
        if headroom:
            edge = HEADROOM_EDGES_K[min(step, len(HEADROOM_EDGES_K) - 1)]
            key = "board_below" if step == len(CLASSES) - 1 else "board_from"
            text = voice.say(f"answer.{key}", edge=voice.number(voice.units.temp_step(edge)))
        else:
            edges = {"from": voice.number(least), "to": voice.number(last)}
            text = voice.say(
                "answer.board_class", word=voice.say(f"answer.{name}"), first=edges["from"], last=edges["to"]
            )
        least = last + 1.0
        yield Key(text, CLASS_STEPS[step])
    if not headroom:
        accepted = voice.number(said.tolerance.harm_of_100)
        yield Key(voice.say("answer.board_accepted", edge=accepted), "ink", shape="stroke")
    yield Key(voice.say("answer.board_best"), "ink", shape="ring")
