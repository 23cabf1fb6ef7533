"""A demo trip cut small, for tests that look at what is done with an answer and not at the answer."""

from __future__ import annotations

from pathlib import Path

from planner.bundled import resource_path

STEP = "step_minutes = 30"
PLACES = '["estate_shut_dark", "estate_window_open", "estate_windows_open", "estate_cooled", "open_trailer"]'


def small_swarm_run(folder: Path) -> Path:
    """The heath round with departures every hour in three loading places, written into ``folder``."""
    demo = resource_path("demo", "swarm-run.toml")
    for beside in demo.parent.glob("swarm-run-*"):
        (folder / beside.name).write_bytes(beside.read_bytes())
    text = demo.read_text("utf-8")
    for was, now in (
        (STEP, "step_minutes = 60"),
        (PLACES, '["estate_shut_dark", "estate_windows_open", "open_trailer"]'),
    ):
        assert was in text, f"{demo.name} no longer has {was}"
        text = text.replace(was, now)
    path = folder / demo.name
    path.write_text(text, "utf-8")
    return path
