"""A trip or a box in time: what was planned against what happened, readings over the plan's band, claims."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

import numpy as np

from planner.app.common.chart import Axis, Band, Chart, Dots, Line, Rule, Tick
from planner.app.inspect.items import NOT_LOOKED, STATES, boxes_of, item_of
from planner.app.inspect.judge import Judge
from planner.app.inspect.pinned import unpinned
from planner.app.inspect.records import KNOWN
from planner.model.catalogue import Catalogue
from planner.model.records import Floats
from planner.store.logbook.book import Logbook
from planner.store.logbook.records import KINDS, Body, Event
from planner.words import Moment, say

MARKED = ("departed", "stopped", "moving", "arrived", "opened", "handed_over", "closed", "loaded", "misted")
HOUR_S = 3600.0
MOST_S, MOST_C = 7.3e9, 1000.0
"""A reading beyond the year 2200 or of a thousand degrees is none."""


@dataclass(frozen=True)
class Timeline:
    """What the logbook has of a trip or one of its boxes, and the plan's own band where a plan was pinned.

    ``band_s`` (time,), ``band_c`` (time, 3) what 5, 50, 95 of 100 variants stay below; empty where there is none;
    ``readings`` (2, reading) POSIX seconds and C. ``boxes`` all boxes of the plan, none where no plan was pinned.
    """

    zone: str
    events: tuple[Event, ...]
    people: Mapping[str, str]
    band_s: Floats
    band_c: Floats
    readings: Floats
    boxes: tuple[str, ...] = ()


def timeline(logbook: Logbook, trip: str, box: str, catalogue: Catalogue) -> Timeline:
    """Gather what there is of a box, "" for the trip as a whole. Raises StorageError, InputError."""
    events = [event for event in _all_of(logbook, trip) if not box or event.subject in ("", box)]
    plans = logbook.plans(trip)
    boxes: tuple[str, ...] = ()
    zone, when, band = "UTC", np.zeros(0), np.zeros((0, 3))
    if plans:
        kept = unpinned(plans[-1].snapshot, catalogue)
        zone, boxes = kept.trip.origin.zone, tuple(one.name for one in boxes_of(kept.trip))
        if box:
            when, band = Judge(kept, catalogue).band(box)
    names = {person.key: person.name for person in logbook.people()}
    return Timeline(zone, tuple(events), names, when, band, _readings(events), boxes)


def _all_of(logbook: Logbook, trip: str) -> list[Event]:
    """The events of a trip, with the papers printed while its file had no id: those lie under its path."""
    known = logbook.known_trip(trip)
    papers = logbook.standing(trip=known.path, kinds=("paper",)) if known and known.path else []
    return sorted((*papers, *logbook.standing(trip=trip)), key=lambda event: event.at_s)


def _readings(events: Sequence[Event]) -> Floats:
    """Times and temperatures of all readings, as numbers beside each other in an event or alone."""
    found: list[tuple[float, float]] = []
    for event in events:
        if event.kind != "reading":
            continue
        at, temp = event.body.get("at_s", event.at_s), event.body.get("temp_c")
        pairs = (
            zip(at, temp, strict=False) if isinstance(at, list) and isinstance(temp, list) else [(at, temp)]
        )
        found += [
            (float(a), float(t))
            for a, t in pairs
            if isinstance(a, int | float)
            and isinstance(t, int | float)
            and 0 <= a < MOST_S
            and abs(t) < MOST_C
        ]
    return np.array(sorted(found), dtype=np.float64).T if found else np.zeros((2, 0))


def chart_of(found: Timeline) -> Chart | None:
    """Readings over the plan's band with what happened as lines; None where nothing has a time and a temperature."""
    times = [*found.band_s.tolist(), *found.readings[0].tolist()]
    marked = [event for event in found.events if event.kind in MARKED]
    if not times:
        return None
    times += [event.at_s for event in marked]
    first, last = min(times), max(times)
    temps = np.concatenate((found.band_c.ravel(), found.readings[1]))
    low, high = np.floor(np.nanmin(temps) / 5.0) * 5.0, np.ceil(np.nanmax(temps) / 5.0) * 5.0
    degrees = tuple(Tick(t, f"{t:.0f}") for t in np.arange(low, high + 1.0, 5.0).tolist())
    marks: list[Band | Line | Dots | Rule] = []
    if found.band_s.size:
        marks.append(Band(found.band_s, found.band_c[:, 0], found.band_c[:, 2], "core"))
        marks.append(Line(found.band_s, found.band_c[:, 1], "core", 1.4, "5 3", say("logbook.page_planned")))
    if found.readings.size:
        marks.append(Line(found.readings[0], found.readings[1], "stores", 2.0, "", say("logbook.page_read")))
    marks += [Rule(e.at_s, "x", "ink_soft", 1.0, "2 2", say(f"logbook.kind_{e.kind}")) for e in marked]
    return Chart(
        title=say("logbook.page_chart"),
        x=Axis(first, last, (tuple(_hours(first, last, found.zone)),)),
        y=Axis(low, max(high, low + 5.0), (degrees,), grid=True),
        marks=tuple(marks),
    )


def _hours(first: float, last: float, zone: str) -> Iterator[Tick]:
    step = HOUR_S * max(1.0, np.ceil((last - first) / HOUR_S / 10.0))
    at = np.ceil(first / step) * step
    while at <= last:
        yield Tick(float(at), datetime.fromtimestamp(float(at), ZoneInfo(zone)).strftime("%H:%M"))
        at += step


def line_of(event: Event, zone: str, names: Mapping[str, str]) -> str:
    """An event in one line, by the clock of the place."""
    gaps: dict[str, object] = {
        "when": Moment(event.at_s, zone, "stamp"),
        "kind": say(f"logbook.kind_{event.kind}") if event.kind in KINDS else event.kind,  # a damaged row
        "text": text_of(event),
    }
    if event.subject:
        gaps["subject"] = event.subject
    if event.who:
        gaps["who"] = names.get(event.who) or event.who
    ending = ("_of" if event.subject else "") + ("_who" if event.who else "")
    return say(f"logbook.event_line{ending}", **gaps)


def text_of(event: Event) -> str:
    """What an event says: a finding by its item, a decision in its own words, else its text, figures and words."""
    body = event.body
    if event.kind == "check" and body.get("item") in KNOWN:
        return _finding_text(body)
    if event.kind == "released" and body.get("text"):
        return str(body["text"])
    lost = body.get("lost") if event.kind == "outcome" else None
    parts = [say(f"logbook.outcome_{'lost' if lost else 'arrived'}")] if isinstance(lost, bool) else []
    parts += [str(body["text"])] if body.get("text") else []
    told = {"text"} | ({"lost"} if isinstance(lost, bool) else set())
    plain = [
        f"{key} {value}"
        for key, value in body.items()
        if key not in told and value not in ("", None) and not isinstance(value, dict | list)
    ]
    return ", ".join([*parts, *plain])


def _finding_text(body: Body) -> str:
    """``Floor mesh: not ok, 40 % blocked, by photo. Gum in one corner``."""
    item, value, how = item_of(str(body["item"])), body.get("value"), body.get("how")
    state = body["state"] if body.get("state") in STATES else NOT_LOOKED
    parts = [say(f"checks.page_{state}")]
    if item.figure and isinstance(value, int | float):
        parts.append(f"{value:g} {say(f'checks.measure_{item.figure}')}")
    if how in ("photo", "scale"):
        parts.append(say(f"checks.how_{how}"))
    remark = f". {body['text']}" if body.get("text") else ""
    return f"{say(f'checks.short_{item.name}')}: {', '.join(parts)}{remark}"


def claims(events: Sequence[Event], zone: str) -> Iterator[str]:
    """Each box's claim from asked to settled."""
    settled = {event.subject: event for event in events if event.kind == "settled"}
    for event in events:
        if event.kind != "claim":
            continue
        end = settled.get(event.subject)
        asked = Moment(event.at_s, zone, "stamp")
        if end is None:
            yield say("logbook.claim_open", box=event.subject, asked=asked, text=text_of(event))
        else:
            given = Moment(end.at_s, zone, "stamp")
            yield say("logbook.claim_settled", box=event.subject, asked=asked, given=given, text=text_of(end))


def handovers(events: Sequence[Event], zone: str, names: Mapping[str, str]) -> Iterator[str]:
    """Each handover with its receipt."""
    for event in events:
        if event.kind in ("handed_over", "paper"):
            yield line_of(event, zone, names)
