"""The bundle where there is no Python and no network: a bare Debian tree, every command, settings that stay.

Needs ``python3 run.py bundle`` before it, and root, debootstrap and unshare for the tree; it says what is missing.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

import run
from planner.cli.main import COMMANDS, main

ROOT = Path(__file__).resolve().parents[2]
BUNDLE = ROOT / "dist" / "skepway"
TREE = ROOT / "build" / "bare-debian"
BROUGHT = "/opt/skepway/_internal/planner/resources/demo"
OUT = "/srv/out"
DEMO = f"{OUT}/swarm-run.toml"
"""A copy: an id is written into a trip's file that the logbook is to know."""

A, B = "2027-06-11T15:30,open_trailer", "2027-06-11T19:00,open_trailer"

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
    "compare": f"{DEMO} {A} {B} --draws 8",
    "day": f"{BROUGHT}/day/collection-day.toml --offline --pictures {OUT}/pictures",
    "lane": f"{BROUGHT}/lane/parcel-spring.toml --offline",
    "sheets": f"{DEMO} --offline --draws 8 --to {OUT}/papers --lang de",
    "trade": "doubles_8_frames_cool --draws 4",
    "inspect": f"{DEMO} --offline --box B001N straps=ok",
    "cause": f"{DEMO} B001N",
    "lessons": f"--demo --pictures {OUT}/pictures",
    "logbook": f"export {OUT}/logbook.zip",
}
"""What each command is asked; one that is not listed is asked for its help, which loads all it needs."""

WRITTEN = (
    "report.html", "plan.json", "pictures/departures.svg", "pictures/temperatures.svg", "pictures/calibration.svg",
    "new.toml", "logbook.zip",
)  # fmt: skip
PAPERS = {".pdf", ".html", ".ics"}
"""What the sheets are written as: by the type-setter, as a page for the phone, as a calendar."""


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
        begun = TREE.with_name("bare-debian-begun")  # what was broken off is no tree
        for left in (TREE, begun):
            shutil.rmtree(left, ignore_errors=True)
        TREE.parent.mkdir(exist_ok=True)
        packages = ",".join(run.QT_PACKAGES.split())
        subprocess.run(
            ["debootstrap", "--variant=minbase", f"--include={packages}", "bookworm", str(begun)],
            check=True,
            stdout=subprocess.DEVNULL,
        )
        begun.rename(TREE)
    inside = TREE / "opt" / "skepway"
    shutil.rmtree(inside, ignore_errors=True)
    shutil.rmtree(TREE / "srv", ignore_errors=True)
    (TREE / "srv" / "out").mkdir(parents=True)
    shutil.copytree(BUNDLE, inside, symlinks=True)
    for path in (inside / "_internal" / "planner" / "resources" / "demo").glob("swarm-run*"):
        shutil.copy(path, TREE / "srv" / "out")
    yield TREE
    shutil.rmtree(inside, ignore_errors=True)


def _found(name: str) -> str:
    return shutil.which(name) or name


def within(tree: Path, *words: str) -> subprocess.CompletedProcess[str]:
    """Run words in the tree, without any network and with an environment of nothing."""
    return subprocess.run(
        [_found("unshare"), "-n", _found("chroot"), str(tree), *words],
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
def test_every_command_of_the_bundle_works_without_python_and_network(tree: Path, tmp_path: Path) -> None:
    python = within(tree, "sh", "-c", "command -v python3 || command -v python || echo none")
    assert python.stdout.strip() == "none", python.stderr
    for name in COMMANDS:
        words = TRIED.get(name, "--help").split()
        done = within(tree, "/opt/skepway/skepway", name, *words)
        assert done.returncode == 0, (
            f"{name}: {done.returncode}\n{done.stdout[-1500:]}\n{done.stderr[-1500:]}"
        )
        assert "Traceback" not in done.stderr
    assert [name for name in WRITTEN if not (tree / "srv" / "out" / name).exists()] == []
    assert {path.suffix for path in (tree / "srv" / "out" / "papers").iterdir()} >= PAPERS
    march = within(tree, "/opt/skepway/skepway", "--version")
    assert "compiled march is in use" in march.stdout
    asked = [
        "plan",
        str(tree / "srv" / "out" / "swarm-run.toml"),
        "--offline",
        "--json",
        str(tmp_path / "plan.json"),
    ]
    main(asked)
    ours, theirs = (
        json.loads(path.read_text()) for path in (tmp_path / "plan.json", tree / "srv/out/plan.json")
    )
    assert theirs == ours, "another answer than from the source: a file that it needs is not in the bundle"
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


@pytest.mark.slow
def test_the_bundle_weighs_no_more_than_it_may() -> None:
    """Nothing that nobody opens has come back; what is new is seen here."""
    if not (BUNDLE / "skepway").exists():
        pytest.skip("no bundle: python3 run.py bundle makes it")
    files = [path for path in BUNDLE.rglob("*") if not path.is_dir()]
    assert sum(path.lstat().st_size for path in files) / 1e6 <= run.MOST_BUNDLE_MB
    let_go = ("Qt/translations/", "libqgtk3", "libqlinuxfb", "libQt6EglF", "libavif")
    assert [path for path in files if any(name in path.as_posix() for name in let_go)] == []
