"""Trips written down for the sheets: nothing is planned, every figure is known; one usual trip, and random ones."""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

from planner.app.sheets.facts import GroupFacts, Halt, Proof, Standing, TripFacts
from planner.model.box_names import box_name
from planner.store.people import Person
from planner.words import Title

LEAVE_S = datetime(2027, 5, 14, 19, 0, tzinfo=UTC).timestamp()
HOUR_S = 3600.0


def groups(**more: Any) -> tuple[GroupFacts, ...]:
    usual = {"place": Title("places", "open_trailer", "Open trailer"), "closed_s": LEAVE_S - 2 * HOUR_S}
    return (
        GroupFacts("Overwintered, ten frames", 8, (box_name(1), box_name(2)), screen="on", **(usual | more)),
        GroupFacts("Spring splits, five frames", 4, (), screen="off", scrape=True, **(usual | more)),
    )


def facts(**more: Any) -> TripFacts:
    """The usual trip: twelve boxes by night on a trailer, two halts, mist, warm."""
    usual: dict[str, Any] = {
        "title": "Twelve boxes to the orchard",
        "origin": "Oak Farm",
        "destination": "Mill Orchard",
        "zone": "Europe/Berlin",
        "zone_there": "Europe/Warsaw",
        "decision": "go_if",
        "proof": Proof(
            LEAVE_S - 8 * HOUR_S, LEAVE_S - 10 * HOUR_S, "forecast", "Open-Meteo", LEAVE_S + 80 * HOUR_S
        ),
        "boxes": 12,
        "groups": groups(),
        "leave_from_s": LEAVE_S,
        "leave_s": LEAVE_S + HOUR_S,
        "leave_to_s": LEAVE_S + 2 * HOUR_S,
        "arrive_s": LEAVE_S + 6 * HOUR_S,
        "open_s": LEAVE_S + 6.5 * HOUR_S,
        "stand_min": 38.0,
        "stands": tuple(
            Standing(
                LEAVE_S + HOUR_S + k * 1800.0, 35.0 * k, 38.0 + 9 * k, None, 64.0 + 9 * k, 131.0 + 30 * k
            )
            for k in range(11)
        ),
        "halts": (
            Halt(LEAVE_S + 3 * HOUR_S, 1500.0, "Lay-by at the Old Pump", "rest", 120.0, shade=True),
            Halt(LEAVE_S + 4.5 * HOUR_S, 900.0, "Night fuel", "fuel", 231.0),
        ),
        "mist_s": (LEAVE_S + 2 * HOUR_S, LEAVE_S + 3 * HOUR_S, LEAVE_S + 4 * HOUR_S),
        "mist_ml": 20.0,
        "carry_ml": 1700.0,
        "harm_of_100": 3.0,
        "vehicle": Title("vehicles", "trailer", "Car with trailer"),
        "place": Title("places", "open_trailer", "Open trailer"),
        "air": "open",
        "warmest_c": 24.0,
        "coldest_c": 14.0,
        "km": 385.0,
        "driving_s": 4.4 * HOUR_S,
        "countries": ("DE", "PL"),
        "opens_dark": True,
        "phone": "+49 30 1234567",
        "keeper": "Ada Beemaster",
        "trip_key": "oak-mill",
    }
    return TripFacts(**(usual | more))


BUYER = Person(
    "Noemí Barrenechea",
    "+54 11 5555 0101",
    "es",
    "grey estate car",
    "Open trailer",
    (box_name(1), box_name(2)),
    2,
)


def people(count: int, language: str = "") -> tuple[Person, ...]:
    """So many invented people, one or two boxes each."""
    return tuple(
        Person(
            f"Buyer {k} of Ash Lane",
            f"+49 170 00{k:05d}",
            language,
            "estate car",
            "Open trailer",
            (),
            1 + k % 2,
        )
        for k in range(1, count + 1)
    )


PLACES = (
    "Oak Farm",
    "Sankt Veit an der Gölsen, Obstgut Hinterleitner",
    "Żelazna Góra",
    "L'Isle-Jourdain",
    "Wye",
)
KINDS: tuple[dict[str, Any], ...] = (
    {},
    {},
    {"vents": True},
    {"frames": False, "vents": True},
    {"frames": False, "lid": False, "entrances": False, "vents": True, "can": True}
    | {"mesh_floor": False, "screen": "none"},
    {"frames": False, "lid": False, "mesh_floor": True, "screen": "none"},
)
"""What boxes have that is not usual: none, side vents, those of swarms, packages with a can, skeps."""
AIRS = ("cooled", "windows", "shut", "open", "fan")


def _kind(pick: random.Random) -> dict[str, Any]:
    """What a box has, as the fields of a group call it."""
    usual = {"screen": pick.choice(("none", "on", "off")), "mesh_floor": pick.random() < 0.7}
    return usual | pick.choice(KINDS)


def random_facts(seed: int) -> TripFacts:
    """A trip as it might come: long and short, hot and cold, many halts or none, figures known or not."""
    pick = random.Random(seed)
    drive_h = pick.choice((0.3, 1.0, 2.5, 5.0, 9.0, 20.0))
    leave_s = LEAVE_S + pick.randrange(0, 86_400 * 90, 300)
    window_s = pick.choice((0.0, 1800.0, 3 * HOUR_S))
    arrive_s = leave_s + window_s / 2 + drive_h * HOUR_S
    halts = tuple(
        Halt(
            leave_s + window_s / 2 + (k + 1) * drive_h * HOUR_S / 7,
            pick.choice((600.0, 1500.0, 2700.0, 9 * HOUR_S)),
            pick.choice(PLACES),
            pick.choice(("rest", "fuel", "break", "load", "unload")),
            50.0 * k,
        )
        for k in range(pick.choice((0, 0, 1, 2, 6)))
    )
    mist = tuple(
        leave_s + window_s / 2 + HOUR_S + 1800.0 * k
        for k in range(pick.choice((0, 0, 2, 12)))
        if k < 2 * drive_h
    )
    count = pick.choice((1, 2, 4, 9))
    made = tuple(
        GroupFacts(
            pick.choice(
                ("Nucs", "Strong hives in the outer row, eleven frames of bees", "Schwärme vom Vorabend")
            ),
            pick.choice((1, 4, 12, 96)),
            (),
            Title("places", "", pick.choice(PLACES)),
            leave_s - pick.uniform(0.2, 14.0) * HOUR_S,
            battens=pick.random() < 0.7,
            scrape=pick.random() < 0.3,
            entrance=pick.choice(("foam", "mesh", "shut", "open")),
            air=pick.choice((None, None, None, *AIRS)),
            set_point_c=20.0,
            **_kind(pick),
        )
        for _ in range(count)
    )
    cold = pick.random() < 0.25
    stands = tuple(
        Standing(
            leave_s + k * 600.0,
            8.0 * k,
            pick.choice((3.0, 17.0, 48.0, 222.0, float("inf"))),
            pick.choice((None, 31.0)),
            pick.uniform(5.0, 400.0),
            None if cold else pick.uniform(5.0, 500.0),
            pick.choice((None, 200.0)),
        )
        for k in range(pick.choice((0, 1, 4, 30)))
    )
    return facts(
        title=pick.choice(PLACES),
        origin=pick.choice(PLACES),
        destination=pick.choice(PLACES),
        decision=pick.choice(("go", "go", "go_if", "go_if", "do_not_go", "cannot_tell")),
        proof=Proof(
            leave_s - pick.uniform(1.0, 60.0) * HOUR_S,
            pick.choice((None, leave_s - 70.0 * HOUR_S)),
            pick.choice(("archive", "typical", "own", "invented", "forecast", "missing")),
            "Open-Meteo",
            arrive_s + 30.0 * HOUR_S,
            pick.choice(("", "QXKT")),
        ),
        boxes=sum(group.count for group in made),
        groups=made,
        leave_from_s=leave_s,
        leave_s=leave_s + window_s / 2,
        leave_to_s=leave_s + window_s,
        arrive_s=arrive_s,
        open_s=arrive_s + 1800.0,
        stand_min=pick.choice((None, 0.0, 4.9, 5.0, 28.0, 61.0, 1000.0, float("inf"))),
        stands=stands,
        halts=halts,
        mist_s=mist,
        mist_ml=pick.choice((10.0, 50.0)),
        carry_ml=pick.uniform(100.0, 90_000.0),
        air=pick.choice(AIRS),
        set_point_c=pick.choice((18.0, 22.0)),
        cold=cold,
        too_cold_to_mist=cold,
        near_m=pick.choice((800.0, 5.0e5)),
        opens_dark=pick.random() < 0.5,
        opens_wet=pick.random() < 0.3,
        countries=pick.choice((("DE",), ("DE", "CZ", "PL", "SK"), ("GB",), ("US",), ("XX",), ())),
        phone=pick.choice(("", "+44 20 7946 0000")),
        road_estimated=pick.random() < 0.3,
        invented=pick.random() < 0.3,
    )


def without_figures(**more: Any) -> TripFacts:
    """A trip that must not be made."""
    return replace(facts(), decision="do_not_go", **more)
