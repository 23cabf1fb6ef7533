"""Decoding of the encoded polyline format (latitude and longitude differences as printable characters).

Format: https://developers.google.com/maps/documentation/utilities/polylinealgorithm; OSRM and Valhalla use it
with six decimals.
"""

from __future__ import annotations

import numpy as np

from planner.model.records import Floats
from planner.services.http import UnreadableError

MOST_LETTERS = 6_000_000
"""Half a million vertices."""
MOST_SHIFT = 40
"""A step of 180 degrees in millionths has 29 bits; a longer number would grow without end."""


def decode(text: str, decimals: int = 6) -> tuple[Floats, Floats]:
    """(vertex,) latitudes and longitudes in degrees; raises UnreadableError for a cut or foreign string."""
    if len(text) > MOST_LETTERS:
        raise UnreadableError("the shape of the road is longer than any road's")
    numbers, value, shift = [], 0, 0
    for byte in text.encode(errors="surrogatepass"):
        chunk = byte - 63
        if not 0 <= chunk < 64:
            raise UnreadableError("the shape of the road is not an encoded polyline")
        if shift > MOST_SHIFT:
            raise UnreadableError("the shape of the road is not an encoded polyline")
        value |= (chunk & 31) << shift
        shift += 5
        if chunk < 32:
            numbers.append(~(value >> 1) if value & 1 else value >> 1)
            value, shift = 0, 0
    if shift or len(numbers) % 2 or not numbers:
        raise UnreadableError("the shape of the road is cut off")
    steps = np.array(numbers, dtype=np.float64).reshape(-1, 2)
    lat, lon = (np.cumsum(steps, axis=0) / 10.0**decimals).T
    return lat, lon
