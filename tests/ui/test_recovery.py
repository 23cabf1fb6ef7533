"""What is left after a crash, and what is not."""

from __future__ import annotations

import json
import subprocess
import sys
import time
from pathlib import Path

from planner.ui.trip.document import Document
from planner.ui.work.recovery import WAIT_MS, Recovery, left_behind
from planner.ui.work.runner import Runner
from tests.ui.conftest import PATIENCE_MS

ROOT = Path(__file__).resolve().parents[2]

EDIT_AND_HANG = """
import sys, time
from pathlib import Path
from PySide6.QtWidgets import QApplication
from planner.ui.main import main
import planner.ui.window as module
from PySide6.QtCore import QTimer

class Edited(module.Window):
    def show(self):
        super().show()
        self.open_demo(Path(sys.argv[1]))
        self.load_editor.box.count.box.setValue(17)
        QTimer.singleShot(0, lambda: print("edited", flush=True))

module.Window = Edited
main()
"""


def test_a_process_killed_while_editing_leaves_its_trip_behind(
    home: Path, open_window, tmp_path: Path
) -> None:
    """The real program in its own process, killed without any chance to tidy up."""
    demo = ROOT / "resources" / "demo" / "swarm-run.toml"
    process = subprocess.Popen(
        [sys.executable, "-c", EDIT_AND_HANG, str(demo)], cwd=ROOT, stdout=subprocess.PIPE
    )
    assert process.stdout.readline() == b"edited\n"
    folder = home / "data" / "recovery"
    deadline = time.monotonic() + PATIENCE_MS / 1000.0
    while not list(folder.glob("open-*.json")) and time.monotonic() < deadline:
        time.sleep(0.02)
    assert left_behind(folder) == [], "a running window's copy is not offered to another"
    process.kill()
    process.wait()
    process.stdout.close()
    left = left_behind(folder)
    assert len(left) == 1
    assert left[0].draft["load"][0]["count"] == 17
    assert left[0].base_folder == demo.parent


def test_the_window_offers_and_takes_up_what_was_left(open_window, tmp_path: Path) -> None:
    folder = tmp_path / "recovery"
    folder.mkdir()
    draft = {"version": 1, "title": "Half done", "load": []}
    (folder / "open-1-1.json").write_text(
        json.dumps({"draft": draft, "path": None, "written_s": time.time() - 120})
    )
    window = open_window()
    assert window.first_page.left_row.isVisible()
    assert "Half done" in window.first_page.left.text()
    window.first_page.recover.click()
    assert window.document.draft["title"] == "Half done"
    assert window.document.dirty
    assert "2 min" in window.notice.words.text()
    assert not (folder / "open-1-1.json").exists()


def test_a_damaged_copy_is_passed_over(tmp_path: Path, qapp) -> None:
    (tmp_path / "open-1-1.json").write_text("{broken")
    (tmp_path / "open-2-2.json").write_text('{"draft": 3}')
    assert left_behind(tmp_path) == []


def test_of_several_copies_the_newest_is_offered_first(tmp_path: Path, qapp) -> None:
    now_s = time.time()
    for number, age_s in enumerate((300.0, 60.0, 9000.0)):
        kept = {"draft": {"title": f"{age_s:.0f}"}, "path": None, "written_s": now_s - age_s}
        (tmp_path / f"open-{number}-1.json").write_text(json.dumps(kept))
    assert [left.draft["title"] for left in left_behind(tmp_path)] == ["60", "300", "9000"]


def test_a_trip_given_up_at_once_leaves_no_copy_a_moment_later(tmp_path: Path, qtbot) -> None:
    runner, document = Runner(), Document()
    recovery = Recovery(document, runner, tmp_path)
    document.open({"title": "a"}, None)
    document.edit(("title",), "b")
    recovery.drop()
    qtbot.wait(2 * WAIT_MS)
    qtbot.waitUntil(lambda: not runner.busy(), timeout=PATIENCE_MS)
    assert not recovery.file.exists()
    runner.close()
    recovery.close()


def test_saving_takes_the_copy_away(tmp_path: Path, qtbot) -> None:
    runner, document = Runner(), Document()
    recovery = Recovery(document, runner, tmp_path)
    document.open({"title": "a"}, None)
    document.edit(("title",), "b")
    qtbot.waitUntil(recovery.file.exists, timeout=PATIENCE_MS)
    document.saved(tmp_path / "b.toml")
    recovery.drop()
    assert not recovery.file.exists()
    runner.close()
    recovery.close()


def test_a_home_that_cannot_be_written_keeps_no_copy_and_no_window_away(open_window, tmp_path: Path) -> None:
    """Said once; nothing flies while a trip is opened, edited and given up."""
    (tmp_path / "recovery").write_text("a file where the folder should be")
    window = open_window()
    assert "cannot be made" in window.notice.words.text()
    twice = []
    window.files.twice.connect(lambda: twice.append(1))
    window.open_trip(ROOT / "resources" / "demo" / "swarm-run.toml")
    assert not twice, "no other window has it open"
    window.document.edit(("title",), "b")
    window.recovery._write()
    window.recovery.drop()
