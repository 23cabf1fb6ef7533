"""Photos and typed lists taken in behind the window: what each says of its box, and what becomes of the box."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from planner.errors import Cancelled, SkepwayError, StorageError, reason_of
from planner.ui.work.runner import Watch
from planner.words import say

if TYPE_CHECKING:
    from planner.app.inspect.decide import Decision
    from planner.app.inspect.items import Finding
    from planner.app.inspect.round import Round
    from planner.store.logbook.records import Picture

PICTURES = "*.jpg *.jpeg *.png *.webp *.JPG *.JPEG *.PNG *.WEBP"


@dataclass(frozen=True, eq=False)
class Files:
    """Files to be looked at: photos, or one list; ``box`` whose photo it is where no label is read."""

    round: Round
    box: str
    paths: tuple[Path, ...]


@dataclass(frozen=True, eq=False)
class BoxSaid:
    """What files say of one box."""

    box: str
    found: Mapping[str, Finding]
    pictures: tuple[Picture, ...]
    decision: Decision


@dataclass(frozen=True, eq=False)
class TakenIn:
    """All that was read, and a line for each file that says how it went."""

    boxes: tuple[BoxSaid, ...]
    lines: tuple[str, ...]


def ask_photos(files: Files, watch: Watch) -> TakenIn:
    """Each photo to the box whose label is on it, else to the box that is looked at."""
    from planner.app.inspect.decide import decided
    from planner.app.inspect.photos import found_on, looked_at, reading_said
    from planner.app.inspect.typed import measured

    zone = files.round.judge.kept.trip.origin.zone
    found: dict[str, dict[str, Finding]] = {}
    pictures: dict[str, list[Picture]] = {}
    lines = []
    for number, path in enumerate(files.paths):
        if watch.should_stop():
            raise Cancelled
        try:
            looked = looked_at(content_of(path), path.name, zone)
        except SkepwayError as error:
            lines.append(str(error))
            continue
        box = looked.box or files.box
        if box not in files.round.boxes:
            lines.append(say("checks.photo_other_trip", file=path.name, box=box))
            continue
        lines.append(reading_said(looked, box))
        found.setdefault(box, {}).update(measured(found_on(looked), files.round.judge.planned(box)))
        pictures.setdefault(box, []).append(looked.picture)
        watch.on_progress((number + 1) / len(files.paths))
    said = (
        BoxSaid(
            box,
            findings,
            tuple(pictures[box]),
            decided({**files.round.findings(box), **findings}, box, files.round.judge),
        )
        for box, findings in found.items()
    )
    return TakenIn(tuple(said), tuple(lines))


def ask_typed(files: Files, watch: Watch) -> TakenIn:
    """A list that was typed: every box of which something is said."""
    from planner.app.inspect.decide import decided
    from planner.app.inspect.typed import measured, typed_in

    round_, (path,) = files.round, files.paths
    table = typed_in(content_of(path), round_.boxes, path.name)
    said = []
    for number, (box, findings) in enumerate(table.items()):
        if watch.should_stop():
            raise Cancelled
        told = measured(findings, round_.judge.planned(box))
        said.append(BoxSaid(box, told, (), decided({**round_.findings(box), **told}, box, round_.judge)))
        watch.on_progress((number + 1) / len(table))
    boxes = say("checks.count_boxes", count=len(said))
    return TakenIn(tuple(said), (say("checks.typed_in", boxes=boxes),))


def content_of(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        reason = reason_of(error)
        raise StorageError(say("logbook.picture_unread", path=str(path), reason=reason)) from error
