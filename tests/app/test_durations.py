"""Durations as they are said."""

from __future__ import annotations

import pytest

from planner.app.common.wording import duration_text


@pytest.mark.parametrize(("seconds", "text"), [(300.0, "5 min"), (3600.0, "1 h"), (12_000.0, "3 h 20 min")])
def test_durations_read_like_speech(seconds: float, text: str) -> None:
    assert duration_text(seconds) == text
