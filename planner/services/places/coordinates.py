"""Coordinates as people write them: decimal or degrees-minutes-seconds, either order of letters, geo: addresses."""

from __future__ import annotations

import math
import re

from planner.errors import Fault, InputError

REMEDY = "Write latitude and longitude, like 48.2082, 16.3738 or 48°12'30\"N 16°22'26\"E."

_LETTERS = {"N": (0, 1), "S": (0, -1), "E": (1, 1), "W": (1, -1), "O": (1, 1)}
"""O is east in German and west in French or Spanish: taken as east only where no other reading is possible."""

_NUMBER = r"\d+(?:[.,]\d+)?"
_ANGLE = re.compile(
    rf"(?P<sign>[-+\u2212]?)\s*(?P<deg>{_NUMBER})\s*(?:[°º\u02da]|deg)?"
    rf"(?:\s*(?P<min>{_NUMBER})\s*(?:['\u2032\u2019]|min|m(?![a-z])))?"
    rf"(?:\s*(?P<sec>{_NUMBER})\s*(?:[\"\u2033\u201d]|''|sec|s(?![a-z])))?"
)
_PLAIN_PAIR = re.compile(
    r"([-+\u2212]?\d+(?:[.,]\d+)?)\s*(?:[;/\s]|,\s+|,(?=[-+\u2212]))\s*([-+\u2212]?\d+(?:[.,]\d+)?)$"
)
_TIGHT_PAIR = re.compile(r"([-+\u2212]?\d+\.\d+|[-+\u2212]?\d+),([-+\u2212]?\d+(?:\.\d+)?)$")
_GEO = re.compile(r"(?i)geo:([-+]?\d+(?:\.\d+)?),([-+]?\d+(?:\.\d+)?)(?:,[-+]?\d+(?:\.\d+)?)?(?:[;?].*)?$")
_GAPS = re.compile(r"(\d)\s+(?=\d)")


def looks_like_coordinates(text: str) -> bool:
    """True where a text is meant as coordinates rather than a name: it holds digits and hardly any letters."""
    if text.strip().lower().startswith("geo:"):
        return True
    letters = re.sub(r"(?i)\b(deg|min|sec|[nsewo])\b|[nsewo](?=[\s,;\d]|$)", "", text)
    return bool(re.search(r"\d", text)) and not re.search(r"[^\W\d_]", letters)


def parse_coordinates(text: str) -> tuple[float, float]:
    """Latitude and longitude in degrees, north and east positive; raises InputError saying what is wrong.

    Without letters the first number is the latitude. A comma may be a decimal sign where a semicolon or blank
    stands between the numbers.
    """
    said = text.strip()
    pair = _geo(said) or _plain(said) or _with_letters(said)
    if pair is None:
        raise _fault(text, "these are not coordinates that can be read")
    lat, lon = pair
    if not abs(lat) <= 90.0:
        raise _fault(text, f"a latitude of {lat:g} does not exist; latitude comes first")
    if not abs(lon) <= 180.0:
        raise _fault(text, f"a longitude of {lon:g} does not exist")
    return lat, lon


def _fault(text: str, problem: str) -> InputError:
    return InputError([Fault("coordinates", text.strip()[:80], problem, REMEDY)])


def _geo(text: str) -> tuple[float, float] | None:
    """RFC 5870; a height and parameters after the two numbers are left aside."""
    match = _GEO.match(text)
    return (float(match[1]), float(match[2])) if match else None


def _plain(text: str) -> tuple[float, float] | None:
    """Two numbers and nothing else."""
    match = _TIGHT_PAIR.match(text) or _PLAIN_PAIR.match(text)
    return (_number(match[1]), _number(match[2])) if match else None


def _with_letters(text: str) -> tuple[float, float] | None:
    """Two angles with degree signs, minutes and seconds, or letters before or after each."""
    parts = _split(
        text.upper().replace("WEST", "W").replace("EAST", "E").replace("NORTH", "N").replace("SOUTH", "S")
    )
    if parts is None:
        return None
    found: dict[int, float] = {}
    for position, part in enumerate(parts):
        letter = "".join(re.findall(r"[NSEWO](?![A-Z])", part))
        angle = _angle(re.sub(r"[NSEWO](?![A-Z])", " ", part), text)
        if angle is None or len(letter) > 1:
            return None
        axis, side = _LETTERS[letter] if letter else (position, 1)
        if letter and angle < 0.0:
            raise _fault(text, "a minus sign and a letter contradict each other")
        if axis in found:
            raise _fault(text, "both numbers name the same direction")
        found[axis] = side * angle
    return found[0], found[1]


def _split(text: str) -> tuple[str, str] | None:
    """The text cut between its two angles."""
    for pattern in (
        r"(.*\d.*?[NSEWO])[\s,;/]*([^NSEWO]*\d[^NSEWO]*[NSEWO]?)$",
        r"([NSEWO].*?\d.*?)[\s,;/]*([NSEWO].*\d.*)$",
        r"([^;/]*\d[^;/]*)[;/]([^;/]*\d[^;/]*)$",
        r"(.*\d.*?)\s*,\s+(.*\d.*)$",
        r"([^\"\u2033]*[\"\u2033])\s*,?\s*(.+)$",
        r"([^'\u2032]*['\u2032])\s*,?\s*(\D*\d+\s*[°º].*)$",
        r"([^°º]*[°º])\s*,?\s*([^°º]*[°º])$",
    ):
        match = re.match(pattern, text.strip())
        if match:
            return match[1], match[2]
    return None


def _angle(part: str, text: str) -> float | None:
    cleaned = _GAPS.sub(r"\1 ", part).strip(" ,;")
    bare = re.fullmatch(rf"([-+\u2212]?)({_NUMBER})\s+({_NUMBER})(?:\s+({_NUMBER}))?", cleaned)
    if bare:
        sign, numbers = bare[1], (bare[2], bare[3], bare[4])
    else:
        match = _ANGLE.fullmatch(cleaned.lower())
        if match is None:
            return None
        sign, numbers = match["sign"], (match["deg"], match["min"], match["sec"])
    degrees, minutes, seconds = (_number(number) if number else 0.0 for number in numbers)
    if minutes >= 60.0 or seconds >= 60.0:
        raise _fault(text, "minutes and seconds end at 59")
    angle = degrees + minutes / 60.0 + seconds / 3600.0
    return -angle if sign in ("-", "\u2212") else angle


def _number(text: str) -> float:
    value = float(text.replace(",", ".").replace("\u2212", "-"))
    return value if math.isfinite(value) else math.nan
