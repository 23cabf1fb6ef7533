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
    Scale,
    channels,
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


def test_the_maps_run_evenly_between_their_anchors() -> None:
    """Step 32 of 63 lies two thirds of the way from the 11th of the 22 anchors, e3a23f, to the 12th, e39937."""
    assert (SHADES[0], SHADES[3], SHADES[32], SHADES[63]) == ("#f1f6ca", "#eeefb6", "#e39c3a", "#d50f1d")
    assert (NIGHT_SHADES[0], NIGHT_SHADES[63]) == ("#1c0000", "#ff785a")


def test_a_colour_is_read_as_red_green_and_blue() -> None:
    assert channels("#01a2ff") == (1, 162, 255)


def test_luminance_weighs_red_green_and_blue_and_is_straight_near_black() -> None:
    """WCAG 2.1: weights 0.2126, 0.7152 and 0.0722; below 0.04045 a channel over 12.92, else a power of 2.4."""
    weights = [luminance(colour) for colour in ("#ff0000", "#00ff00", "#0000ff", "#ffffff")]
    assert weights == pytest.approx([0.2126, 0.7152, 0.0722, 1.0])
    assert luminance("#0a0a0a") == pytest.approx(10.0 / 255.0 / 12.92)
    assert luminance("#0b0b0b") == pytest.approx(0.0033465, abs=1e-7)
    assert luminance("#808080") == pytest.approx(0.2158605, abs=1e-7)
    assert (
        contrast("#808080", "#000000") == contrast("#000000", "#808080") == pytest.approx(5.31721, abs=1e-5)
    )


def test_ink_turns_white_where_black_reads_worse() -> None:
    """Both have 4.5 to 1 on the greys between."""
    assert [ink_on(grey) for grey in ("#ffffff", "#767676", "#757575", "#000000")] == [
        "#000000",
        "#000000",
        "#ffffff",
        "#ffffff",
    ]
    assert LEAST_CONTRAST == 4.5


def test_a_step_is_the_nearest_of_sixty_four() -> None:
    """Of warmth 14 K have 63 steps: half a step from 31 °C is a ninth of a kelvin."""
    assert WARMTH_C.steps(np.array([31.1, 31.12, 31.0 + 14.0 / 63.0, 38.0, 44.88, 44.9])).tolist() == [
        0,
        1,
        1,
        32,
        62,
        63,
    ]
    assert (WARMTH_C.step(35.0), SAFE_SHARE.step(0.95), WARMTH_C.step(float("nan"))) == (18, 3, -1)
    assert WARMTH_C.colour(38.0) == SHADES[32]


def test_a_scale_without_width_has_its_first_colour() -> None:
    assert Scale(5.0, 5.0).step(5.0) == 0
    assert Scale(5.0, 5.0).step(6.0) == 63


def test_the_marks_written_on_a_scale_span_it() -> None:
    assert WARMTH_C.marks == (31.0, 35.0, 40.0, 45.0)
    assert SAFE_SHARE.marks == (0.0, 0.5, 1.0)
