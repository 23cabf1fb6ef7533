"""A folder of photos sorted to boxes: the label's QR says which box, the mesh how far it is blocked."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from planner.app.inspect.codes import box_in
from planner.app.inspect.items import OK, Finding
from planner.app.inspect.mesh import Reading, read_mesh
from planner.store.logbook.records import Picture
from planner.store.photofile import Grey, grey, taken_in
from planner.words import say

LONGEST_SIDE = 1600
"""Pixels of the smaller look at a picture: large blurred codes are read there, small sharp ones in the whole."""

SMALLEST_SIDE = 21
"""Modules of the smallest code there is."""


@dataclass(frozen=True)
class Looked:
    """What a photo shows: the picture fit to be kept, the box whose label is on it, the mesh where there is one.

    ``boxes`` are all names found: a photo of several labels belongs to none of them by itself.
    """

    name: str
    picture: Picture
    boxes: tuple[str, ...]
    mesh: Reading

    @property
    def box(self) -> str | None:
        return self.boxes[0] if len(self.boxes) == 1 else None


def looked_at(content: bytes, name: str, zone: str = "") -> Looked:
    """Look at a photo. Raises InputError where it is no picture."""
    picture = taken_in(content, name, zone)
    seen = grey(content, name)
    return Looked(name, picture, boxes_seen(seen), read_mesh(seen))


def boxes_seen(seen: Grey) -> tuple[str, ...]:
    """The names of boxes whose labels are in a picture, each once; none where no code is read or none is ours."""
    import zxingcpp

    if min(seen.shape) < SMALLEST_SIDE:
        return ()
    found: dict[str, None] = {}
    for look in _looks(seen):
        for code in zxingcpp.read_barcodes(
            look, formats=zxingcpp.BarcodeFormats(zxingcpp.BarcodeFormat.QRCode)
        ):
            if name := box_in(code.text):
                found[name] = None
        if found:
            break
    return tuple(found)


def _looks(seen: Grey) -> Iterator[Grey]:
    """The picture, smaller, and whole with its blur sharpened."""
    from scipy import ndimage

    step = max(1, round(max(seen.shape) / LONGEST_SIDE))
    if step > 1 and min(seen.shape) // step >= SMALLEST_SIDE:
        rows, columns = (size // step * step for size in seen.shape)
        blocks = seen[:rows, :columns].reshape(rows // step, step, columns // step, step)
        yield np.ascontiguousarray(blocks.mean(axis=(1, 3), dtype=np.float32).astype(np.uint8))
    yield np.ascontiguousarray(seen)
    soft = ndimage.gaussian_filter(seen.astype(np.float32), 2.0)
    yield np.clip(seen + 1.5 * (seen - soft), 0, 255).astype(np.uint8)


def found_on(looked: Looked) -> dict[str, Finding]:
    """What a photo says of its box: at least so much of the mesh blocked; nothing where that cannot be told."""
    if looked.mesh.at_least_percent is None:
        return {}
    mark = hashlib.sha256(looked.picture.content).hexdigest()
    return {"floor": Finding(OK, float(looked.mesh.at_least_percent), "photo", "", (mark,))}


def reading_said(looked: Looked, box: str) -> str:
    """What a photo says of the mesh: at least so much, or why it cannot be told."""
    if looked.mesh.at_least_percent is None:
        return say(f"checks.photo_{looked.mesh.why}", file=looked.name, box=box)
    return say("checks.photo_blocked", file=looked.name, box=box, percent=looked.mesh.at_least_percent)
