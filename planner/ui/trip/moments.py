"""Days and times as people type them; pure text, no widget."""

from __future__ import annotations

import re
from contextlib import suppress
from datetime import date, datetime, time, timedelta

from planner.ui.look import strings as s

CLOCK = re.compile(
    r"(?<![\d.:])(?P<hour>\d{1,2})(?:[:.h](?P<minute>\d{2}))?\s*(?P<half>am|pm)?(?![\d.:])", re.IGNORECASE
)
ISO_DAY = re.compile(r"(\d{4})-(\d{1,2})-(\d{1,2})")
NUMBER_DAY = re.compile(r"(?<!\d)(\d{1,2})[./](\d{1,2})(?:[./](\d{2,4}))?\.?(?!\d)")
NAMED_DAY = re.compile(r"(?<!\d)(\d{1,2})\.?\s+([a-z]{3,9})\.?(?:,?\s+(\d{4}))?(?!\d)", re.IGNORECASE)
NAMED_FIRST = re.compile(r"([a-z]{3,9})\.?\s+(\d{1,2})(?:,\s*|\s+)?(\d{4})?(?![\d:])", re.IGNORECASE)


def written(moment: datetime) -> str:
    """For example ``Sat 28 Nov 2026 06:00``; what is written here can be read back."""
    return s.say(
        s.MOMENT_TEXT,
        weekday=s.say(s.WEEKDAYS[moment.weekday()]),
        day=moment.day,
        month=s.say(s.MONTHS[moment.month - 1]),
        year=moment.year,
        clock=f"{moment:%H:%M}",
    )


def read_moment(text: str, near: datetime, *, month_first: bool = False) -> datetime | None:
    """The moment meant by a text; a day or a time that is left out is that of ``near``. None: not understood."""
    rest = text.strip().lower().replace("t", " ", 1) if re.match(r"\d{4}-\d", text.strip()) else text.lower()
    try:
        day, rest = _day(rest, near, month_first=month_first)
    except ValueError:  # 31 February
        return None
    clock, rest = _clock(rest)
    if re.sub(r"[\s,;]|\bat\b", "", rest) or (day is None and clock is None):
        return None
    return datetime.combine(day or near.date(), clock or near.time().replace(second=0, microsecond=0))


def read_clock(text: str) -> time | None:
    """A time of day: ``21:30``, ``9.30 pm``, ``2130``, ``21``."""
    text = text.strip().lower()
    if re.fullmatch(r"\d{3,4}", text):
        text = f"{text[:-2]}:{text[-2:]}"
    clock, rest = _clock(text)
    return None if rest.strip() else clock


def _clock(text: str) -> tuple[time | None, str]:
    found = CLOCK.search(text)
    if found is None:
        return None, text
    hour, minute, half = int(found["hour"]), int(found["minute"] or 0), (found["half"] or "").lower()
    if half and 1 <= hour <= 12:
        hour = hour % 12 + (12 if half == "pm" else 0)
    if hour > 23 or minute > 59:
        return None, text
    return time(hour, minute), text[: found.start()] + text[found.end() :]


def _day(text: str, near: datetime, *, month_first: bool) -> tuple[date | None, str]:
    for word, ahead in (("today", 0), ("tomorrow", 1)):
        if word in text:
            return date.today() + timedelta(days=ahead), text.replace(word, " ")
    if found := ISO_DAY.search(text):
        return _made(*map(int, found.groups())), _cut(text, found)
    if (found := NAMED_DAY.search(text)) and (month := _month(found[2])):
        return _year_of(int(found[3] or 0), month, int(found[1]), near), _named_cut(text, found)
    if (found := NAMED_FIRST.search(text)) and (month := _month(found[1])):
        return _year_of(int(found[3] or 0), month, int(found[2]), near), _named_cut(text, found)
    if found := NUMBER_DAY.search(text):
        one, two = int(found[1]), int(found[2])
        if found[3] is None and "." in found[0] and not found[0].endswith(".") and two > 12:
            return None, text  # 20.30 is a time of day
        day, month = (two, one) if month_first else (one, two)
        year = int(found[3] or 0)
        return _year_of(year + 2000 if 0 < year < 100 else year, month, day, near), _cut(text, found)
    for number, name in enumerate(s.WEEKDAYS):
        if found := re.search(rf"\b{name.lower()}[a-z]*\b", text):
            ahead = (number - near.weekday()) % 7
            return near.date() + timedelta(days=ahead), _cut(text, found)
    return None, text


def _cut(text: str, found: re.Match[str]) -> str:
    return text[: found.start()] + " " + text[found.end() :]


def _named_cut(text: str, found: re.Match[str]) -> str:
    """What is left beside a day with the name of its month: the weekday, which the day tells already, goes too."""
    names = "|".join(name.lower() for name in s.WEEKDAYS)
    return re.sub(rf"\b({names})[a-z]*\b\.?,?", " ", _cut(text, found))


def _month(word: str) -> int | None:
    known = [name.lower() for name in s.MONTHS]
    return known.index(word[:3].lower()) + 1 if word[:3].lower() in known else None


def _year_of(year: int, month: int, day: int, near: datetime) -> date:
    """A day whose year is left out lies nearest to ``near``; ValueError where there is none in any year."""
    if year:
        return _made(year, month, day)
    known = []
    for by in (-1, 0, 1):
        with suppress(ValueError):
            known.append(_made(near.year + by, month, day))
    return min(known, key=lambda one: abs((one - near.date()).days))


def _made(year: int, month: int, day: int) -> date:
    """The day; ValueError where there is none."""
    return date(year, month, day)
