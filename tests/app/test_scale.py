"""One colour scale: from pale to deep, alike on paper and on the screen, with ink that reads on every step."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from planner.app.common.scale import (
    LEAST_CONTRAST,
    NIGHT_SHADES,
    SAFE_SHARE,
    SHADES,
    STEPS,
    WARMTH_C,
    contrast,
    ink_on,
    luminance,
)


def test_black_on_white_has_the_greatest_contrast_there_is() -> None:
    """WCAG 2.1: 21 to 1; grey #767676 on white is the published limit of level AA, 4.54 to 1."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#ffffff", "#767676") == pytest.approx(4.54, abs=0.005)


def test_hotter_is_deeper_at_every_step() -> None:
    lightness = [luminance(shade) for shade in SHADES]
    assert len(lightness) == STEPS == len(set(SHADES))
    assert all(paler > deeper for paler, deeper in pairwise(lightness))


def test_night_colours_run_the_other_way_and_hold_no_colour_but_red() -> None:
    lightness = [luminance(shade) for shade in NIGHT_SHADES]
    assert lightness == sorted(lightness)
    assert all(int(shade[1:3], 16) > 2 * int(shade[3:5], 16) for shade in NIGHT_SHADES)


def test_ink_reads_on_every_step() -> None:
    assert min(contrast(ink_on(shade), shade) for shade in (*SHADES, *NIGHT_SHADES)) >= LEAST_CONTRAST


def test_the_scale_of_warmth_ends_where_it_says() -> None:
    assert WARMTH_C.colour(20.0) == WARMTH_C.colour(31.0) == SHADES[0]
    assert WARMTH_C.colour(45.0) == WARMTH_C.colour(60.0) == SHADES[-1]
    assert WARMTH_C.colour(float("nan")) is None


def test_few_safe_days_are_as_deep_as_great_heat() -> None:
    assert SAFE_SHARE.colour(0.0) == SHADES[-1]
    assert SAFE_SHARE.colour(1.0) == SHADES[0]
    assert SAFE_SHARE.steps(np.array([0.5, np.nan, np.inf])).tolist() == [32, -1, 0]
