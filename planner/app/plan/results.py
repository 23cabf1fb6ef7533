"""What a plan is made of: frozen results every face of the program reads and none computes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from planner.app.plan.room import Room
from planner.model.limits import CAUTION, CLEAR, HARM, LEVELS, LIMITS, UNKNOWN, VERDICTS, Assessment, Limit
from planner.model.parameters import AGITATIONS, TYPICAL
from planner.model.records import Bools, Floats, Road, Trip, Weather

__all__ = [
    "AGITATIONS",
    "CAUTION",
    "CLEAR",
    "HARM",
    "LEVELS",
    "LIMITS",
    "TYPICAL",
    "UNKNOWN",
    "VERDICTS",
    "Limit",
]


@dataclass(frozen=True)
class Outcomes(Assessment):
    """What happened to every group in every case; axes ``(departure, place, setup, agitation, group)``.

    ``peak_core_c``, ``peak_stores_c``, ``low_core_c``; ``first_crossing_s`` POSIX time of the first danger
    limit crossed (NaN if never); ``verdict`` levels with a last axis of the five VERDICTS; ``over_s`` seconds
    beyond each of LIMITS on a last axis; ``margin_k`` smallest distance to a danger limit, negative beyond it;
    ``water_ml`` evaporated per box; ``water_short_ml`` that would have been evaporated had there been more;
    ``brood_dose``, ``sperm_loss_share``, ``worker_dose``; ``peak_co2_share`` in the box, ``peak_around_co2_share``
    in the air it rides in; ``peak_humidity_share``.
    """


@dataclass(frozen=True, slots=True)
class Choice:
    """Indices of one candidate in a plan: which departure, loading place and set-up."""

    departure: int
    loading_place: int
    setup: int


@dataclass(frozen=True, slots=True)
class Phase:
    """One stretch of a trip: ``kind`` is waiting | loading | driving | stop | settling; instants in POSIX seconds."""

    kind: str
    label: str
    start_s: float
    end_s: float
    km: float


@dataclass(frozen=True)
class Plan:
    """A planned trip: the inputs frozen, the candidates on their axes, the ranking and the words for it.

    ``departures_s`` (departure,) POSIX; ``closed_s``, ``arrives_s``, ``opened_s`` (departure,);
    ``closed_by_day`` (departure,) bees flying when the boxes are shut; ``places`` and ``setups`` name the
    axes, ``*_titles`` are for people; ``room`` (place,) boxes that fit and ride;
    ``ranking`` lists every candidate, best first; ``notes`` are remarks on data and method; ``limits`` the
    temperatures each group's box is judged by.
    """

    trip: Trip
    road: Road
    weather: Weather
    departures_s: Floats
    closed_s: Floats
    arrives_s: Floats
    opened_s: Floats
    closed_by_day: Bools
    loading_places: tuple[str, ...]
    loading_place_titles: tuple[str, ...]
    setups: tuple[str, ...]
    setup_titles: tuple[str, ...]
    outcomes: Outcomes
    ranking: tuple[Choice, ...]
    notes: tuple[str, ...] = ()
    room: tuple[Room, ...] = ()
    limits: tuple[tuple[Limit, ...], ...] = ()

    def fits(self, choice: Choice) -> bool:
        """Whether the boxes find room; taken for granted where nobody has said how many do."""
        return not self.room or self.room[choice.loading_place].enough

    def worst_level(self, choice: Choice, agitation: int = TYPICAL) -> int:
        """Worst verdict over groups and answers; UNKNOWN wins over everything."""
        return int(
            np.max(self.outcomes.verdict[choice.departure, choice.loading_place, choice.setup, agitation])
        )

    def peak_c(self, choice: Choice) -> tuple[float, float, float]:
        """Peak core temperature of the hottest box: (calm, typical, agitated)."""
        peaks = self.outcomes.peak_core_c[choice.departure, choice.loading_place, choice.setup]
        calm, typical, agitated = np.max(peaks, axis=-1)
        return float(calm), float(typical), float(agitated)

    def margin_k(self, choice: Choice, agitation: int = TYPICAL) -> float:
        """Smallest distance of any box to a danger limit."""
        return float(
            np.min(self.outcomes.margin_k[choice.departure, choice.loading_place, choice.setup, agitation])
        )


@dataclass(frozen=True)
class Curves:
    """Histories of one candidate for drawing; axes ``(time,)`` or ``(time, agitation, group)``.

    ``wind_east_ms``, ``wind_north_ms`` the direction the air moves to where the vehicle is;
    ``ledger_w`` is ``(time, agitation, group, term)`` with the terms of LEDGER_TERMS, positive = heat into the box;
    ``limits`` the temperatures each group's box is judged by.
    """

    choice: Choice
    time_s: Floats
    core_c: Floats
    stores_c: Floats
    box_air_c: Floats
    local_c: Floats
    closed: Bools
    humidity_share: Floats
    co2_share: Floats
    water_ml: Floats
    ledger_w: Floats
    outside_c: Floats
    dew_c: Floats
    ghi_w_m2: Floats
    wind_ms: Floats
    wind_east_ms: Floats
    wind_north_ms: Floats
    speed_ms: Floats
    elevation_m: Floats
    km: Floats
    lat_deg: Floats
    lon_deg: Floats
    sun_elevation_deg: Floats
    phases: tuple[Phase, ...]
    limits: tuple[tuple[Limit, ...], ...] = ()


LEDGER_TERMS = ("adults", "brood", "sun", "air", "walls", "water", "stored")
