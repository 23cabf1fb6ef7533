"""A season made up: 900 boxes on 45 trips, 12 of them lost. Nobody and nothing in it is real; it fills the pages.

Boxes are lost by their own invented chances, drawn until just twelve are; the chances they were given beforehand are
near those but not the same, as they would be.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from planner.app.inspect.decide import Decision
from planner.app.inspect.items import NOT_OK, OK, Finding, items
from planner.app.lessons.season import Ridden, outcome_entry
from planner.files import Passing
from planner.model.box_names import box_name
from planner.store.logbook.book import Logbook
from planner.store.logbook.records import Entry, KnownTrip, Person

BOXES, LOST, TRIPS = 900, 12, 45
SEED = 20270
FIRST_S = 1_806_000_000.0
"""An evening in March 2027, POSIX seconds."""

BOX_TYPES = ("langstroth_nuc5_pine", "langstroth_nuc6_eps", "langstroth_hive10_pine")
SETUPS = ("as declared", "roof screens on", "floors scraped clean")
CLOSINGS = ("after sunset", "before sunrise", "when lifted")
DRIVES = (("under 2 h", 90.0), ("2 to 5 h", 210.0), ("over 5 h", 420.0))
HOURS = (("in the evening", 21.0), ("before dawn", 4.0), ("by day", 11.0))
BARE = ("sides", "can")
"""What only boxes without frames are asked about; the season's have all frames."""
LANES = (
    "Ashmoor to Quillford",
    "Ashmoor to Three Weirs",
    "Harrow Fold to Sandholt",
    "Quillford to Lantern Hill",
)


@dataclass(frozen=True)
class _Ride:
    """One trip of the season."""

    key: str
    start_s: float
    lane: str
    drive: tuple[str, float]
    hour: tuple[str, float]
    closing: str


def demo_logbook(folder: Path, lies_in: Passing | None = None) -> Logbook:
    """The season written into a logbook of its own in ``folder``; the same every time."""
    logbook = Logbook(folder / "season.sqlite", "invented", lies_in)
    logbook.keep_person(Person("Pdemo", "Invented Person", "", "", "en"))
    rides = [_ride(number) for number in range(TRIPS)]
    boxes = season()
    each = BOXES // TRIPS
    entries: list[Entry] = []
    for number, ride in enumerate(rides):
        day = np.datetime64(int(ride.start_s), "s").astype("datetime64[D]")
        logbook.know_trip(
            KnownTrip(ride.key, f"{ride.lane}, invented", ride.lane.split(" to ")[0], str(day), "", "")
        )
        for at in range(each):
            entries += _of_box(
                ride, box_name(number * each + at + 1), boxes[number * each + at], number * each + at
            )
        entries += _of_trip(ride)
    logbook.add(*entries)
    return logbook


def season() -> list[Ridden]:
    """The 900 boxes, 12 of them lost."""
    chance = np.random.default_rng(SEED)
    rides = [_ride(number) for number in range(TRIPS)]
    factors, risks = [], []
    for ride in rides:
        for _ in range(BOXES // TRIPS):
            box_type = str(chance.choice(BOX_TYPES, p=[0.5, 0.3, 0.2]))
            setup = str(chance.choice(SETUPS, p=[0.5, 0.3, 0.2]))
            mesh = str(
                chance.choice(
                    ["clean", "half blocked", "nearly shut", "not looked at"], p=[0.7, 0.12, 0.04, 0.14]
                )
            )
            risk = (
                0.003 * {"clean": 1.0, "half blocked": 3.0, "nearly shut": 18.0, "not looked at": 3.0}[mesh]
            )
            risk *= {"under 2 h": 0.5, "2 to 5 h": 1.0, "over 5 h": 2.5}[ride.drive[0]]
            risk *= {"in the evening": 0.7, "before dawn": 0.7, "by day": 3.0}[ride.hour[0]]
            risk *= 0.6 if setup == "roof screens on" else 1.0
            risks.append(min(risk, 0.6))
            named = {"box_type": box_type, "setup": setup, "closing": ride.closing, "drive": ride.drive[0]}
            factors.append({**named, "hour": ride.hour[0], "lane": ride.lane, "mesh": mesh})
    risk_of = np.array(risks)
    while True:
        lost = chance.random(BOXES) < risk_of * LOST / risk_of.sum()
        if lost.sum() == LOST:
            break
    given = 1.0 - np.clip(risk_of * np.exp(chance.normal(0.0, 0.4, BOXES)), 0.0005, 0.95)
    return [Ridden(bool(gone), float(p), named) for gone, p, named in zip(lost, given, factors, strict=True)]


def _ride(number: int) -> _Ride:
    chance = np.random.default_rng([SEED, number])
    hour = HOURS[int(chance.choice(3, p=[0.6, 0.25, 0.15]))]
    return _Ride(
        key=f"{SEED:08x}{number:024x}",
        start_s=FIRST_S + 86_400.0 * (3 * number + int(chance.integers(0, 2))) + 3600.0 * (hour[1] - 21.0),
        lane=LANES[int(chance.integers(len(LANES)))],
        drive=DRIVES[int(chance.choice(3, p=[0.4, 0.4, 0.2]))],
        hour=hour,
        closing=CLOSINGS[int(chance.choice(3, p=[0.6, 0.2, 0.2]))],
    )


def _of_box(ride: _Ride, box: str, ridden: Ridden, number: int) -> list[Entry]:
    """A box checked, let go, seen on the day after, and what became of it."""
    looked = ridden.factors["mesh"] != "not looked at"
    blocked = {"clean": 5.0, "half blocked": 50.0, "nearly shut": 92.0}.get(ridden.factors["mesh"], 0.0)
    found = {
        item.name: Finding(OK) for item in items() if item.of not in BARE and (item.name != "floor" or looked)
    }
    if looked:
        found["floor"] = Finding(OK if blocked < 10.0 else NOT_OK, blocked)
    before_s, after_s = ride.start_s - 3600.0 + 20.0 * (number % 20), ride.start_s + 86_400.0
    checks = [
        Entry(
            "check",
            before_s,
            "box",
            box,
            {"item": name, "state": one.state, "how": one.how, **_value(one)},
            ride.key,
            "Pdemo",
        )
        for name, one in found.items()
    ]
    decision = Decision("released" if looked else "not_looked")
    body = {"outcome": decision.outcome, "text": decision.headline, "override": ""}
    entries = [*checks, Entry("released", before_s, "box", box, body, ride.key, "Pdemo")]
    entries.append(outcome_entry(ride.key, box, ridden, after_s, who="Pdemo"))
    if ridden.lost:
        claim = {"state": "asked", "text": "box lost on the way (invented)", "asked": 1}
        entries.append(Entry("claim", after_s + 3600.0, "box", box, claim, ride.key, "Pdemo"))
        if number % 2:
            entries.append(
                Entry("settled", after_s + 9 * 86_400.0, "box", box, {"given": 1}, ride.key, "Pdemo")
            )
    return entries


def _value(finding: Finding) -> dict[str, float]:
    return {} if finding.value is None else {"value": finding.value}


def _of_trip(ride: _Ride) -> list[Entry]:
    drive_s = 60.0 * ride.drive[1]
    stop_s = ride.start_s + 0.5 * drive_s
    kinds = (("departed", ride.start_s), ("stopped", stop_s), ("moving", stop_s + 900.0))
    ends = (("arrived", ride.start_s + drive_s + 900.0), ("opened", ride.start_s + drive_s + 2700.0))
    return [Entry(kind, at_s, trip=ride.key, who="Pdemo") for kind, at_s in (*kinds, *ends)]  # type: ignore[arg-type]
