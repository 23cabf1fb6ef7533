"""How Skepway enters a Linux desktop: its entry in the menu, its icon, and that it opens trip files.

The one place that writes these; bundle, wheel and checkout differ only in the command that starts us. On Windows and
macOS an installer or the application folder does this.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from contextlib import suppress
from pathlib import Path

from planner.bundled import resource_path
from planner.errors import Fault, InputError
from planner.files import made, write_bytes, write_text

NAME = "skepway"
TRIP_TYPE = "application/x-skepway-trip"


def start_command() -> tuple[str, ...]:
    """What starts this very installation."""
    if getattr(sys, "frozen", False):
        return (sys.executable,)
    script = shutil.which(NAME)
    return (script,) if script else (sys.executable, "-m", "planner")


def entry_text(command: tuple[str, ...]) -> str:
    """The desktop entry (freedesktop.org Desktop Entry Specification 1.5) for a command."""
    return (
        "[Desktop Entry]\nType=Application\nVersion=1.5\nName=Skepway\nGenericName=Trip planner for bees\n"
        "Comment=When to leave, where each box rides, what to change on the box\n"
        f"Exec={' '.join(map(_quoted, command))} %f\nIcon={NAME}\nTerminal=false\n"
        f"Categories=Science;Utility;\nMimeType={TRIP_TYPE};application/toml;\nStartupWMClass={NAME}\n"
    )


TYPE_TEXT = f"""<?xml version="1.0" encoding="UTF-8"?>
<mime-info xmlns="http://www.freedesktop.org/standards/shared-mime-info">
  <mime-type type="{TRIP_TYPE}">
    <comment>Skepway trip</comment>
    <sub-class-of type="application/toml"/>
    <glob pattern="*.trip.toml"/>
  </mime-type>
</mime-info>
"""


def install(data_home: Path | None = None, command: tuple[str, ...] | None = None) -> tuple[Path, ...]:
    """Write entry, type and icon into the user's own desktop folders; returns the files written.

    Raises InputError elsewhere than on Linux, StorageError where a folder cannot be written.
    """
    if not sys.platform.startswith("linux"):
        problem = "menu entries are written on Linux only"
        raise InputError(
            [Fault("install-desktop", sys.platform, problem, "Use the installer for this system")]
        )
    home = data_home or Path(os.environ.get("XDG_DATA_HOME") or Path.home() / ".local" / "share")
    entry = made(home / "applications") / f"{NAME}.desktop"
    kind = made(home / "mime" / "packages") / f"{NAME}.xml"
    icon = made(home / "icons" / "hicolor" / "scalable" / "apps") / f"{NAME}.svg"
    write_text(entry, entry_text(command or start_command()))
    write_text(kind, TYPE_TEXT)
    write_bytes(icon, resource_path("icons", f"{NAME}.svg").read_bytes())
    for program, folder in (
        ("update-mime-database", home / "mime"),
        ("update-desktop-database", entry.parent),
    ):
        _refresh(program, folder)
    return entry, kind, icon


def _refresh(program: str, folder: Path) -> None:
    """Tell the desktop at once; without its programs it notices at the next log-in."""
    found = shutil.which(program)
    if found:
        with suppress(OSError, subprocess.SubprocessError):
            subprocess.run([found, str(folder)], capture_output=True, timeout=20.0, check=False)


def _quoted(word: str) -> str:
    """A word of an Exec line: in double quotes, its own quotes, back-ticks, dollars and strokes escaped."""
    escaped = "".join(f"\\{letter}" if letter in '"`$\\' else letter for letter in word).replace("%", "%%")
    return '"' + escaped.replace("\\", "\\\\") + '"'
