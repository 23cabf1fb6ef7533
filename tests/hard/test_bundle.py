"""The bundle where there is no Python and no network: a bare Debian tree, every command, settings that stay.

Needs ``python3 run.py bundle`` before it, and root, debootstrap and unshare for the tree; it says what is missing.
"""

from __future__ import annotations

import os
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

import run
from planner.cli.main import COMMANDS

ROOT = Path(__file__).resolve().parents[2]
BUNDLE = ROOT / "dist" / "skepway"
TREE = ROOT / "build" / "bare-debian"
DEMO = "/opt/skepway/_internal/planner/resources/demo/swarm-run.toml"
OUT = "/srv/out"

TRIED = {
    "plan": f"{DEMO} --rows 3 --html {OUT}/report.html --json {OUT}/plan.json --pictures {OUT}/pictures",
    "sure": f"{DEMO} --draws 8",
    "helps": f"{DEMO} --draws 8",
    "water": f"{DEMO} --draws 8",
    "reserve": DEMO,
    "tipping": DEMO,
    "recheck": f"{DEMO} --offline",
    "check": DEMO,
    "explain": OUT,
    "new": f"{OUT}/new.toml",
    "place": "52.9,9.9 --save yard",
    "route": "52.9,9.9 53.1,10.2 --offline",
    "install-desktop": "",
}
"""What each command is asked; one that is not listed is asked for its help, which loads all it needs."""

WRITTEN = ("report.html", "plan.json", "pictures/departures.svg", "pictures/temperatures.svg", "new.toml")


def lacking() -> str:
    """What keeps the bundle from being tried here; empty where nothing does."""
    if not (BUNDLE / "skepway").exists():
        return "no bundle: python3 run.py bundle makes it"
    if not hasattr(os, "geteuid") or os.geteuid() != 0:
        return "only root can enter a tree of its own"
    missing = [name for name in ("debootstrap", "unshare", "chroot") if shutil.which(name) is None]
    return f"{', '.join(missing)} missing" if missing else ""


@pytest.fixture(scope="module")
def tree() -> Iterator[Path]:
    """A Debian of nothing but Qt's system libraries, the bundle inside."""
    if why := lacking():
        pytest.skip(why)
    if not (TREE / "etc" / "debian_version").exists():
        shutil.rmtree(TREE, ignore_errors=True)
        TREE.parent.mkdir(exist_ok=True)
        packages = ",".join(run.QT_PACKAGES.split())
        subprocess.run(
            ["debootstrap", "--variant=minbase", f"--include={packages}", "bookworm", str(TREE)],
            check=True,
            stdout=subprocess.DEVNULL,
        )
    inside = TREE / "opt" / "skepway"
    shutil.rmtree(inside, ignore_errors=True)
    shutil.rmtree(TREE / "srv", ignore_errors=True)
    (TREE / "srv" / "out").mkdir(parents=True)
    shutil.copytree(BUNDLE, inside, symlinks=True)
    yield TREE
    shutil.rmtree(inside, ignore_errors=True)


def within(tree: Path, *words: str) -> subprocess.CompletedProcess[str]:
    """Run words in the tree, without any network and with an environment of nothing."""
    return subprocess.run(
        ["unshare", "-n", "chroot", str(tree), *words],
        env={"HOME": "/srv", "PATH": "/usr/bin:/bin", "LANG": "C.UTF-8", "QT_QPA_PLATFORM": "offscreen"},
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        timeout=600,
        check=False,
    )


@pytest.mark.slow
@pytest.mark.hour
@pytest.mark.timeout(3600)
def test_every_command_of_the_bundle_works_without_python_and_network(tree: Path) -> None:
    assert within(tree, "sh", "-c", "command -v python3 || command -v python").returncode != 0
    for name in COMMANDS:
        words = TRIED.get(name, "--help").split()
        done = within(tree, "/opt/skepway/skepway", name, *words)
        assert done.returncode == 0, (
            f"{name}: {done.returncode}\n{done.stdout[-1500:]}\n{done.stderr[-1500:]}"
        )
        assert "Traceback" not in done.stderr
    assert [name for name in WRITTEN if not (tree / "srv" / "out" / name).exists()] == []
    kept = within(tree, "/opt/skepway/skepway", "place", "yard")
    assert "yard" in kept.stdout


@pytest.mark.slow
@pytest.mark.hour
@pytest.mark.timeout(600)
def test_the_window_of_the_bundle_opens_a_trip(tree: Path) -> None:
    """Offscreen, a trip named; alive after a quarter of a minute, and nothing said in anger."""
    words = f"timeout --preserve-status 15 /opt/skepway/skepway {DEMO}"
    done = within(tree, "sh", "-c", words)
    assert done.returncode in (-15, 0, 143), done.stderr[-1500:]
    assert "Traceback" not in done.stderr


def test_what_is_asked_of_the_bundle_are_its_commands() -> None:
    assert set(TRIED) <= set(COMMANDS)
