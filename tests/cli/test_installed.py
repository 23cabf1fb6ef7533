"""The wheel carries its data files and runs from anywhere."""

from __future__ import annotations

import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


@pytest.mark.slow
def test_an_unpacked_wheel_checks_its_own_demo(tmp_path: Path) -> None:
    """Builds the wheel in isolation, so it needs the network the first time."""
    built = subprocess.run(
        [sys.executable, "-m", "pip", "wheel", "--no-deps", "-q", "-w", str(tmp_path), str(ROOT)],
        capture_output=True,
        text=True,
    )
    assert built.returncode == 0, built.stderr
    (wheel,) = tmp_path.glob("*.whl")
    site = tmp_path / "site"
    zipfile.ZipFile(wheel).extractall(site)
    demo = site / "planner" / "resources" / "demo" / "nuc-pickup.toml"
    found = subprocess.run(
        [sys.executable, "-m", "planner", "check", str(demo)],
        cwd=site,
        env={"PYTHONPATH": str(site)},
        capture_output=True,
        text=True,
    )
    assert found.returncode == 0, found.stderr
    assert "no faults" in found.stdout
