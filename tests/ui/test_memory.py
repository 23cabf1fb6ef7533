"""What the window holds over a long sitting, and what Qt has to say meanwhile."""

from __future__ import annotations

import gc
import time
from pathlib import Path

import pytest
from PySide6.QtCore import QCoreApplication, QEvent
from PySide6.QtWidgets import QApplication

from planner.ui.window import Window

WARM_UP, ROUNDS = 15, 75
"""An hour of use by hand has about as many: fonts, caches and the pool's own arenas fill in the first.

A round takes 18 s of a processor, all of them 28 min; on a machine that does ten other things, five times as long.
Measured there: 458 MB after the first round, 488 after 15, 489 after 45.
"""
MOST_GROWTH_MB = 20.0
SURE, HELPS, STAND = 1, 2, 3


@pytest.mark.slow
@pytest.mark.hour
@pytest.mark.timeout(14_400)
def test_an_hour_of_use_grows_by_less_than_20_mb_and_qt_has_nothing_to_say(
    anew: None, swarm_run: Window, qtbot, qtlog, settled, small_trip: Path, tmp_path: Path
) -> None:
    """Trips opened and saved, sliders, departures, pins, pages, palettes and sizes of type, over and over.

    Nothing is remembered meanwhile: what the tests keep of answers would count as the window's. The figures of
    every fifth round are printed: run it with ``-s`` to see them.
    """
    window = swarm_run
    held = []
    for number in range(WARM_UP + ROUNDS):
        _round(window, qtbot, settled, number)
        window.files.save_to(tmp_path / "sitting.trip.toml")
        window.open_demo(small_trip)
        settled(window)
        held.append(_resident_mb())
        if number % 5 == 0:
            used_s = time.process_time() / (number + 1)
            print(f"round {number}: {held[-1]:.0f} MB, {used_s:.1f} s of a processor each", flush=True)
    grown = min(held[-10:]) - min(held[WARM_UP - 5 : WARM_UP + 5])
    said = [record.message for record in qtlog.records]
    print(f"grown by {grown:.1f} MB to {held[-1]:.0f} MB; Qt said {len(said)} things")
    assert [words for words in said if "plugin does not support" not in words] == []
    assert grown < MOST_GROWTH_MB, [round(mb) for mb in held[::5]]


def _round(window: Window, qtbot, settled, number: int) -> None:
    """One turn of everything that is done often."""
    session, slider = window.session, window.load_editor.box.bees_kg.slider
    for step in range(3):
        slider.setValue(slider.value() + (1 if step % 2 else -1))
        session.look_at_departure(window.board.shown.departures_s[step])
        window.steps.turn(step)
        settled(window)
    window.document.stack.undo()
    settled(window)
    for page in (SURE, HELPS, STAND, 0):
        window.book.turn(page)
        qtbot.waitUntil(lambda: not window.runner.busy())
    session.pin("A", session.answer.best)
    session.pin("B", session.answer.candidates[-1])
    qtbot.waitUntil(lambda: session.verdict is not None)
    window.looks.set_theme(("light", "dark", "night")[number % 3])
    window.looks.scale_type(1.1)
    QApplication.processEvents()
    window.looks.scale_type(1 / 1.1)
    settled(window)


def _resident_mb() -> float:
    gc.collect()
    QCoreApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
    QApplication.processEvents()
    for line in Path("/proc/self/status").read_text().splitlines():
        if line.startswith("VmRSS"):
            return int(line.split()[1]) / 1024
    return 0.0
