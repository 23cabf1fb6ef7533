"""What the window holds over a long sitting."""

from __future__ import annotations

import gc
from pathlib import Path

import pytest
from PySide6.QtWidgets import QApplication

from planner.ui.window import Window


@pytest.mark.slow
@pytest.mark.hour
def test_memory_stays_bounded_over_a_long_sitting(swarm_run: Window, qtbot, settled) -> None:
    """Two hundred changes, choices and palettes; what is held must not grow with them."""
    window = swarm_run
    slider = window.load_editor.box.bees_kg.slider

    def sitting(rounds: int) -> float:
        for step in range(rounds):
            slider.setValue(slider.value() + (1 if step % 2 else -1))
            departures = window.board.shown.departures_s
            window.session.look_at_departure(departures[step % len(departures)])
            window.looks.set_theme(("light", "dark")[step % 2])
            settled(window)
        gc.collect()
        QApplication.processEvents()
        return _resident_mb()

    first = sitting(40)
    last = sitting(160)
    assert last < 500
    assert last - first < 40, f"{first:.0f} MB, then {last:.0f} MB"


def _resident_mb() -> float:
    for line in Path("/proc/self/status").read_text().splitlines():
        if line.startswith("VmRSS"):
            return int(line.split()[1]) / 1024
    return 0.0
