"""Make ``resources/basemap.npz``: land and country borders of the world at 1:50 million.

    python tools/make_basemap.py               fetches the npm package world-atlas 2 (needs npm and the network)
    python tools/make_basemap.py FOLDER        reads an unpacked copy of it

The data are Natural Earth's (public domain), which that package holds as TopoJSON: lines ("arcs") stored once and
shared by the shapes on both sides, so a border is an arc that two countries use.
Format: TopoJSON specification 1.0, https://github.com/topojson/topojson-specification.
"""

from __future__ import annotations

import argparse
import json
import subprocess
import tarfile
import tempfile
from collections import Counter
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

PACKAGE = "world-atlas@2"
TARGET = Path(__file__).resolve().parent.parent / "resources" / "basemap.npz"
Line = NDArray[np.float32]


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("folder", nargs="?", type=Path, help="an unpacked world-atlas package")
    folder = parser.parse_args().folder
    with tempfile.TemporaryDirectory() as temporary:
        write(folder or fetch(Path(temporary)))
    print(f"{TARGET.name}: {TARGET.stat().st_size / 1024:.0f} kB")


def fetch(folder: Path) -> Path:
    subprocess.run(["npm", "pack", "--silent", PACKAGE], cwd=folder, check=True)
    with tarfile.open(next(folder.glob("*.tgz"))) as archive:
        archive.extractall(folder, filter="data")
    return folder / "package"


def write(package: Path) -> None:
    land = json.loads((package / "land-50m.json").read_text())
    countries = json.loads((package / "countries-50m.json").read_text())
    arrays = {**packed("land", land_rings(land)), **packed("border", borders(countries))}
    np.savez_compressed(TARGET, allow_pickle=False, **arrays)


def land_rings(topology: dict[str, Any]) -> Iterator[Line]:
    """Closed rings of (lon, lat) fit for a flat map; a ring inside another is water."""
    arcs = decoded_arcs(topology)
    for ring in rings(topology["objects"]["land"]):
        yield from flattened(joined(arcs, ring))


def flattened(ring: Line) -> Iterator[Line]:
    """A ring on the globe as rings between 180 W and 180 E: cut at that meridian, closed around a pole."""
    lon, lat = np.unwrap(ring[:, 0], period=360.0), ring[:, 1]
    around = np.sign(round(float(lon[-1] - lon[0]) / 360.0))
    if around and np.all(np.abs(lat) > 89.9):
        return  # the pole itself, a point
    if around:
        pole = np.copysign(90.0, lat[0])
        lon, lat = np.append(lon, [lon[-1], lon[0], lon[0]]), np.append(lat, [pole, pole, lat[0]])
    for turn in (-360.0, 0.0, 360.0):
        piece = np.column_stack([lon + turn, lat])
        for side in (-1.0, 1.0):
            piece = clipped(piece, side)
        if len(piece) > 3:
            yield piece.astype(np.float32)


def clipped(ring: NDArray[np.float64], side: float) -> NDArray[np.float64]:
    """The part of a closed ring on the near side of ``side`` x 180 degrees (Sutherland & Hodgman 1974)."""
    inside = side * ring[:, 0] <= 180.0
    if inside.all() or not inside.any():
        return ring[: len(ring) * inside.all()]
    points: list[NDArray[np.float64]] = []
    for here, there, in_here, in_there in zip(ring[:-1], ring[1:], inside[:-1], inside[1:], strict=True):
        if in_here:
            points.append(here)
        if in_here != in_there:
            share = (side * 180.0 - here[0]) / (there[0] - here[0])
            points.append(here + share * (there - here))
    return np.array([*points, points[0]])


def borders(topology: dict[str, Any]) -> Iterator[Line]:
    """Lines of (lon, lat) that two countries share; coasts belong to one and are left out."""
    shapes = topology["objects"]["countries"]["geometries"]
    users = Counter(
        arc for shape in shapes for arc in {natural(arc) for ring in rings(shape) for arc in ring}
    )
    arcs = decoded_arcs(topology)
    return (arcs[arc] for arc, count in sorted(users.items()) if count > 1)


def decoded_arcs(topology: dict[str, Any]) -> list[Line]:
    """Undo the delta coding and the integer grid."""
    scale, origin = (np.array(topology["transform"][key]) for key in ("scale", "translate"))
    return [(np.cumsum(arc, axis=0) * scale + origin).astype(np.float32) for arc in topology["arcs"]]


def rings(shape: dict[str, Any]) -> Iterator[list[int]]:
    """The rings of any shape as lists of arc numbers."""
    if shape["type"] == "GeometryCollection":
        for part in shape["geometries"]:
            yield from rings(part)
    elif shape["type"] == "Polygon":
        yield from shape["arcs"]
    elif shape["type"] == "MultiPolygon":
        for polygon in shape["arcs"]:
            yield from polygon


def natural(arc: int) -> int:
    """The number of an arc whichever way it is walked; ``~n`` means arc n backwards."""
    return arc if arc >= 0 else ~arc


def joined(arcs: list[Line], ring: list[int]) -> Line:
    """One line from arcs laid end to end; each begins where the one before it ended."""
    parts = [arcs[arc] if arc >= 0 else arcs[~arc][::-1] for arc in ring]
    return np.concatenate([parts[0], *(part[1:] for part in parts[1:])])


def packed(name: str, lines: Iterable[Line]) -> dict[str, NDArray[Any]]:
    """All lines end to end, and where each one starts (with the end of the last)."""
    every = list(lines)
    starts = np.concatenate([[0], np.cumsum([len(line) for line in every])]).astype(np.int32)
    lon, lat = np.concatenate(every).T
    return {f"{name}_lon_deg": lon, f"{name}_lat_deg": lat, f"{name}_start": starts}


if __name__ == "__main__":
    main()
