"""What the window remembers between two days: recent trips, units, palette, type size, tiles."""

from __future__ import annotations

import json
from contextlib import suppress
from dataclasses import asdict, dataclass, field, fields
from pathlib import Path

from planner.errors import SkepwayError, StorageError
from planner.files import holding, made_private, write_text
from planner.reading import net, read_bounded
from planner.words import say

RECENT = 8
MOST_PX = 100_000


def _damaged(fault: Exception) -> StorageError:
    return StorageError(say("window.the_window_s_settings", fault=f"{fault}"))


@dataclass
class Preferences:
    """Plain values, written as JSON; a damaged or missing file gives the defaults."""

    file: Path
    recent: list[str] = field(default_factory=list)
    units: str = "metric"
    theme: str = "light"
    scale: float = 1.0
    tile_url: str = ""
    tile_attribution: str = ""
    geometry: str = ""
    language: str = "en"
    home_yard: str = ""
    keep_days: int = 30
    steps_px: int = 0
    shares: dict[str, list[int]] = field(default_factory=dict)
    beside_road: bool = True
    trouble: str = ""

    @classmethod
    def load(cls, file: Path) -> Preferences:
        """Read ``file``; unknown names and wrong types are passed over."""
        preferences = cls(file)
        if not file.is_file():
            return preferences
        with suppress(SkepwayError), net(_damaged):
            held = json.loads(read_bounded(file))
            for part in fields(cls):
                value = held.get(part.name) if isinstance(held, dict) else None
                if part.name not in ("file", "trouble") and isinstance(
                    value, type(getattr(preferences, part.name))
                ):
                    setattr(preferences, part.name, value)
        return preferences

    def share_of(self, grip: str, parts: int) -> list[int]:
        """What the hand gave each of so many parts when it last drew this grip; empty where it never did."""
        held = self.shares.get(grip, [])
        fits = isinstance(held, list) and len(held) == parts
        return held if fits and all(type(px) is int and 0 <= px <= MOST_PX for px in held) else []

    def save(self) -> None:
        """Write everything; a folder that cannot be written is kept as ``trouble``, only comfort is lost."""
        try:
            with holding(made_private(self.file.parent)):
                others = Preferences.load(self.file).recent  # what another window opened meanwhile
                self.recent = list(dict.fromkeys([*self.recent, *others]))[:RECENT]
                kept = {
                    name: value for name, value in asdict(self).items() if name not in ("file", "trouble")
                }
                write_text(self.file, json.dumps(kept, indent=1), private=True)
        except SkepwayError as error:
            self.trouble = str(error)

    def opened(self, path: Path) -> None:
        """Put a trip file first among the recent ones."""
        text = str(path.resolve())
        self.recent = [text, *(other for other in self.recent if other != text)][:RECENT]
        self.save()

    def recent_files(self) -> list[Path]:
        """Recent trips that still exist."""
        return [path for path in map(Path, self.recent) if path.exists()]
