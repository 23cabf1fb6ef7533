"""Lanes for tests: the bundled one, and the way of a queen's parcel across a warm country."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from functools import cache
from typing import Any

from planner.app.answer.records import DecisionName, Span, Tolerance
from planner.app.lane.inputs import weather_of_lane
from planner.app.lane.records import LaneAnswer, Way
from planner.bundled import resource_path
from planner.model.catalogue import Catalogue
from planner.model.records import Group, Site, Weather
from planner.store.catalogue import load_catalogue
from planner.store.lanefile import read_lane, resolve_lane
from planner.store.lanerecords import LaneStage, ParcelLane, Service
from planner.store.lanerules import lane_places, lane_rules

HOUR_S = 3600.0
LITTLE = Span(0.7, 1.5, 2.9)
"""Harm that is within what is accepted."""


@cache
def catalogue() -> Catalogue:
    return load_catalogue(lane_places())


def lane_draft() -> dict[str, Any]:
    return read_lane(resource_path("demo", "lane", "parcel-spring.toml"))


@cache
def spring() -> ParcelLane:
    return resolve_lane(lane_draft(), catalogue())


@cache
def spring_weather() -> Weather:
    return weather_of_lane(spring())


def queen_parcel(site: Site, month: int) -> ParcelLane:
    """Two to three days by mail with two nights in depots, under the sky of one site.

    Places and times are the lane's usual ones; nothing is fitted to the figures it is held against.
    """
    places = lane_rules().places

    def stage(kind: Any, low: float, usual: float, high: float) -> LaneStage:
        return LaneStage(kind, (low * HOUR_S, usual * HOUR_S, high * HOUR_S), places[kind])

    return replace(
        spring(),
        origin=site,
        destination=replace(site, lat_deg=site.lat_deg + 3.0),
        country="US",
        region="",
        monday=date(2027, month, 7 if month == 6 else 3),
        service=Service(2, True, (0, 1, 2), 16 * HOUR_S),
        stages=(
            stage("collection", 1, 2, 6),
            stage("depot", 8, 12, 16),
            stage("trunk", 3, 6, 10),
            stage("depot", 8, 12, 16),
            stage("delivery", 1, 4, 9),
            stage("doorstep", 0, 0.5, 8),
        ),
        group=Group(label="queens", count=1, box_type="package_cage", bees_kg=0.05),
        setups=("as_declared",),
    )


def answered(
    best: Way, *others: Way, lane: ParcelLane | None = None, decision: DecisionName = "go_if"
) -> LaneAnswer:
    """An answer by hand, of what a test has to tell."""
    return LaneAnswer(
        lane=lane or spring(),
        tolerance=Tolerance(10.0, 5.0, "usual"),
        decision=decision,
        best=best,
        ways=(best, *others),
        late_harm=LITTLE,
        late_ok=True,
        blame=(),
        questions=(),
        cold_share=0.0,
        ticked=True,
        hours=(15.0, 19.0, 41.0),
        samples=400,
        seed=1,
        late_of_100=8.0,
        source="own",
    )
