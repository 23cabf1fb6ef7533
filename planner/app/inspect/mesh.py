"""How much of a floor's mesh is blocked, from one photo of it held to the light; or that it cannot be told.

Bare light has to be seen beside the mesh on both sides: what shines through an opening is told blocked by holding it
against that light, and without it half a mesh of gum looks like a dim lamp. The picture is turned until the wires run
along it, the pitch comes from the spectrum of its row and column sums, and the brightest spot of each opening is held
against the light between the strips. Propolis that lets light through reads too open: say "at least".
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from planner.model.records import Bools, Floats
from planner.store.photofile import Grey

Why = Literal["", "no_grid", "no_strips", "too_small", "too_dark"]

PITCH_PX = 5.0, 60.0
"""Pixels an opening may have from wire to wire."""
MOST_TILT_DEG = 8.0
LEAST_OPENINGS = 150
STRIP_SHARE, STRIP_PX = 0.03, 5
"""Least width of a bare strip, of the picture's and in pixels."""
EVEN, GRIDLESS = 0.12, 0.025
"""A bare strip is as even as that beside the smooth fall of the light along it, and shows so little of the wires."""
FAINTEST_STRIP = 0.16
"""Of the brighter strip: light that falls off further is a shadow."""
BLOCKED_BELOW = 0.66
"""Of what shines through an open opening; between gum that glows (0.45) and wires that blur (0.75)."""
LEAST_OPEN = 0.50
"""Of the bare light: open openings are never dimmer, however blurred the picture is."""
EDGE_SHARE = 0.05
"""A dark edge of wood so wide beside the mesh is left out."""
CLEAR_PEAK = 6.0
"""How far the wires' peak stands out of the spectrum, in its own deviations."""

Spectrum = NDArray[np.complex128]


@dataclass(frozen=True)
class Reading:
    """What a photo says: ``blocked`` share 0..1 of ``openings``, or None and ``why`` it cannot be told."""

    blocked: float | None
    why: Why = ""
    openings: int = 0
    pitch_px: float = 0.0
    tilt_deg: float = 0.0

    @property
    def at_least_percent(self) -> int | None:
        """The share as it is said, in whole percent."""
        return None if self.blocked is None else int(np.floor(100.0 * self.blocked + 0.5))


def read_mesh(picture: Grey) -> Reading:
    """Read a photo, (row, column) 0..255; the mesh upright or lying, tilted by a few degrees at most."""
    if min(picture.shape) < 100:
        return Reading(None, "too_small")
    image = picture.astype(np.float64) / 255.0
    if np.quantile(image, 0.99) < 0.12:
        return Reading(None, "too_dark")
    best = Reading(None, "no_grid")
    for grid in _grids(image):
        turned = _turned(image, grid[1])
        for upright in (turned, turned.T):
            reading = _read_upright(np.ascontiguousarray(upright), *grid)
            if reading.blocked is not None:
                return reading
            best = reading if best.why == "no_grid" else best
    return best


def _grids(image: Floats) -> Iterator[tuple[float, float]]:
    """Likely pitches in pixels with their tilts in degrees, the clearest first, from the spectrum of the middle."""
    rows, columns = image.shape
    middle = image[rows // 8 : rows - rows // 8, columns // 6 : columns - columns // 6]
    flat = middle - ndimage.uniform_filter(middle, int(2 * PITCH_PX[1]) | 1)
    flat *= np.hanning(flat.shape[0])[:, None] * np.hanning(flat.shape[1])
    size = 1 << int(np.ceil(np.log2(max(flat.shape))))
    power = np.abs(np.fft.rfft2(flat, (size, size)))
    whole = power
    fy, fx = np.fft.fftfreq(size)[:, None], np.fft.rfftfreq(size)[None, :]
    radius = np.hypot(fy, fx)
    power = power * radius  # patches of gum fill the low end of the spectrum
    band = (radius > 1.0 / PITCH_PX[1]) & (radius < 1.0 / PITCH_PX[0])
    angle = np.degrees(np.arctan2(fy, np.maximum(fx, 1e-12)))
    along = band & (np.abs(angle) < MOST_TILT_DEG)
    across = band & (np.abs(np.abs(angle) - 90.0) < MOST_TILT_DEG)
    for part in (along, across) if _peak(power, along) >= _peak(power, across) else (across, along):
        strength = np.where(part, power, 0.0)
        at = np.unravel_index(int(np.argmax(strength)), strength.shape)
        spread = power[part]
        if power[at] <= np.median(spread) + CLEAR_PEAK * 1.4826 * np.median(
            np.abs(spread - np.median(spread))
        ):
            continue
        y, x = _finer(whole, int(at[0]), int(at[1]))
        v, u = (y if y < size / 2 else y - size) / size, x / size
        if _has_half(whole, v * size, u * size):
            v, u = 0.5 * v, 0.5 * u
        tilt = (
            np.degrees(np.arctan2(v, u))
            if part is along
            else np.degrees(np.arctan2(-u, v) if v > 0 else np.arctan2(u, -v))
        )
        yield float(1.0 / np.hypot(u, v)), float(tilt)


def _has_half(power: Floats, row: float, column: float) -> bool:
    """Whether what was found is the second tone of a grid twice as wide, which then has its own peak half way."""
    here = power[round(row) % power.shape[0], min(round(column), power.shape[1] - 1)]
    y, x = round(0.5 * row), round(0.5 * column)
    rows = np.arange(y - 12, y + 13) % power.shape[0]
    columns = np.clip(np.arange(x - 12, x + 13), 0, power.shape[1] - 1)
    near = power[np.ix_(rows, columns)]
    return bool(near[10:15, 10:15].max() > max(0.8 * here, 8.0 * np.median(near)))


def _peak(power: Floats, part: Bools) -> float:
    return float(power[part].max(initial=0.0))


def _finer(power: Floats, row: int, column: int) -> tuple[float, float]:
    """A peak's place between the bins, by a parabola through its neighbours."""

    def between(low: float, here: float, high: float) -> float:
        bend = low - 2.0 * here + high
        return 0.0 if bend == 0.0 else float(np.clip(0.5 * (low - high) / bend, -0.5, 0.5))

    rows, columns = power.shape
    up, down = power[row - 1, column], power[(row + 1) % rows, column]
    left, right = power[row, max(column - 1, 0)], power[row, min(column + 1, columns - 1)]
    return row + between(up, power[row, column], down), column + between(left, power[row, column], right)


def _turned(image: Floats, tilt_deg: float) -> Floats:
    """The picture turned until the wires run along it, without the corners that turning leaves empty."""
    if abs(tilt_deg) < 0.05:
        return image
    turned = ndimage.rotate(image, tilt_deg, reshape=False, order=1, mode="nearest")
    slope = np.sin(np.radians(abs(tilt_deg)))
    rows, columns = image.shape
    y, x = int(0.5 * columns * slope) + 1, int(0.5 * rows * slope) + 1
    return np.asarray(turned[y : rows - y, x : columns - x])


# -- one picture whose wires run along it ----------------------------------------------------------


def _read_upright(image: Floats, pitch_px: float, tilt_deg: float) -> Reading:
    """Bare light on the left and on the right, the mesh between."""
    if min(image.shape) < 6 * pitch_px:
        return Reading(None, "too_small", pitch_px=pitch_px, tilt_deg=tilt_deg)
    strips = _strips(image, pitch_px)
    if strips is None:
        return Reading(None, "no_strips", pitch_px=pitch_px, tilt_deg=tilt_deg)
    left, right, light = strips
    mesh = image[:, left:right]
    if min(mesh.shape) < 6 * pitch_px:
        return Reading(None, "too_small", pitch_px=pitch_px, tilt_deg=tilt_deg)
    shine = ndimage.gaussian_filter(mesh, 0.5) / light[:, left:right]
    x, y = (_openings(mesh.mean(axis=axis), pitch_px) for axis in (0, 1))
    if x is None or y is None:
        return Reading(None, "no_grid", pitch_px=pitch_px, tilt_deg=tilt_deg)
    reach = max(3, int(0.5 * pitch_px) | 1)
    through = ndimage.maximum_filter(ndimage.uniform_filter(shine, 2), reach)[np.ix_(y, x)]
    through = _without_edge(through)
    if through.size < LEAST_OPENINGS:
        return Reading(None, "too_small", through.size, pitch_px, tilt_deg)
    if (
        np.quantile(through, 0.9) > 1.6
    ):  # brighter than the bare light: no light beside the mesh, but a shadow
        return Reading(None, "no_strips", pitch_px=pitch_px, tilt_deg=tilt_deg)
    return Reading(float(_blocked(through).mean()), "", through.size, pitch_px, tilt_deg)


def _strips(image: Floats, pitch_px: float) -> tuple[int, int, Floats] | None:
    """Where the mesh begins and ends between two bare strips, and the light behind it; None where there are none."""
    columns = image.shape[1]
    width = max(STRIP_PX, int(STRIP_SHARE * columns), int(0.8 * pitch_px))
    if columns < 6 * width:
        return None
    first, last = (_evened(part, pitch_px) for part in (image[:, :width], image[:, -width:]))
    if first is None or last is None:
        return None
    bright = max(float(first.mean()), float(last.mean()))
    if min(float(first.min()), float(last.min())) < FAINTEST_STRIP * bright or bright < 0.15:
        return None
    share = np.linspace(0.0, 1.0, columns)
    light = first[:, None] * (1.0 - share) + last[:, None] * share
    dim = (ndimage.uniform_filter1d(image, 3, axis=1) / np.stack([first] * columns, axis=1)).mean(axis=0)
    dim_right = (ndimage.uniform_filter1d(image, 3, axis=1) / np.stack([last] * columns, axis=1)).mean(axis=0)
    left = _first_below(dim, width)
    right = columns - _first_below(dim_right[::-1], width)
    if right - left < 0.4 * columns:
        return None
    return left, right, np.maximum(light, 1e-3)


def _evened(strip: Floats, pitch_px: float) -> Floats | None:
    """The smooth light along a strip, (row,); None where the strip is not bare."""
    raw = strip.mean(axis=1)
    profile = ndimage.uniform_filter1d(raw, 5)
    at = np.linspace(-1.0, 1.0, profile.size)
    smooth: Floats = np.asarray(np.polyval(np.polyfit(at, profile, 3), at), dtype=np.float64)
    if smooth.min() <= 0.02:
        return None
    away = np.abs(profile - smooth) / smooth
    across = np.abs(np.diff(strip.mean(axis=0))).max() / smooth.mean()
    wires = np.exp(-2j * np.pi * np.arange(raw.size) / (pitch_px * np.linspace(0.97, 1.03, 13)[:, None]))
    grid = np.abs(wires @ (np.hanning(raw.size) * (raw / smooth - 1.0))).max() * 4.0 / raw.size
    return smooth if away.max() < EVEN and across < EVEN and grid < GRIDLESS else None


def _first_below(level: Floats, start: int) -> int:
    """Where the light first drops, from a side inwards: the edge of the floor."""
    reference = level[:start].mean()
    below = np.flatnonzero(level[start:] < 0.93 * reference)
    return start + int(below[0]) if below.size else level.size


def _openings(sums: Floats, pitch_px: float) -> NDArray[np.int64] | None:
    """The middles of the openings along one axis, from the spectrum of the sums across it; None without pitch."""
    flat = sums - ndimage.uniform_filter1d(sums, int(2 * pitch_px) | 1)
    edge = int(pitch_px)
    window = np.zeros(flat.size)
    window[edge:-edge] = np.hanning(max(flat.size - 2 * edge, 1))
    at = np.arange(flat.size)
    pitches = pitch_px * np.linspace(0.96, 1.04, 321)
    waves = np.exp(-2j * np.pi * at[None, :] / pitches[:, None]) @ (flat * window)
    best = int(np.argmax(np.abs(waves)))
    if not np.abs(waves[best]) > 0.0:
        return None
    pitch, phase = pitches[best], np.angle(waves[best])
    first = (-phase / (2.0 * np.pi)) % 1.0 * pitch  # light is brightest in the middle of an opening
    middles = np.arange(first, flat.size, pitch)
    inside = middles[(middles >= 0.4 * pitch) & (middles <= flat.size - 1 - 0.4 * pitch)]
    return np.asarray(np.rint(inside), dtype=np.int64)


def _without_edge(through: Floats) -> Floats:
    """The openings without a dark edge of wood: rows and columns at a side in which nothing shines at all."""
    for axis in (0, 1):
        most = max(1, int(np.ceil(EDGE_SHARE * through.shape[axis])))
        bright = through.max(axis=1 - axis) > 0.3
        inner = np.flatnonzero(bright)
        if inner.size:
            low = min(int(inner[0]), most)
            high = max(int(inner[-1]) + 1, bright.size - most)
            through = through[low:high] if axis == 0 else through[:, low:high]
    return through


def _blocked(through: Floats) -> Bools:
    """Which openings are blocked: dim beside those that are open, wherever the light falls off to."""
    level = np.clip(np.quantile(through, 0.98), LEAST_OPEN, 1.1)
    rows, columns = through.shape
    y, x = np.meshgrid(np.linspace(-1, 1, rows), np.linspace(-1, 1, columns), indexing="ij")
    terms = np.stack([np.ones_like(x), x, y, x * x, y * y, x * y], axis=-1)
    open_level = np.full(through.shape, float(level))
    for _ in range(3):
        is_open = through >= BLOCKED_BELOW * open_level
        if is_open.mean() < 0.25:
            break
        fit, *_ = np.linalg.lstsq(terms[is_open], through[is_open], rcond=None)
        open_level = np.clip(terms @ fit, 0.8 * level, 1.25 * level)
    return np.asarray(through < BLOCKED_BELOW * open_level)
