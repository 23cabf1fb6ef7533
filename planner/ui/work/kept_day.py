"""A copy of the collection day on its page, written with every change: a crash or a closed window loses nothing.

Unlike a trip nobody is asked before the window closes: what was not saved is offered the next time.
"""

from __future__ import annotations

import json
import os
import time
from contextlib import suppress
from pathlib import Path
from typing import Any

from PySide6.QtCore import QLockFile

from planner.errors import SkepwayError
from planner.files import made_private, write_text
from planner.ui.work.recovery import Left, left_behind

SORT = "day"


class KeptDay:
    """The copy of one page in ``folder``; ``left`` is the newest day nobody saved, None where there is none."""

    def __init__(self, folder: Path, keep_days: int = 30) -> None:
        self.file = folder / f"{SORT}-{os.getpid()}-{time.time_ns()}.json"
        self._lock = QLockFile(str(self.file.with_suffix(".lock")))
        self._lock.setStaleLockTime(0)
        self.left: Left | None = None
        with suppress(OSError):
            self.left = next(iter(left_behind(folder, keep_days, SORT)), None)

    def keep(self, draft: dict[str, Any], base_folder: Path | None) -> SkepwayError | None:
        """Write the copy; says why there is none."""
        kept = {
            "draft": draft,
            "path": None,
            "base_folder": None if base_folder is None else str(base_folder),
            "written_s": time.time(),
        }
        try:
            made_private(self.file.parent)
            self._lock.tryLock(0)
            write_text(self.file, json.dumps(kept, default=str), private=True)
        except SkepwayError as error:
            return error
        return None

    def take_up(self) -> Left | None:
        """The day that was left: from now on its copy is this page's."""
        left, self.left = self.left, None
        if left is not None:
            self._lock.tryLock(0)
            with suppress(OSError):
                left.file.replace(self.file)
        return left

    def let_go(self) -> None:
        """Give up the day that was left."""
        if self.left is not None:
            with suppress(OSError):
                self.left.file.unlink(missing_ok=True)
            self.left = None

    def drop(self) -> None:
        """Nothing is left to lose: the day stands in a file of its own."""
        with suppress(OSError):
            self.file.unlink(missing_ok=True)
