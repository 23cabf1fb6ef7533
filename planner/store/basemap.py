"""Land and country borders of the world, bundled (Natural Earth 1:50 million, public domain)."""

from __future__ import annotations

import zipfile
import zlib
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from planner.bundled import resource_path
from planner.errors import StorageError
from planner.words import say

Line = tuple[NDArray[np.float32], NDArray[np.float32]]
"""Latitudes and longitudes in degrees of the points of one line."""


@dataclass(frozen=True)
class BaseMap:
    """``land``: closed rings, cut at the antimeridian; ``borders``: open lines between two countries."""

    land: tuple[Line, ...]
    borders: tuple[Line, ...]


def read_basemap(path: Path | None = None) -> BaseMap:
    """The bundled map, or that of another file written by ``tools/make_basemap.py``.

    Raises StorageError when the file is missing or damaged.
    """
    path = path or resource_path("basemap.npz")
    try:
        with path.open("rb") as file, np.load(file, allow_pickle=False) as arrays:
            return BaseMap(_lines(arrays, "land"), _lines(arrays, "border"))
    except (OSError, EOFError, KeyError, ValueError, zipfile.BadZipFile, zlib.error) as error:
        raise StorageError(say("files.base_map_cannot", path=str(path), error=str(error))) from error


def _lines(arrays: np.lib.npyio.NpzFile, name: str) -> tuple[Line, ...]:
    lat, lon = arrays[f"{name}_lat_deg"], arrays[f"{name}_lon_deg"]
    cuts = arrays[f"{name}_start"][1:-1]
    return tuple(zip(np.split(lat, cuts), np.split(lon, cuts), strict=True))
