"""Texts of users made fit to be set: no characters that steer or that no font has, nothing longer than there is room.

PDF/A-2a refuses a whole document for one character without a glyph, and a reader must see that something is missing:
a run of such characters becomes one visible mark.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from functools import cache

from planner.bundled import resource_path

MARK = "[?]"
CUT = "…"
MOST_CHARACTERS = 80
"""Of one text of a user's: two lines of a column."""
MOST_LONG = 400
"""Of a reason that was typed, which is printed whole."""
MOST_SENTENCE = 600
BREAK_AFTER = 14
"""A word without an end is given places to break so far apart."""
SOFT_HYPHEN = "\u00ad"
_STEERING = {"Cc", "Cf", "Co", "Cs", "Cn"}
_JOINERS = {"\u200c", "\u200d"}


@dataclass(frozen=True, slots=True)
class Cleaned:
    """A text as it can be set, and what had to be done to it."""

    text: str
    marked: bool = False
    cut: bool = False


@cache
def covered() -> frozenset[int]:
    """The characters that the bundled fonts have."""
    lines = resource_path("fonts", "coverage.txt").read_text(encoding="ascii").split()
    pairs = ([int(end, 16) for end in line.split("-")] for line in lines)
    return frozenset(code for first, last in pairs for code in range(first, last + 1))


@cache
def _plain() -> re.Pattern[str]:
    """Texts with nothing to do: single spaces, letters that every font has, and none that are put together."""
    kept = "".join(
        re.escape(chr(code))
        for code in sorted(covered())
        if unicodedata.category(chr(code)) not in _STEERING | {"Mn", "Zs"}
    )
    return re.compile(f"[{kept}]*(?: [{kept}]+)*")


def cleaned(text: str, most: int = MOST_CHARACTERS, *, on_paper: bool = True) -> Cleaned:
    """A text of a user's as it can be printed; ``on_paper``: with the bundled fonts alone.

    ``cut`` where it was longer than ``most`` characters, ``marked`` where characters became the mark.
    """
    if len(text) <= most and _plain().fullmatch(text):
        return Cleaned(text)
    shown = unicodedata.normalize("NFC", " ".join(text[: 20 * most].split()))
    cut = len(text) > 20 * most
    out, marked = [], False
    for character in shown:
        if _printable(character, on_paper):
            out.append(character)
        else:
            marked = True
            if not out or out[-1] != MARK:
                out.append(MARK)
    if len(out) > most:
        out, cut = [*out[: most - 1], CUT], True
    elif cut:
        out.append(CUT)
    return Cleaned("".join(out), marked, cut)


def _printable(character: str, on_paper: bool) -> bool:
    if unicodedata.category(character) in _STEERING and not (character in _JOINERS and not on_paper):
        return False
    return not on_paper or ord(character) in covered()


def breakable(text: str) -> str:
    """The text with places to break in words that would not fit into a column."""
    return re.sub(rf"\S{{{2 * BREAK_AFTER},}}", _broken, text)


def _broken(found: re.Match[str]) -> str:
    word = found.group()
    return SOFT_HYPHEN.join(word[at : at + BREAK_AFTER] for at in range(0, len(word), BREAK_AFTER))
