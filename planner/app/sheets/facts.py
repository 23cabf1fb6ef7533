"""What the sheets know of this trip: the one answer, its candidate, and what the road asks for.

Everything a sheet says comes from here; ``gather`` fills it from a plan, tests fill it by hand. Instants are POSIX
seconds UTC, None is "not known" or "there is none" as each field says.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict, dataclass
from functools import cached_property
from typing import Literal

from planner.app.common.wording import NO_STOP_BELOW_MIN
from planner.words import Title
from planner.zones import ahead_s

NOWHERE = Title("places", "", "")

Decision = Literal["go", "go_if", "do_not_go", "cannot_tell"]
Air = Literal["cooled", "windows", "shut", "open", "fan"]
"""How the boxes get air where they ride: air conditioning, open windows, a shut space, the open deck, a roof fan."""

STAND_STEP_MIN = 5
REST_FROM_MIN = 30
"""Below so many minutes of standing there is no stop for a meal (common practice, no source)."""
CODE_LETTERS = "ABCDEFGHJKLMNPQRSTVWXYZ"
"""None that looks like a figure."""


@dataclass(frozen=True)
class GroupFacts:
    """One group of boxes as this candidate has it.

    ``screen``: none | on | off whether its boxes can take a roof screen and whether the plan has it on; ``battens``
    they stand on battens; ``scrape`` the plan counts on scraped floors. What a box has is read off its kind by
    ``parts``: ``frames`` in which combs hang, a ``lid``, ``entrances`` to fly from, ``mesh_floor`` and ``vents`` in
    the sides that breathe, a ``can`` of syrup. ``air`` and ``set_point_c`` are of the ``place`` it rides in.
    """

    label: str
    count: int
    names: tuple[str, ...]
    place: Title
    closed_s: float
    closing: str = "after_sunset"
    screen: Literal["none", "on", "off"] = "none"
    mesh_floor: bool = True
    battens: bool = True
    scrape: bool = False
    entrance: str = "foam"
    mist_ml: float = 0.0
    frames: bool = True
    lid: bool = True
    entrances: bool = True
    vents: bool = False
    can: bool = False
    air: Air | None = None
    set_point_c: float | None = None


@dataclass(frozen=True)
class Riding:
    """A place where boxes ride, and how they get air there."""

    place: Title
    air: Air
    set_point_c: float | None = None


ASKS_MOST: tuple[Air, ...] = ("cooled", "windows", "shut", "fan", "open")
"""Airs from the one that asks for most while the vehicle stands: cooling that must run, then doors to be opened."""


@dataclass(frozen=True)
class Halt:
    """A planned stop: rest | fuel | break | load | unload.

    ``place`` is empty for a legal break that the program put in, where it is due. ``shade``, ``engine_on``,
    ``doors_open``: what the plan counts on while it lasts.
    """

    at_s: float
    lasts_s: float
    place: str
    purpose: str
    km: float
    shade: bool = False
    engine_on: bool = False
    doors_open: bool = False


@dataclass(frozen=True)
class Standing:
    """How long the vehicle may stand at one moment, in minutes, by what is done; None: the way makes no sense here.

    ``inf`` is longer than was looked at. The figures are those that 5 of 100 variants fall short of.
    """

    at_s: float
    km: float
    shut_min: float
    doors_min: float | None = None
    shade_min: float | None = None
    misted_min: float | None = None
    engine_min: float | None = None


@dataclass(frozen=True)
class Proof:
    """Where the sheet comes from: ``issued_s`` None where the weather is no forecast; ``kind`` of the weather."""

    printed_s: float
    issued_s: float | None
    kind: str
    source: str
    ends_s: float
    replaces: str = ""


@dataclass(frozen=True)
class BoxFound:
    """What the logbook says of one box: the outcome of its check ("" nobody has looked) and what was ``said`` of it,
    the reason of whoever let it go ``against`` advice, when it was shut, POSIX seconds or None; by name the changes
    (``fixes``) it is released with, in minutes the longest drive it is released for."""

    box: str
    outcome: str = ""
    said: str = ""
    against: str = ""
    closed_s: float | None = None
    fixes: tuple[str, ...] = ()
    minutes: int = 0


@dataclass(frozen=True)
class TripFacts:
    """All that the sheets of one trip say.

    ``missing`` what is not known where nothing can be told: weather, road, or chance, where the samples lie on both
    sides of what was accepted. ``stand_min`` the one answer's figure at the worst moment of the drive, raw; None where
    not known, ``inf`` where it is longer than was looked at. ``harm_of_100`` of the best candidate. ``mist_s`` when
    boxes are misted. ``cold``: the danger of this trip is chill, not heat. ``near_m`` between old stand and new,
    straight. ``countries`` on the road as ISO codes, in its order. ``opens_dark``, ``opens_wet``: night or rain when
    the boxes are opened. ``gate_s``: when the gate opens for whoever comes before it does.
    ``found`` what the logbook knows of the boxes, empty where nobody has begun to look.
    """

    title: str
    origin: str
    destination: str
    zone: str
    zone_there: str
    decision: Decision
    proof: Proof
    boxes: int
    groups: tuple[GroupFacts, ...]
    missing: tuple[str, ...] = ()
    leave_from_s: float | None = None
    leave_s: float | None = None
    leave_to_s: float | None = None
    arrive_s: float | None = None
    open_s: float | None = None
    gate_s: float | None = None
    stand_min: float | None = None
    stands: tuple[Standing, ...] = ()
    halts: tuple[Halt, ...] = ()
    mist_s: tuple[float, ...] = ()
    mist_ml: float = 0.0
    carry_ml: float = 0.0
    no_mist_below_c: float = 12.0
    too_cold_to_mist: bool = False
    harm_of_100: float | None = None
    vehicle: Title = NOWHERE
    place: Title = NOWHERE
    air: Air = "open"
    set_point_c: float | None = None
    loose_bees: bool = True
    cold: bool = False
    warmest_c: float | None = None
    coldest_c: float | None = None
    km: float = 0.0
    driving_s: float = 0.0
    road_estimated: bool = False
    near_m: float = 1.0e6
    opens_dark: bool = False
    opens_wet: bool = False
    settle_s: float = 1800.0
    countries: tuple[str, ...] = ()
    cautions: tuple[Title, ...] = ()
    invented: bool = False
    phone: str = ""
    keeper: str = ""
    trip_key: str = ""
    found: tuple[BoxFound, ...] = ()

    @property
    def past(self) -> bool:
        """Whether the weather the plan rests on, or its last departure, is over when the sheet is printed."""
        return self.proof.printed_s > self.valid_until_s

    @property
    def valid_until_s(self) -> float:
        """The earlier of the last departure advised and the end of the weather."""
        return min(self.proof.ends_s, self.proof.ends_s if self.leave_to_s is None else self.leave_to_s)

    @property
    def void(self) -> str:
        """Why the sheets have no figures: do_not_go | cannot_tell | past; empty where they have."""
        if self.decision in ("do_not_go", "cannot_tell"):
            return self.decision
        if self.leave_s is None or self.arrive_s is None or self.open_s is None:
            return "cannot_tell"
        return "past" if self.past else ""

    @property
    def void_why(self) -> str:
        """Why there are no figures, as the catalogue of sentences calls it; of *cannot tell* what is not known."""
        if self.void != "cannot_tell":
            return self.void
        lacks = [name for name in ("road", "weather") if name in self.missing]
        cause = (
            "both"
            if len(lacks) == 2
            else lacks[0]
            if lacks
            else "chance"
            if "chance" in self.missing
            else "plan"
        )
        return f"cannot_tell_{cause}"

    @property
    def airs(self) -> tuple[Riding, ...]:
        """Every place where boxes ride, with how they get air there; the first group's where no group says."""
        found = (Riding(one.place, one.air, one.set_point_c) for one in self.groups if one.air is not None)
        return tuple(dict.fromkeys(found)) or (Riding(self.place, self.air, self.set_point_c),)

    @property
    def air_standing(self) -> Air:
        """How boxes get air as far as standing goes: the place that asks for most, where they ride in several."""
        found = {where.air for where in self.airs}
        return next((air for air in ASKS_MOST if air in found), "open")

    @property
    def may_stand_min(self) -> int | None:
        """Minutes one may stand still, rounded down to 5; 0 is "do not stop", None not known."""
        return None if self.stand_min is None else rounded_down(self.stand_min)

    @property
    def rest_possible(self) -> bool:
        """Whether a stop for a meal is possible at all times."""
        return (self.may_stand_min or 0) >= REST_FROM_MIN

    @property
    def clock_ahead_s(self) -> float:
        """How much later the clocks of the destination show than those of the origin when the boxes arrive, s."""
        if self.arrive_s is None:
            return 0.0
        return ahead_s(self.arrive_s, self.zone, self.zone_there)

    @property
    def rest_later(self) -> tuple[float, int] | None:
        """After how many seconds of the way a stop for a meal is possible, and how many minutes it may last then.

        None where it always is, or not before half of the way.
        """
        if self.leave_s is None or self.arrive_s is None or self.rest_possible:
            return None
        short = [k for k, stand in enumerate(self.stands) if rounded_down(stand.shut_min) < REST_FROM_MIN]
        rest = self.stands[short[-1] + 1 :] if short else ()
        if not rest or rest[0].at_s - self.leave_s > 0.5 * (self.arrive_s - self.leave_s):
            return None
        return rest[0].at_s - self.leave_s, rounded_down(min(stand.shut_min for stand in rest))

    @cached_property
    def code(self) -> str:
        """Four letters that stand for what this plan says; printing it again, or for a part of its boxes, does not
        change them."""
        said = asdict(self)
        for name in ("proof", "found", "boxes"):
            said.pop(name)
        said["issued_s"] = self.proof.issued_s
        digest = hashlib.sha256(json.dumps(said, sort_keys=True, default=str).encode()).digest()
        number = int.from_bytes(digest[:8], "big")
        letters = ""
        for _ in range(4):
            number, place = divmod(number, len(CODE_LETTERS))
            letters += CODE_LETTERS[place]
        return letters


MOST_MIN = 6 * 60
"""No standing time is printed longer than this: nobody looked further."""


def rounded_down(minutes: float) -> int:
    """Minutes for a reader: down to the next 5, nothing below 5, never more than was looked at."""
    capped = min(minutes, float(MOST_MIN))
    whole = int(capped // STAND_STEP_MIN) * STAND_STEP_MIN
    return whole if whole >= NO_STOP_BELOW_MIN else 0
