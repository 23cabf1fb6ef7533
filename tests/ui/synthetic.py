"""Made-up plans and histories with the shape of real ones, for tests of what is drawn (not of heat)."""

from __future__ import annotations

from dataclasses import fields

import numpy as np

from planner.app.plan.results import CAUTION, HARM, LIMITS, Choice, Curves, Outcomes, Phase, Plan
from planner.model.limits import Limit
from planner.model.records import DepartureWindow, Group, Road, Site, Stop, Trip, Weather

ZONE = "Europe/London"
NOON_S = 1_780_657_200.0  # 2026-06-05 12:00 in London

LIMITS_OF_A_NUC = (
    Limit("brood_caution", "core", 37.0, CAUTION, "above"),
    Limit("brood_danger", "core", 40.0, HARM, "above"),
    Limit("comb_danger", "stores", 45.0, HARM, "above"),
    Limit("chill_caution", "core", 30.0, CAUTION, "below"),
)

PLACES = (
    "open trailer",
    "seat, windows open",
    "panel van",
    "van, roof fan",
    "pickup bed",
    "canopy shut",
    "saloon boot",
    "flatbed inner row",
)


def road(vertices: int = 1200, stops: int = 1) -> Road:
    along = np.linspace(0, 1, vertices)
    km = along * 310
    lat = 51.1 + 2.4 * along + 0.12 * np.sin(along * 21)
    lon = -3.4 + 2.9 * along + 0.16 * np.sin(along * 13)
    waypoints = tuple(int(v) for v in np.linspace(0, vertices - 1, stops + 2))
    return Road(
        lat,
        lon,
        80 + 110 * np.sin(along * 6) ** 2,
        km,
        km / 62 * 3600,
        waypoints,
        "own invention",
        attribution="",
    )


def weather(hours: int = 96) -> Weather:
    time = NOON_S - 24 * 3600 + 3600.0 * np.arange(hours)
    km = np.linspace(0, 310, 5)
    shape = (hours, 5)
    swing = np.sin((time - NOON_S + 9 * 3600) / 86400 * 2 * np.pi)[:, None]
    full = lambda value: np.full(shape, float(value))  # noqa: E731
    return Weather(
        time,
        km,
        np.linspace(51.1, 53.5, 5),
        np.linspace(-3.4, -0.5, 5),
        full(0)[0],
        19 + 7 * swing + full(0),
        full(11),
        full(2),
        full(1),
        full(6),
        full(0) + 600 * np.clip(swing, 0, 1),
        full(0),
        full(0),
        full(0.3),
        full(101325),
        full(0),
        "invented weather",
        kind="invented",
        issued_s=NOON_S - 7200,
    )


def trip(groups: int = 2) -> Trip:
    site = lambda name, lat, lon: Site(name, lat, lon, ZONE)  # noqa: E731
    load = tuple(
        Group(
            f"nucs {chr(65 + i)}",
            6,
            "nuc_langstroth_5_pine",
            5 - i % 3,
            open_brood_frames=1,
            sealed_brood_frames=2,
            stores_frames=1,
        )
        for i in range(groups)
    )
    return Trip(
        "Invented move",
        site("Orchard Yard", 51.1, -3.4),
        site("Fen Yard", 53.5, -0.5),
        load,
        DepartureWindow(NOON_S, NOON_S + 47.5 * 3600),
        PLACES,
        stops=(Stop(site("Lay-by", 52.3, -1.9), "rest", 1800),),
        invented=True,
    )


def plan(departures: int = 96, places: int = 8, setups: int = 3, groups: int = 2) -> Plan:
    times = NOON_S + 1800.0 * np.arange(departures)
    rng = np.random.default_rng(4)
    day = np.sin((times - NOON_S + 9 * 3600) / 86400 * 2 * np.pi)
    ease = np.array([0, 0.6, 1.8, 1.2, 2.4, 4.2, 3.6, 5.0])[:places]
    agitation = np.array([-1.4, 0.0, 3.2])
    core = (
        35.6
        + 1.9 * day[:, None, None, None, None]
        + ease[None, :, None, None, None]
        - 0.9 * np.arange(setups)[None, None, :, None, None]
        + agitation[None, None, None, :, None]
        - 0.7 * np.arange(groups)
        + 0.05 * rng.standard_normal((departures, places, setups, 3, groups))
    )
    verdict = np.zeros((*core.shape, 5), dtype=np.int64)
    verdict[..., 0] = np.digitize(core, [37, 40])
    verdict[..., 1] = np.digitize(core, [38, 40.5])
    verdict[..., 2] = np.digitize(core, [42, 45])
    verdict[..., 3] = np.digitize(core, [38.5, 42.5])
    verdict[-6:, ...] = 3
    core[-6:] = np.nan
    nothing = np.zeros_like(core)
    known = {
        "peak_core_c": core,
        "peak_stores_c": core - 1.5,
        "low_core_c": core - 5,
        "peak_s": times[:, None, None, None, None] + nothing,
        "first_harm_s": nothing * np.nan,
        "verdict": verdict,
        "over_s": np.zeros((*core.shape, len(LIMITS))),
        "hotter_k": 40 - core,
        "colder_k": core - 20,
        "water_ml": nothing + 18,
        "ruined": nothing > 0.0,
        "peak_co2_share": nothing + 0.004,
        "peak_humidity_share": nothing + 0.7,
    }
    outcomes = Outcomes(**{f.name: known.get(f.name, nothing) for f in fields(Outcomes)})
    every = [Choice(d, p, k) for d in range(departures - 6) for p in range(places) for k in range(setups)]
    ranking = tuple(
        sorted(every, key=lambda c: float(np.max(core[c.departure, c.loading_place, c.setup, 1])))
    )
    sunlit = day > -0.1
    return Plan(
        trip(groups),
        road(),
        weather(),
        times,
        times - 3600,
        times + 6.2 * 3600,
        times + 7 * 3600,
        sunlit,
        PLACES[:places],
        tuple(name.capitalize() for name in PLACES[:places]),
        ("as_declared", "roof_screen", "clean_floor")[:setups],
        ("as declared", "roof screens on", "floors scraped clean")[:setups],
        outcomes,
        ranking,
        hotter_k=outcomes.hotter_k[..., 1, :].min(axis=-1),
        colder_k=outcomes.colder_k[..., 1, :].min(axis=-1),
        limits=(LIMITS_OF_A_NUC,) * groups,
    )


def curves(made: Plan, choice: Choice) -> Curves:
    start, end = made.closed_s[choice.departure], made.opened_s[choice.departure]
    time = np.arange(start, end, 60.0)
    hours = (time - start) / 3600
    groups = len(made.trip.groups)
    peak = made.outcomes.peak_core_c[choice.departure, choice.loading_place, choice.setup]
    peak = np.nan_to_num(peak, nan=36.0)
    rise = (1 - np.exp(-hours / 0.8)) * (0.75 + 0.25 * np.exp(-(((hours - 3.9) / 0.5) ** 2)))
    core = 33.5 + (peak - 33.5)[None] * rise[:, None, None]
    stores = 24 + (core - 24) * (1 - np.exp(-hours / 1.5))[:, None, None] * 0.85
    day = np.sin((time - NOON_S + 9 * 3600) / 86400 * 2 * np.pi)
    depart, arrive = made.departures_s[choice.departure], made.arrives_s[choice.departure]
    halt = depart + 0.55 * (arrive - depart)
    phases = (
        Phase("waiting", "shut, waiting", start, depart - 1800, 0),
        Phase("loading", "loading", depart - 1800, depart, 0),
        Phase("driving", "driving", depart, halt, 0),
        Phase("stop", "Lay-by: rest", halt, halt + 1800, 155),
        Phase("driving", "driving", halt + 1800, arrive, 155),
        Phase("settling", "settling", arrive, end, 310),
    )
    driven = np.interp(time, [depart, halt, halt + 1800, arrive], [0, 155, 155, 310])
    moving = np.gradient(driven, time) * 1000
    bees = 9 + 5 * rise[:, None, None] + np.zeros((1, 3, groups))
    ledger = np.stack(
        [
            bees,
            0 * bees + 3.1,
            0 * bees + 1.5 * np.clip(day, 0, 1)[:, None, None],
            -0.62 * bees,
            -0.3 * bees,
            -0.12 * bees,
            0 * bees,
        ],
        axis=-1,
    )
    ledger[..., -1] = -ledger.sum(axis=-1)
    full = np.zeros_like(core)
    return Curves(
        choice,
        time,
        core,
        stores,
        core - 4,
        core - 9,
        np.ones((len(time), groups), bool),
        full + 0.7,
        full + 0.004,
        full + 12,
        ledger,
        19 + 7 * day,
        11 + 0 * day,
        700 * np.clip(day, 0, 1),
        3 + day,
        2 + day,
        2 + 0 * day,
        moving,
        np.interp(driven, made.road.km, made.road.elevation_m),
        driven,
        np.interp(driven, made.road.km, made.road.lat_deg),
        np.interp(driven, made.road.km, made.road.lon_deg),
        55 * day,
        phases,
        made.limits,
    )
