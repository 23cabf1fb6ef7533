"""Photos of floor meshes, rendered: what they show is known exactly. Shares no code with what reads them."""

from __future__ import annotations

import io
import math
import random
from dataclasses import dataclass

import numpy as np
from PIL import Image, ImageDraw, ImageFilter

FINER = 3
"""Each pixel is drawn as so many squared, so that edges are as soft as a lens makes them."""


@dataclass(frozen=True)
class Scene:
    """What is on a picture and how it was taken; ``strips`` (left, right) of the picture's width."""

    seed: int
    blocked: float
    pitch_px: float
    wire: float = 0.25
    blur_px: float = 1.0
    noise: float = 0.02
    quality: int = 80
    fall: float = 0.3
    fall_deg: float = 0.0
    tilt_deg: float = 0.0
    bees: int = 0
    glow: float = 0.4
    strips: tuple[float, float] = (0.12, 0.12)
    lying: bool = False


@dataclass(frozen=True)
class Rendered:
    """A picture as a file, and the share of its openings that are gummed."""

    content: bytes
    blocked: float


def scene(seed: int, *, strips: bool = True) -> Scene:
    """A scene at random within what a yard sees."""
    dice = random.Random(seed)
    wide = (dice.uniform(0.09, 0.16), dice.uniform(0.09, 0.16))
    if not strips:
        wide = dice.choice([(0.0, wide[1]), (wide[0], 0.0), (0.0, 0.0)])
    return Scene(
        seed=seed,
        blocked=dice.uniform(0.0, 0.95),
        pitch_px=dice.uniform(8.0, 12.0),
        wire=dice.uniform(0.18, 0.3),
        blur_px=dice.uniform(0.0, 2.0),
        noise=dice.uniform(0.0, 0.05),
        quality=dice.randint(60, 90),
        fall=dice.uniform(0.0, 0.7),
        fall_deg=dice.uniform(0.0, 360.0),
        tilt_deg=dice.uniform(-5.0, 5.0),
        bees=dice.randint(3, 12) if dice.random() < 0.2 else 0,
        glow=dice.uniform(0.1, 0.45),
        strips=wide,
        lying=dice.random() < 0.3,
    )


def rendered(what: Scene) -> Rendered:
    """Draw a scene."""
    dice = random.Random(what.seed + 1)
    across, down = dice.randint(44, 56), dice.randint(30, 40)
    cell = what.pitch_px * FINER
    mesh_w, mesh_h = round(across * cell), round(down * cell)
    beside = sum(what.strips)
    width, height = round(mesh_w / (1.0 - beside)), round(mesh_h * 1.02)
    left = round(what.strips[0] * width)
    lets = Image.new("L", (width, height), 255)
    states = _states(what, across, down, dice)
    pen = ImageDraw.Draw(lets)
    top = (height - mesh_h) // 2
    reach = 3 if abs(what.tilt_deg) > 0.0 else 0  # wires go on beyond what the picture shows
    pen.rectangle((left, 0, left + mesh_w, height), fill=6)
    half = 0.5 * what.wire * cell
    for row in range(-reach, down + reach):
        for column in range(across):
            inside = 0 <= row < down
            glow = states[row][column] if inside else 1.0
            box = (
                left + column * cell + half,
                top + row * cell + half,
                left + (column + 1) * cell - half,
                top + (row + 1) * cell - half,
            )
            pen.rectangle(box, fill=round(255 * glow))
    _bees(pen, what, left, top, mesh_w, mesh_h, cell, dice)
    flat = np.asarray(lets, dtype=np.float32) / 255.0
    picture = Image.fromarray(np.uint8(255.0 * np.clip(flat * _light(what, width, height), 0.0, 1.0)))
    fill = round(255 * 0.5)
    if what.tilt_deg:
        picture = _tilted(picture, lets, what)
    del fill
    picture = picture.resize((picture.width // FINER, picture.height // FINER), Image.Resampling.BOX)
    if what.blur_px:
        picture = picture.filter(ImageFilter.GaussianBlur(what.blur_px))
    grain = np.random.default_rng(what.seed).normal(0.0, 255.0 * what.noise, (picture.height, picture.width))
    noisy = np.uint8(np.clip(np.asarray(picture, dtype=np.float64) + grain, 0, 255))
    final = Image.fromarray(noisy)
    if what.lying:
        final = final.transpose(Image.Transpose.ROTATE_90)
    file = io.BytesIO()
    final.save(file, "JPEG", quality=what.quality)
    gummed = sum(state < 1.0 for line in states for state in line)
    return Rendered(file.getvalue(), gummed / (across * down))


def _states(what: Scene, across: int, down: int, dice: random.Random) -> list[list[float]]:
    """What each opening lets through: 1 open, less where it is gummed; in patches, then single ones."""
    states = [[1.0] * across for _ in range(down)]
    wanted = round(what.blocked * across * down)
    in_patches = round(wanted * dice.uniform(0.3, 1.0))
    gummed = 0
    while gummed < in_patches:
        x, y, r = dice.uniform(0, across), dice.uniform(0, down), dice.uniform(1.5, 9.0)
        glow = dice.uniform(0.02, what.glow)
        for row in range(down):
            for column in range(across):
                if gummed < in_patches and states[row][column] == 1.0 and math.hypot(column - x, row - y) < r:
                    states[row][column] = min(0.5, max(0.0, dice.gauss(glow, 0.03)))
                    gummed += 1
    free = [(row, column) for row in range(down) for column in range(across) if states[row][column] == 1.0]
    for row, column in dice.sample(free, max(wanted - gummed, 0)):
        states[row][column] = dice.uniform(0.02, what.glow)
    return states


def _bees(
    pen: ImageDraw.ImageDraw,
    what: Scene,
    left: int,
    top: int,
    wide: int,
    high: int,
    cell: float,
    dice: random.Random,
) -> None:
    for _ in range(what.bees):
        x, y = left + dice.uniform(0, wide), top + dice.uniform(0, high)
        if dice.random() < 0.5:
            pen.ellipse((x, y, x + 4.0 * cell, y + 1.6 * cell), fill=12)
        else:
            pen.ellipse((x, y, x + 1.6 * cell, y + 4.0 * cell), fill=12)


def _light(what: Scene, width: int, height: int) -> np.ndarray:
    """The lamp behind: it falls off by ``fall`` from one end of the picture to the other."""
    turn = math.radians(what.fall_deg)
    x = np.linspace(-0.5, 0.5, width, dtype=np.float32)[None, :] * math.cos(turn)
    y = np.linspace(-0.5, 0.5, height, dtype=np.float32)[:, None] * math.sin(turn)
    along = (x + y) / (abs(0.5 * math.cos(turn)) + abs(0.5 * math.sin(turn)))
    return np.asarray(0.95 * (1.0 - what.fall * (0.5 + 0.5 * along)))


def _tilted(picture: Image.Image, lets: Image.Image, what: Scene) -> Image.Image:
    """The floor held askew before a light that stays where it is: the middle is cut out so that no corner is empty."""
    turned = picture.rotate(what.tilt_deg, resample=Image.Resampling.BILINEAR)
    slope = math.sin(math.radians(abs(what.tilt_deg)))
    x, y = round(0.5 * picture.height * slope), round(0.5 * picture.width * slope)
    return turned.crop((x, y, picture.width - x, picture.height - y))
