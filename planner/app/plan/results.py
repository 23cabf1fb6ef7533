"""What a plan is made of: frozen results every face of the program reads and none computes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from planner.app.plan.room import Room
from planner.model.limits import (
    CAUTION,
    CLEAR,
    HARM,
    LEVELS,
    LIMITS,
    MOST_HEADROOM_K,
    UNKNOWN,
    VERDICTS,
    Assessment,
    Limit,
)
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

    ``peak_core_c``, ``peak_stores_c``, ``low_core_c``, ``low_mantle_c``, ``low_brood_c`` of the outermost brood (NaN
    where there is none); ``first_harm_s`` POSIX time of the first harm (NaN if never); ``verdict`` levels with a
    last axis of the five VERDICTS; ``over_s`` seconds beyond each of LIMITS on a last axis; ``hotter_k``,
    ``colder_k`` what the box's own history has to spare, negative where it is harmed; ``water_ml`` evaporated per
    box; ``water_short_ml`` that would have been evaporated had there been more; ``brood_dose``,
    ``brood_cold_dose``, ``sperm_loss_share``, ``worker_dose``; ``dead_share`` of the workers, ``ruined`` boxes;
    ``peak_co2_share`` in the box, ``peak_around_co2_share`` in the air it rides in; ``peak_humidity_share``.
    """


@dataclass(frozen=True, slots=True, order=True)
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


@dataclass(frozen=True, slots=True)
class Headroom:
    """How much hotter and colder the outside air may get until the first harm of the worst box, K.

    Dew point, sun and wind held; negative where there is harm, and then what would end it. NaN where no box's air
    follows the outside, or nothing is known. ``exact``: found by trying; else read from a few common shifts of the air.
    """

    hotter_k: float
    colder_k: float
    exact: bool = False

    @property
    def k(self) -> float:
        """The smaller of the two; the least there can be where no shift of the air leaves every box unharmed."""
        least = min(self.hotter_k, self.colder_k)
        return -MOST_HEADROOM_K if self.hopeless else least

    @property
    def hopeless(self) -> bool:
        """Whether harm would not end however the air is shifted: what ends the one brings the other."""
        least, most = sorted((self.hotter_k, self.colder_k))
        return least <= -MOST_HEADROOM_K or (least < 0.0 and -least >= most)

    @property
    def known(self) -> bool:
        return bool(np.isfinite(self.hotter_k) and np.isfinite(self.colder_k))


@dataclass(frozen=True)
class Plan:
    """A planned trip: the inputs frozen, the candidates on their axes, the ranking and the words for it.

    ``departures_s`` (departure,) POSIX; ``closed_s``, ``arrives_s``, ``opened_s`` (departure,);
    ``closed_by_day`` (departure,) bees flying when the boxes are shut; ``places`` and ``setups`` name the
    axes, ``*_titles`` are for people; ``room`` (place,) boxes that fit and ride;
    ``ranking`` lists every candidate, best first; ``notes`` are remarks on data and method; ``limits`` the
    temperatures each group's box is judged by. ``hotter_k``, ``colder_k`` (departure, place, setup) the headroom of
    typical bees as read from common shifts, ``tried`` that of candidates looked at more closely.
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
    hotter_k: Floats
    colder_k: Floats
    tried: Mapping[Choice, Headroom] = field(default_factory=dict)
    notes: tuple[str, ...] = ()
    room: tuple[Room, ...] = ()
    limits: tuple[tuple[Limit, ...], ...] = ()

    def fits(self, choice: Choice) -> bool:
        """Whether the boxes find room; taken for granted where nobody has said how many do."""
        return not self.room or self.room[choice.loading_place].enough

    def group_of(self, box: str) -> int:
        """The group whose cases are those of a named box. Raises KeyError for a name that is not in the load."""
        return {each.name: each.group for each in self.trip.boxes}[box]

    def worst_level_of(self, box: str, choice: Choice, agitation: int = TYPICAL) -> int:
        """Worst verdict over the answers for one named box."""
        cell = choice.departure, choice.loading_place, choice.setup, agitation, self.group_of(box)
        return int(np.max(self.outcomes.verdict[cell]))

    def worst_level(self, choice: Choice, agitation: int = TYPICAL) -> int:
        """Worst verdict over groups and answers; UNKNOWN wins over everything."""
        return int(
            np.max(self.outcomes.verdict[choice.departure, choice.loading_place, choice.setup, agitation])
        )

    def peak_c(self, choice: Choice) -> tuple[float, float, float]:
        """Peak core temperature of the box that is hottest with typical bees: (lowest, typical, highest).

        Calm bees are the coolest and agitated ones the hottest, until they die of it: dead bees make no heat.
        """
        peaks = self.outcomes.peak_core_c[choice.departure, choice.loading_place, choice.setup]
        unknown = np.isnan(peaks[TYPICAL]).any()
        box = peaks[:, int(np.argmax(peaks[TYPICAL]))]
        low, typical, high = (np.nan if unknown else value for value in (box.min(), box[TYPICAL], box.max()))
        return float(low), float(typical), float(high)

    def headroom(self, choice: Choice) -> Headroom:
        """What is known of the headroom with typical bees."""
        at = choice.departure, choice.loading_place, choice.setup
        return self.tried.get(choice) or Headroom(float(self.hotter_k[at]), float(self.colder_k[at]))

    def headroom_k(self, choice: Choice, agitation: int = TYPICAL) -> float:
        """The smaller headroom; of other than typical bees only what the boxes' own histories have to spare."""
        if agitation == TYPICAL:
            return self.headroom(choice).k
        at = choice.departure, choice.loading_place, choice.setup, agitation
        return float(np.min(self.outcomes.headroom_k[at]))


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
