"""Names of boxes: a letter, a number and a letter that catches a misheard one, such as B023T."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator

FIRST = "ABCDEFGHJKLMNPQRSTVWXYZ"
"""Letters a name may begin with: 23, so that no two differ by a multiple of 23; none that looks like a figure."""

CHECK = "TRWAGMYFPDXBNJZSQVHLCKE"
"""The letter for each remainder by 23, as identity cards of a whole country carry it: ten digits share no letter."""

USUAL_DIGITS = 3
PATTERN = re.compile(rf"([{FIRST}])([0-9]{{1,5}})([A-Z])")


def box_name(number: int, first: str = "B") -> str:
    """The name of a box by its number.

    >>> box_name(23)
    'B023W'
    """
    digits = f"{number:0{USUAL_DIGITS}d}"
    return f"{first}{digits}{check_letter(first, digits)}"


def check_letter(first: str, digits: str) -> str:
    """The last letter of a name; one wrong letter or figure, or two neighbours swapped, ask for another.

    The remainder by a prime beyond 2 x 9: no single slip of one place keeps it.
    """
    return CHECK[(FIRST.index(first) * 10 ** len(digits) + int(digits)) % len(CHECK)]


def fault_of(name: str) -> str | None:
    """What is wrong with a name in plain words; None where nothing is."""
    found = PATTERN.fullmatch(name)
    if found is None:
        return "this is no name of a box, such as B023W"
    first, digits, last = found.groups()
    if last != check_letter(first, digits):
        return "its last letter does not belong to the rest: one of them was misheard or mistyped"
    return None


def free_names(taken: Collection[str], first: str = "B") -> Iterator[str]:
    """Names that nobody has yet, by rising number."""
    held = set(taken)
    number = 0
    while True:
        number += 1
        name = box_name(number, first)
        if name not in held:
            yield name
