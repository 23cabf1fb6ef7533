"""The user's own folders: settings, kept answers, plans and unsaved work; ``SKEPWAY_HOME`` moves them all."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import platformdirs

HOME_VARIABLE = "SKEPWAY_HOME"


def config_dir() -> Path:
    """Settings, saved places and the user's own catalogue rows."""
    return _folder("config", platformdirs.user_config_path)


def cache_dir() -> Path:
    """Kept answers of services; may be deleted at any time."""
    return _folder("cache", platformdirs.user_cache_path)


def data_dir() -> Path:
    """The journal of plans, profiles and recovery files."""
    return _folder("data", platformdirs.user_data_path)


def _folder(name: str, usual: Callable[..., Path]) -> Path:
    home = os.environ.get(HOME_VARIABLE)
    return Path(home) / name if home else usual("skepway", appauthor=False)
