"""Photos of a box with its label, rendered: six megapixels, blurred, tilted, noisy, with clutter around."""

from __future__ import annotations

import io
import random

import numpy as np
import segno
from PIL import Image, ImageDraw, ImageFilter

WIDE, HIGH = 3000, 2000


def label_photo(text: str, seed: int) -> bytes:
    """A JPEG of a label that bears a code: blur to 2.2 pixels, tilt to 25 degrees, noise, uneven light."""
    dice = random.Random(seed)
    picture = Image.new("L", (WIDE, HIGH), dice.randint(60, 140))
    pen = ImageDraw.Draw(picture)
    for _ in range(60):  # boards, straps, leaves
        x, y = dice.uniform(0, WIDE), dice.uniform(0, HIGH)
        pen.rectangle((x, y, x + dice.uniform(5, 500), y + dice.uniform(5, 60)), fill=dice.randint(20, 230))
    module = dice.uniform(7.0, 14.0)
    code = io.BytesIO()
    segno.make_qr(text, error="m").save(code, kind="png", scale=8, border=4)
    code.seek(0)
    mark = Image.open(code).convert("L")
    side = round(mark.width / 8 * module)
    mark = mark.resize((side, side), Image.Resampling.LANCZOS)
    label = Image.new("L", (side + 200, side + 160), 245)
    label.paste(mark, (100, 40))
    mask = Image.new("L", label.size, 255)
    tilt = dice.uniform(-25.0, 25.0)
    label, mask = (one.rotate(tilt, resample=Image.Resampling.BICUBIC, expand=True) for one in (label, mask))
    spot = dice.randint(50, WIDE - label.width - 50), dice.randint(50, HIGH - label.height - 50)
    picture.paste(label, spot, mask)
    picture = picture.filter(ImageFilter.GaussianBlur(dice.uniform(0.0, 2.2)))
    light = np.linspace(dice.uniform(0.4, 1.0), 1.0, WIDE)[None, :]
    grain = np.random.default_rng(seed).normal(0.0, dice.uniform(0.0, 10.0), (HIGH, WIDE))
    file = io.BytesIO()
    Image.fromarray(np.uint8(np.clip(np.asarray(picture) * light + grain, 0, 255))).save(
        file, "JPEG", quality=dice.randint(60, 90)
    )
    return file.getvalue()
