"""What the logbook holds, as plain frozen records."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

Kind = Literal[
    "check",
    "outcome",
    "released",
    "closed",
    "loaded",
    "handed_over",
    "departed",
    "stopped",
    "moving",
    "misted",
    "sound",
    "arrived",
    "opened",
    "looked",
    "reading",
    "note",
    "photo",
    "claim",
    "settled",
    "cause",
    "paper",
    "erased",
]
SubjectKind = Literal["trip", "box", "person", "plan"]

KINDS: tuple[str, ...] = Kind.__args__  # type: ignore[attr-defined]
SUBJECTS: tuple[str, ...] = SubjectKind.__args__  # type: ignore[attr-defined]

Body = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Entry:
    """Something that happened, to be written down.

    ``at_s`` POSIX seconds by the device's clock, ``offset_s`` what that clock showed ahead of UTC; ``who`` the key of
    a person, never a name; ``subject`` a box's name, a person's key, a plan's id, "" for the trip as a whole; ``body``
    plain values that JSON can hold; ``corrects`` the hash of an earlier event that this one stands in for.
    """

    kind: Kind
    at_s: float
    subject_kind: SubjectKind = "trip"
    subject: str = ""
    body: Body = field(default_factory=dict)
    trip: str = ""
    who: str = ""
    plan: str = ""
    corrects: str = ""
    offset_s: int = 0


@dataclass(frozen=True, slots=True)
class Event:
    """An entry as it stands in a chain: ``book`` whose chain, ``number`` in it from 1, ``before`` the hash before."""

    book: str
    number: int
    at_s: float
    offset_s: int
    device: str
    who: str
    trip: str
    subject_kind: str
    subject: str
    kind: str
    body: Body
    plan: str
    corrects: str
    before: str
    hash: str

    @property
    def name(self) -> str:
        """How the event is told from others: its book and its number there."""
        return f"{self.book[:8]}/{self.number}"


@dataclass(frozen=True, slots=True)
class Picture:
    """A photo or log to be kept beside the logbook; ``taken_s`` POSIX seconds or None where nobody knows."""

    content: bytes
    kind: str
    taken_s: float | None = None
    width: int | None = None
    height: int | None = None


@dataclass(frozen=True, slots=True)
class Person:
    """Somebody by key; an erased one has a key and nothing else."""

    key: str
    name: str = ""
    phone: str = ""
    address: str = ""
    language: str = ""
    erased_s: float | None = None


@dataclass(frozen=True, slots=True)
class PinnedPlan:
    """A plan kept whole; ``id`` is the SHA-256 of its snapshot, ``code`` its short name on papers."""

    id: str
    code: str
    made_s: float
    trip: str
    title: str
    inputs: str
    program: str
    snapshot: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class KnownTrip:
    """What a trip's id was last seen with; ``day`` the first day of its window, ``load`` a mark of its boxes."""

    key: str
    title: str
    origin: str
    day: str
    load: str
    path: str
