"""What the three steps say while folded, from the draft and what is known of its road."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from planner.errors import Fault
from planner.model.catalogue import Catalogue
from planner.model.records import Road
from planner.ui.look import clock
from planner.ui.look import strings as s
from planner.ui.steps.steps import ASSUMED, DONE, OPEN, WRONG, Summary
from planner.units import UnitSystem

STEP_OF = {"origin": 0, "destination": 0, "stops": 0, "road": 0, "title": 0, "load": 1, "vehicle": 1}
"""Which step a part of the trip belongs to; whatever is not named here belongs to the last."""


def step_of(field: str) -> int:
    """The step at fault for a fault's field."""
    return STEP_OF.get(field.split(".")[0].split("[")[0], 2)


def summaries(
    draft: dict[str, Any],
    road: Road | None,
    faults: tuple[Fault, ...],
    catalogue: Catalogue,
    units: UnitSystem,
    *,
    assumed: bool,
) -> list[Summary]:
    """One line and one mark for each step."""
    wrong = {step_of(fault.field) for fault in faults}
    made = [_route(draft, road, units), _load(draft, catalogue), _when(draft, assumed=assumed)]
    return [
        Summary(one.text, WRONG) if number in wrong and one.mark != OPEN else one
        for number, one in enumerate(made)
    ]


def _route(draft: dict[str, Any], road: Road | None, units: UnitSystem) -> Summary:
    start, end = ((draft.get(part) or {}).get("name") for part in ("origin", "destination"))
    if not start and not end:
        return Summary(s.say(s.SUM_ROUTE_NONE), OPEN)
    if not start or not end:
        return Summary(s.say(s.SUM_ROUTE_HALF, start=start or end or ""), OPEN)
    if road is None:
        return Summary(s.say(s.SUM_ROUTE_BARE, start=start, end=end), DONE)
    length, time = units.distance_text(road.length_km), clock.span(road.driving_s)
    stops = len(draft.get("stops") or [])
    if stops:
        words = s.say(s.SUM_ROUTE_STOPS, start=start, end=end, count=stops, length=length, time=time)
    else:
        words = s.say(s.SUM_ROUTE, start=start, end=end, length=length, time=time)
    return Summary(words, ASSUMED if road.estimated else DONE)


def _load(draft: dict[str, Any], catalogue: Catalogue) -> Summary:
    groups = [group for group in draft.get("load") or [] if isinstance(group, dict)]
    if not groups:
        return Summary(s.say(s.SUM_LOAD_NONE), OPEN)
    boxes = sum(int(group.get("count") or 0) for group in groups)
    held = draft.get("vehicle") or {}
    places = [p for p in held.get("places") or [] if p in catalogue.loading_places]
    name = held.get("kind") or (catalogue.loading_places[places[0]].vehicle if places else "")
    known = catalogue.vehicles.get(name)
    vehicle = s.say(known.title) if known else str(name)
    if len(groups) == 1:
        label = str(groups[0].get("label") or "")
        return Summary(s.say(s.SUM_LOAD_ONE, boxes=boxes, label=label, vehicle=vehicle), DONE)
    return Summary(s.say(s.SUM_LOAD, boxes=boxes, count=len(groups), vehicle=vehicle), DONE)


def _when(draft: dict[str, Any], *, assumed: bool) -> Summary:
    window, source = draft.get("window") or {}, (draft.get("weather") or {}).get("source")
    try:
        first, last = (datetime.fromisoformat(window[key]) for key in ("from", "to"))
    except (KeyError, TypeError, ValueError):
        return Summary(s.say(s.SUM_WHEN_NONE), OPEN)
    zone = "UTC"
    begin = clock.day_hour(first.replace(tzinfo=UTC).timestamp(), zone)
    same_day = first.date() == last.date()
    end = f"{last:%H:%M}" if same_day else clock.day_hour(last.replace(tzinfo=UTC).timestamp(), zone)
    words = {"own": s.WEATHER_OWN_SHORT, "file": s.WEATHER_TABLE_SHORT, "embedded": s.WEATHER_TABLE_SHORT}
    weather = s.say(words.get(str(source), s.WEATHER_FORECAST_SHORT))
    said = s.SUM_WHEN_ASSUMED if assumed else s.SUM_WHEN
    return Summary(s.say(said, first=begin, last=end, weather=weather), ASSUMED if assumed else DONE)
