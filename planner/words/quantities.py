"""Values with units as they are kept until somebody reads them; :meth:`planner.words.voice.Voice.text` writes them.

A record of what is said holds these instead of text, so that tests can compare numbers, and one record is read in
metric or US units and in any language.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Kind = Literal[
    "temp", "step", "distance", "height", "speed", "volume", "mass", "duration", "minutes", "share", "watts"
]
Form = Literal["clock", "day_clock", "date", "date_clock", "stamp", "weekday_date"]


@dataclass(frozen=True, slots=True)
class Quantity:
    """A number with its unit.

    ``value`` is in the unit inside the program: C, K, km, m, m/s, ml, kg, s, a share 0..1, W by ``kind``; ``digits``
    are shown after the decimal sign.
    """

    value: float
    kind: Kind
    digits: int = 0


@dataclass(frozen=True, slots=True)
class Moment:
    """An instant (POSIX seconds UTC) on the wall clock of a zone, and how much of it is said.

    ``clock`` 21:30; ``day_clock`` Thursday 21:30; ``date`` 14 May 2027; ``date_clock`` Friday 14 May, 21:30;
    ``stamp`` 2027-05-14 21:30; ``weekday_date`` Friday 14 May.
    """

    time_s: float
    zone: str
    form: Form = "day_clock"


@dataclass(frozen=True, slots=True)
class Stretch:
    """From one instant to another, the day said once where it is the same: ``Thursday 19:30-23:00``.

    ``days_only`` leaves the clocks away: ``Friday 14 May to Saturday 15 May``.
    """

    begin_s: float
    end_s: float
    zone: str
    with_day: bool = True
    days_only: bool = False


@dataclass(frozen=True, slots=True)
class Title:
    """What a row of a bundled table is called: its English title, and the topic and key a translation goes by."""

    topic: str
    key: str
    english: str


@dataclass(frozen=True, slots=True)
class Sentence:
    """A sentence of the catalogue with what fills its gaps, not said yet; gaps may be sentences themselves."""

    key: str
    gaps: tuple[tuple[str, object], ...] = ()

    def with_(self, **more: object) -> Sentence:
        """The same sentence with further gaps filled."""
        return Sentence(self.key, (*self.gaps, *more.items()))


def sentence(key: str, **gaps: object) -> Sentence:
    """A sentence to be said later, in the language and units of its reader."""
    return Sentence(key, tuple(gaps.items()))


def temp(temp_c: float, digits: int = 1) -> Quantity:
    """A temperature, in C."""
    return Quantity(temp_c, "temp", digits)


def step(step_k: float, digits: int = 1) -> Quantity:
    """A temperature difference, in kelvin; read as degrees."""
    return Quantity(step_k, "step", digits)


def distance(km: float, digits: int = 0) -> Quantity:
    """A distance along the road, in km."""
    return Quantity(km, "distance", digits)


def height(m: float) -> Quantity:
    """A height above the sea, in m."""
    return Quantity(m, "height")


def speed(m_per_s: float) -> Quantity:
    """A speed, in m/s."""
    return Quantity(m_per_s, "speed")


def volume(ml: float) -> Quantity:
    """A volume of water, in ml."""
    return Quantity(ml, "volume")


def mass(kg: float, digits: int = 1) -> Quantity:
    """A mass, in kg."""
    return Quantity(kg, "mass", digits)


def duration(seconds: float) -> Quantity:
    """A span of time, in s; read as hours and minutes."""
    return Quantity(seconds, "duration")


def minutes(count: float) -> Quantity:
    """Whole minutes, however many: a standing time is never read as hours."""
    return Quantity(count, "minutes")


def share(of_one: float, digits: int = 0) -> Quantity:
    """A share 0..1, read as a percentage."""
    return Quantity(of_one, "share", digits)


def watts(w: float) -> Quantity:
    """A power, in W."""
    return Quantity(w, "watts")
