"""What happened to a box of a trip: its pinned plan, what was checked before, and the form filled in since."""

from __future__ import annotations

from collections.abc import Mapping

from planner.app.cause.evidence import Evidence, form, value_of
from planner.app.cause.stories import MOST_SAMPLES, SAMPLES, told
from planner.app.cause.weigh import Weighing, weighed
from planner.app.common.progress import Progress, Stop
from planner.app.inspect.items import boxes_of, found_group
from planner.app.inspect.pinned import unpinned
from planner.app.inspect.records import checked
from planner.errors import Fault, InputError
from planner.model.catalogue import Catalogue
from planner.model.preparations import ALL
from planner.store.logbook.book import Logbook
from planner.store.schema import did_you_mean
from planner.words import say


def cause_of(
    logbook: Logbook,
    trip: str,
    box: str,
    catalogue: Catalogue,
    evidence: Evidence | None = None,
    *,
    on_progress: Progress | None = None,
    should_stop: Stop | None = None,
) -> Weighing:
    """Hold what was found of a box against every story; more samples are worked out where few come near.

    Parameters
    ----------
    evidence : what was found; by default what the logbook has of it

    Raises
    ------
    InputError : no plan of the trip was pinned, or the box is none of its load
    """
    plans = logbook.plans(trip)
    if not plans:
        raise InputError([Fault("trip", "", say("cause.no_plan"), say("cause.pin_first"))])
    kept = unpinned(plans[-1].snapshot, catalogue)
    groups = {one.name: one.group for one in boxes_of(kept.trip)}
    if box not in groups:
        raise InputError([Fault("box", box, say("checks.no_box"), did_you_mean(box, tuple(groups)))])
    setup = next(setup for setup in ALL if setup.name == kept.setup)
    planned = kept.trip.groups[groups[box]]
    group = setup.change(planned, catalogue.box_types[planned.box_type])
    before = checked(logbook, trip).get(box)
    if before is not None:
        group = found_group(before.findings, group)
    seen = found_before(logbook, trip, box) if evidence is None else evidence
    samples = SAMPLES
    while True:
        ways = told(
            kept,
            groups[box],
            group,
            catalogue,
            samples=samples,
            on_progress=on_progress,
            should_stop=should_stop,
        )
        found = weighed(ways, seen)
        if found.can_tell or not found.explained or samples >= MOST_SAMPLES:
            return found
        samples = min(samples * 4, MOST_SAMPLES)


def found_before(logbook: Logbook, trip: str, box: str) -> dict[str, str | float]:
    """What the logbook has of the form, the last word on each line."""
    found: dict[str, str | float] = {}
    for event in logbook.told(trip=trip, subject=box, kinds=("looked",)):
        said = event.body.get("evidence")
        if isinstance(said, Mapping):
            found |= {name: value_of(name, value) for name, value in said.items() if name in form()}
    return found
