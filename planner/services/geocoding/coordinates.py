"""Coordinates as people write them: decimal or in degrees, minutes, seconds; letters or signs; geo: addresses."""

from __future__ import annotations

import re

from planner.errors import Fault, InputError
from planner.words import say

REMEDY = "Write latitude and longitude, like 48.2082, 16.3738 or 48°12'30\"N 16°22'26\"E"

_AXIS = {"N": (0, 1), "S": (0, -1), "E": (1, 1), "W": (1, -1), "O": (1, 1)}
"""Which of the two numbers a letter marks, and its sign; O is the German east."""

_WORDS = (
    (r"\bNORTH\b", "N"),
    (r"\bSOUTH\b", "S"),
    (r"\bEAST\b", "E"),
    (r"\bWEST\b", "W"),
    (r"\bDEG(REES?)?\b", "°"),
    (r"\bMIN(UTES?)?\b", "'"),
    (r"\bSEC(ONDS?)?\b", '"'),
)
_TOKEN = re.compile(
    r"(?P<number>\d+(?:[.,]\d+)?)|(?P<deg>[°º˚])|(?P<sec>[\"″”]|''|′′)|(?P<min>['′’])"
    r"|(?P<letter>[NSEWO])|(?P<sign>[-+−])|(?P<gap>[,;/])|(?P<blank>\s+)"
)
_SIGNED = r"([-+−]?\d+(?:[.,]\d+)?)"
_TIGHT_PAIR = re.compile(r"([-+−]?\d+(?:\.\d+)?),([-+−]?\d+(?:\.\d+)?)")
_LOOSE_PAIR = re.compile(rf"{_SIGNED}(?:\s*[;/]\s*|\s*,\s+|\s+,\s*|\s+){_SIGNED}")
_GEO = re.compile(r"(?i)geo:([-+]?\d+(?:\.\d+)?),([-+]?\d+(?:\.\d+)?)(?:,[-+]?\d+(?:\.\d+)?)?(?:[;?].*)?")

Token = tuple[str, str]


def looks_like_coordinates(text: str) -> bool:
    """True where a text is meant as coordinates rather than a name."""
    if text.strip().lower().startswith("geo:"):
        return True
    tokens = _tokens(text)
    return tokens is not None and any(kind == "number" for kind, _ in tokens)


def parse_coordinates(text: str) -> tuple[float, float]:
    """Latitude and longitude in degrees, north and east positive; raises InputError saying what is wrong.

    Without letters the first number is the latitude. A comma may be a decimal sign where a semicolon or blank
    stands between the numbers.
    """
    pair = _two_numbers(text.strip()) or _two_angles(text)
    if pair is None:
        raise _fault(text, "these are not coordinates that can be read")
    lat, lon = pair
    if abs(lat) > 90.0:
        raise _fault(text, say("services.latitude_does_exist", lat=f"{lat:g}"))
    if abs(lon) > 180.0:
        raise _fault(text, say("services.longitude_does_exist", lon=f"{lon:g}"))
    return lat, lon


def _fault(text: str, problem: str) -> InputError:
    return InputError([Fault("coordinates", text.strip()[:80], problem, REMEDY)])


def _two_numbers(text: str) -> tuple[float, float] | None:
    """Two plain numbers, or a geo: address (RFC 5870) with its height and parameters left aside."""
    for form in (_GEO, _TIGHT_PAIR, _LOOSE_PAIR):
        if match := form.fullmatch(text):
            return _number(match[1]), _number(match[2])
    return None


def _two_angles(text: str) -> tuple[float, float] | None:
    """Two angles marked by letters, degree signs or something between them."""
    halves = _halves(_tokens(text) or [])
    if halves is None:
        return None
    found: dict[int, float] = {}
    for position, half in enumerate(halves):
        angle = _angle(half, text)
        letters = [value for kind, value in half if kind == "letter"]
        if angle is None or len(letters) > 1:
            return None
        axis, side = _AXIS[letters[0]] if letters else (position, 1)
        if letters and any(kind == "sign" for kind, _ in half):
            raise _fault(text, "a sign and a letter contradict each other")
        if axis in found:
            raise _fault(text, "both numbers name the same direction")
        found[axis] = side * angle
    return found[0], found[1]


def _tokens(text: str) -> list[Token] | None:
    """The text as tokens without blanks; None where it holds anything else."""
    upper = text.upper()
    for word, mark in _WORDS:
        upper = re.sub(word, mark, upper)
    tokens, at = [], 0
    while at < len(upper):
        match = _TOKEN.match(upper, at)
        if match is None or match.lastgroup is None:
            return None
        if match.lastgroup != "blank":
            tokens.append((match.lastgroup, match[0]))
        at = match.end()
    return tokens


def _halves(tokens: list[Token]) -> tuple[list[Token], list[Token]] | None:
    """The tokens of the first and of the second angle."""
    kinds = [kind for kind, _ in tokens]
    letters = [index for index, kind in enumerate(kinds) if kind == "letter"]
    gaps = [index for index, kind in enumerate(kinds) if kind == "gap"]
    degrees = [index - 1 for index, kind in enumerate(kinds) if kind == "deg" and index]
    if len(letters) == 2:
        cut = letters[1] if letters[0] == 0 else letters[0] + 1
    elif letters:
        return None
    elif len(gaps) == 1:
        cut = gaps[0]
    elif len(degrees) == 2:
        cut = degrees[1] - (kinds[degrees[1] - 1] == "sign")
    else:
        return None
    first, second = tokens[:cut], tokens[cut:]
    return [t for t in first if t[0] != "gap"], [t for t in second if t[0] != "gap"]


def _angle(tokens: list[Token], text: str) -> float | None:
    """Degrees of up to three numbers in falling order, with or without their marks."""
    parts = [token for token in tokens if token[0] != "letter"]
    sign = -1.0 if parts and parts[0][1] in ("-", "−") else 1.0
    parts = parts[1:] if parts and parts[0][0] == "sign" else parts
    numbers: list[float] = []
    marks = ("deg", "min", "sec")
    for kind, value in parts:
        if kind == "number" and len(numbers) < 3:
            numbers.append(_number(value))
        elif not numbers or kind != marks[len(numbers) - 1]:
            return None
    if not numbers:
        return None
    if any(number >= 60.0 for number in numbers[1:]):
        raise _fault(text, "minutes and seconds end at 59")
    return sign * sum(number / 60.0**power for power, number in enumerate(numbers))


def _number(text: str) -> float:
    return float(text.replace(",", ".").replace("−", "-"))
