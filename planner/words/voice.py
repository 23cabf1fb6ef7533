"""A voice: one language and one system of units; it says sentences by key and writes values for its reader."""

from __future__ import annotations

import operator
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from planner.units import METRIC, US, UnitSystem
from planner.words.catalogue import COUNT, SOURCE, NoSuchWords, entry, gaps_of, languages, template, title
from planner.words.quantities import Moment, Quantity, Sentence, Stretch, Title

__all__ = ["US", "Voice", "current", "languages", "say", "set_voice", "speaking", "text"]

FT_PER_M = 1.0 / 0.3048
BY_UNITS = {
    "temp": ("locale.temp_metric", "locale.temp_us"),
    "distance": ("locale.distance_metric", "locale.distance_us"),
    "height": ("locale.height_metric", "locale.height_us"),
    "speed": ("locale.speed_metric", "locale.speed_us"),
    "volume": ("locale.volume_metric", "locale.volume_us"),
    "mass": ("locale.mass_metric", "locale.mass_us"),
}
"""How a quantity is written in metric and in US units."""
GROUPED_FROM = 10_000
"""Whole numbers of five digits and more are written in groups of three."""


@dataclass(frozen=True, slots=True)
class Voice:
    """Says everything in one language and one system of units."""

    language: str = SOURCE
    units: UnitSystem = METRIC

    def say(self, key: str, **gaps: object) -> str:
        """The sentence of a key with its gaps filled; every gap is a text, a whole number or a value with its unit.

        Raises
        ------
        NoSuchWords : no such key, a gap without a value, a value without a gap
        """
        found = entry(key)
        if gaps.keys() != found.gaps:
            raise NoSuchWords(f"{key} has the gaps {sorted(found.gaps)}, not {sorted(gaps)}")
        count = None if found.other is None else operator.index(gaps[COUNT])  # type: ignore[arg-type]
        sentence = template(self.language, key, count)
        if not gaps:
            return sentence.replace("{{", "{").replace("}}", "}")
        if (
            not gaps_of(sentence) <= found.gaps
        ):  # a translation's misspelt gap; a test finds it, no reader shall
            sentence = template(SOURCE, key, count)
        return sentence.format(**{name: self.text(value) for name, value in gaps.items()})

    def text(self, value: object) -> str:
        """A value as this reader reads it: texts as they are, whole numbers, quantities, instants."""
        match value:
            case str():
                return value
            case Quantity():
                return self._quantity(value)
            case Moment():
                return self._moment(value)
            case Stretch():
                return self._stretch(value)
            case Sentence():
                return self.say(value.key, **dict(value.gaps))
            case Title():
                return title(self.language, value.topic, value.key, value.english)
            case bool() | float():
                raise TypeError(f"{value!r} has no unit and no digits: hand over a quantity or a text")
        return self.number(operator.index(value))  # type: ignore[arg-type]

    def number(self, value: float, digits: int = 0) -> str:
        """A bare number with the language's signs, and no minus before nothing."""
        places = (
            "" if isinstance(value, int) and not digits else f".{digits}f"
        )  # a whole number of any length
        shown = format(value, f",{places}" if abs(value) >= GROUPED_FROM else places)
        if not shown.strip("-0.,"):
            shown = shown.lstrip("-")
        signs = str.maketrans({",": self.say("locale.group_sign"), ".": self.say("locale.decimal_sign")})
        return shown.translate(signs)

    # -- quantities --------------------------------------------------------------------------------

    def _quantity(self, given: Quantity) -> str:
        value, digits, units = given.value, given.digits, self.units
        match given.kind:
            case "temp":
                return self.say(self._by_units("temp"), value=self.number(units.temp(value), digits))
            case "step":
                return self._step(units.temp_step(value), digits)
            case "distance":
                return self.say(self._by_units("distance"), value=self.number(units.distance(value), digits))
            case "height":
                shown = round(value * FT_PER_M, -1) if units.us else value
                return self.say(self._by_units("height"), value=self.number(shown))
            case "speed":
                return self.say(self._by_units("speed"), value=self.number(units.speed(value)))
            case "volume":
                shown, places = (units.volume(value), 1) if units.us else (value, 0)
                return self.say(self._by_units("volume"), value=self.number(shown, places))
            case "mass":
                return self.say(self._by_units("mass"), value=self.number(units.mass(value), digits))
            case "duration":
                return self._duration(value)
            case "minutes":
                return self.say("locale.minutes", value=self.number(value))
            case "share":
                return self.say("locale.percent", value=self.number(100.0 * value, digits))
            case "watts":
                return self.say("locale.watts", value=self.number(value, digits))

    def _by_units(self, kind: str) -> str:
        return BY_UNITS[kind][self.units.us]

    def _step(self, shown: float, digits: int) -> str:
        value = self.number(shown, digits)
        if self.units.us:
            return self.say("locale.step_us", value=value)
        return self.say("locale.one_degree" if value == "1" else "locale.degrees", value=value)

    def _duration(self, seconds: float) -> str:
        hours, rest = divmod(round(seconds / 60.0), 60)
        if not hours:
            return self.say("locale.minutes", value=self.number(rest))
        if not rest:
            return self.say("locale.hours", value=self.number(hours))
        return self.say("locale.hours_minutes", hours=self.number(hours), minutes=f"{rest:02d}")

    # -- instants ----------------------------------------------------------------------------------

    def _moment(self, given: Moment) -> str:
        at = datetime.fromtimestamp(given.time_s, ZoneInfo(given.zone))
        clock = self.say("locale.clock", hour=f"{at:%H}", minute=f"{at:%M}")
        match given.form:
            case "clock":
                return clock
            case "day_clock":
                return self.say("locale.day_clock", weekday=self._weekday(at), clock=clock)
            case "date":
                return self.say("locale.date", day=self._day(at), month=self._month(at), year=str(at.year))
            case "date_clock":
                return self.say(
                    "locale.date_clock",
                    weekday=self._weekday(at),
                    day=self._day(at),
                    month=self._month(at),
                    clock=clock,
                )
            case "stamp":
                return f"{at:%Y-%m-%d} {clock}"
            case "weekday_date":
                return self._weekday_date(at)

    def _stretch(self, given: Stretch) -> str:
        begin, end = (
            datetime.fromtimestamp(at_s, ZoneInfo(given.zone)) for at_s in (given.begin_s, given.end_s)
        )
        if given.days_only:
            days = [self._weekday_date(at) for at in (begin, end)]
            return (
                days[0]
                if days[0] == days[1]
                else self.say("locale.stretch_of_days", begin=days[0], end=days[1])
            )
        clocks = [self.say("locale.clock", hour=f"{at:%H}", minute=f"{at:%M}") for at in (begin, end)]
        if begin.date() != end.date():
            return self.say(
                "locale.stretch_of_days",
                begin=self.say("locale.day_clock", weekday=self._weekday(begin), clock=clocks[0]),
                end=self.say("locale.day_clock", weekday=self._weekday(end), clock=clocks[1]),
            )
        same = clocks[0] == clocks[1]
        stretch = clocks[0] if same else self.say("locale.stretch", begin=clocks[0], end=clocks[1])
        if not given.with_day:
            return stretch
        return self.say("locale.day_clock", weekday=self._weekday(begin), clock=stretch)

    def _weekday_date(self, at: datetime) -> str:
        return self.say(
            "locale.weekday_date", weekday=self._weekday(at), day=self._day(at), month=self._month(at)
        )

    def _weekday(self, at: datetime) -> str:
        return self.say(f"locale.weekday_{at.isoweekday()}")

    def _day(self, at: datetime) -> str:
        """The day of the month; some languages write the first one apart."""
        return self.say("locale.first_of_month") if at.day == 1 else str(at.day)

    def _month(self, at: datetime) -> str:
        return self.say(f"locale.month_{at.month}")


_of_the_program = Voice()
_here: ContextVar[Voice | None] = ContextVar("voice", default=None)


def current() -> Voice:
    """The voice that speaks here: of the innermost :func:`speaking`, else the program's."""
    return _here.get() or _of_the_program


def set_voice(voice: Voice) -> None:
    """What the whole program speaks from now on, in every thread."""
    global _of_the_program
    _of_the_program = voice


@contextmanager
def speaking(voice: Voice) -> Iterator[Voice]:
    """Speak otherwise for a while, in this thread: one sheet in its reader's language."""
    token = _here.set(voice)
    try:
        yield voice
    finally:
        _here.reset(token)


def say(key: str, **gaps: object) -> str:
    """The sentence of a key with its gaps filled, in the voice that speaks here.

    ``say("common.boxes", count=3)`` is ``3 boxes``. Gaps take texts, whole numbers and values with their units
    (:mod:`planner.words.quantities`); bare fractions are refused, as nobody could say how many digits they have.

    Raises
    ------
    NoSuchWords : no such key, a gap without a value, a value without a gap
    """
    return current().say(key, **gaps)


def text(value: object) -> str:
    """A value as the reader here reads it: quantities in their units, instants, whole numbers."""
    return current().text(value)
