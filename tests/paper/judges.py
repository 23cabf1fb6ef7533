"""Judges that npm brings, installed beside the tests when one is first asked for; Node.js has to be there."""

from __future__ import annotations

import json
import shutil
import subprocess
from functools import cache
from pathlib import Path

import pytest

HERE = Path(__file__).resolve().parent
LIST = HERE / "package.json"
INSTALL = ("install", "--no-package-lock", "--no-audit", "--no-fund", "--ignore-scripts", "--loglevel=error")


def node() -> str:
    """The Node.js of this machine; a test is skipped where there is none."""
    found = shutil.which("node")
    if found is None or shutil.which("npm") is None:
        pytest.skip("needs Node.js with npm")
    return found


def package(name: str) -> Path:
    """The folder of a package in the version that ``package.json`` names."""
    node()
    folder = HERE / "node_modules" / name
    if _version(folder) != json.loads(LIST.read_text())["dependencies"][name]:
        _install()
    return folder


def _version(folder: Path) -> str:
    try:
        return str(json.loads((folder / "package.json").read_text()).get("version", ""))
    except (OSError, ValueError):
        return ""


@cache
def _install() -> None:
    npm = shutil.which("npm")
    assert npm is not None
    done = subprocess.run([npm, *INSTALL], cwd=HERE, capture_output=True, text=True, check=False)
    assert done.returncode == 0, f"npm could not install what tests/paper/package.json names: {done.stderr}"
