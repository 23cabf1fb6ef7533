#!/usr/bin/env python3
"""The one door to Skepway from a fresh copy: makes ``.venv``, installs what is missing, then runs it.

    python3 run.py demo        plan a bundled trip, print the answer, write report and pictures
    python3 run.py window      open the window
    python3 run.py test [...]  everything the project checks; arguments go to pytest
    python3 run.py test --cover  and how much of the program they run, as continuous integration does
    python3 run.py test --whole  the slow tests too: hours on two cores
    python3 run.py bundle      a folder and an archive in dist/ that need no Python

Needs nothing but Python and, the first time, the network.
"""

from __future__ import annotations

import argparse
import concurrent.futures
import contextlib
import hashlib
import os
import platform
import re
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parent
VENV = ROOT / ".venv"
STAMP = VENV / "skepway-installed"
MARCH_STAMP = VENV / "skepway-march"
MARCH_SOURCES = {".c", ".h", ".txt"}
"""What the compiled march is built of, in planner/model/kernel."""
DEMO_FOLDER = ROOT / "skepway-demo"
DEMO_TRIP = ROOT / "resources" / "demo" / "nuc-pickup.toml"
OLDEST, NEWEST = (3, 11), (3, 14)  # PySide6-Essentials below 6.12 has no wheels for later ones

COVERAGE_FLOOR = 92  # 93.3 when last measured
"""Branch coverage that all quick tests together must reach, in percent. Measuring it makes them take half as long
again, so that whoever waits for them is spared it."""

DIST = ROOT / "dist"
BUNDLE_RECIPE = ROOT / "tools" / "bundle" / "skepway.spec"
MOST_BUNDLE_MB = 405
"""What the bundle may weigh unpacked; it only falls, but for a part that comes in: 340 until papers (typst) and
the pictures of boxes came, 454 until what nobody reads was let go: 402."""

OFFSCREEN = {"QT_QPA_PLATFORM": "offscreen"}
ONE_THREAD = {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
"""The tests run a process a core: threads of the arithmetic below them would only get in each other's way."""

COMPILED_ONCE = {"PYTHONDONTWRITEBYTECODE": ""}
"""Every process of the tests reads 170 files of them: compiled files are kept, whatever the surroundings say."""

QT_PACKAGES = (
    "libegl1 libgl1 libglib2.0-0 libdbus-1-3 libxkbcommon0 libfontconfig1 libfreetype6 libx11-6 "
    "libgssapi-krb5-2 fontconfig fonts-dejavu-core"
)
QT_WINDOW_PACKAGES = (
    "libxkbcommon-x11-0 libx11-xcb1 libxcb-cursor0 libxcb-icccm4 libxcb-image0 libxcb-keysyms1 libxcb-randr0 "
    "libxcb-render-util0 libxcb-render0 libxcb-shape0 libxcb-shm0 libxcb-sync1 libxcb-util1 libxcb-xfixes0 "
    "libxcb-xkb1"
)
QT_TRIAL = (
    "from PySide6 import QtGui, QtNetwork, QtWidgets; "
    "program = QtWidgets.QApplication([]); assert QtGui.QFontDatabase.families()"
)

STATIC_CHECKS = {
    "ruff check": ["ruff", "check", "."],
    "ruff format": ["ruff", "format", "--check", "."],
    "mypy": ["mypy"],
    "import contracts": ["lint-imports", "--no-logo"],
}


class SetupError(Exception):
    """Something the reader has to put right; the text says how."""


def main() -> int:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("task", choices=("demo", "window", "test", "bundle"))
    task, rest = parser.parse_known_args()
    if rest and task.task != "test":
        parser.error(f"{task.task} takes no further arguments: {' '.join(rest)}")
    try:
        if task.task == "demo":
            return demo()
        if task.task == "bundle":
            return bundle()
        return window() if task.task == "window" else test(rest)
    except SetupError as trouble:
        print(f"\n{trouble}", file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        return 130


# -- tasks ---------------------------------------------------------------------------------------


def demo() -> int:
    """Plan a bundled trip from the files alone; open the window afterwards where there is a display."""
    install()
    build_march()
    need_qt(offscreen=True)
    DEMO_FOLDER.mkdir(exist_ok=True)
    for command in demo_commands():
        carry_out(command, f"The demo stopped at: {' '.join(command[1:])}", **OFFSCREEN)
    written = ", ".join(sorted(file.name for file in DEMO_FOLDER.iterdir()))
    print(f"\nWritten to {DEMO_FOLDER.name}/: {written}", flush=True)
    return window() if has_display() else 0


def demo_commands() -> list[list[str]]:
    """What the demo runs, in order; everything it shows off is added here."""
    program = [str(tool("python")), "-m", "planner"]
    report, pictures = ["--html", str(DEMO_FOLDER / "report.html")], ["--pictures", str(DEMO_FOLDER)]
    day = DEMO_TRIP.parent / "day" / "collection-day.toml"
    lanes = [DEMO_TRIP.parent / "lane" / f"parcel-{season}.toml" for season in ("spring", "summer")]
    return [
        [*program, "plan", str(DEMO_TRIP), *report, *pictures],
        [*program, "day", str(day), *pictures],
        *([*program, "lane", str(lane)] for lane in lanes),
    ]


def window() -> int:
    install()
    build_march()
    if not has_display():
        raise SetupError("There is no display here to open a window on. Try: python3 run.py demo")
    need_qt(offscreen=False)
    return subprocess.run([str(tool("python")), "-m", "planner"], cwd=ROOT, check=False).returncode


def test(pytest_arguments: list[str]) -> int:
    """Every check; the last line counts what passed, and the exit code is 0 only if all of it did."""
    install("test")
    build_march()
    need_qt(offscreen=True)
    with concurrent.futures.ThreadPoolExecutor() as pool:
        checks = pool.submit(static_checks)
        started = time.monotonic()
        closing, code = echo([str(tool("python")), "-m", "pytest", *pytest_options(pytest_arguments)])
        seconds = time.monotonic() - started
        broken = report(checks.result())
    step("pytest", code == 0, seconds)
    print(closing_line(closing, broken))
    return 1 if code or broken else 0


def bundle() -> int:
    """The program with all it needs in one folder, and that folder packed; tried once before it is handed over."""
    install("bundle")
    build_march()
    need_qt(offscreen=True)
    work = ["--distpath", str(DIST), "--workpath", str(ROOT / "build" / "bundle")]
    carry_out(
        [str(tool("pyinstaller")), "--noconfirm", "--log-level", "WARN", *work, str(BUNDLE_RECIPE)],
        "The bundle could not be made; the message stands above.",
        SKEPWAY_ROOT=str(ROOT),
        PYTHONPATH=str(ROOT),
    )
    folder = DIST / "skepway"
    carry_out(
        [str(tool("python")), str(BUNDLE_RECIPE.with_name("licences.py")), str(folder)],
        "The licences could not be gathered; the message stands above.",
    )
    program = folder / ("skepway.exe" if os.name == "nt" else "skepway")
    carry_out([str(program), "check", str(DEMO_TRIP)], "The bundle does not start.", **OFFSCREEN)
    kind = "zip" if os.name == "nt" else "gztar"
    name = f"skepway-{platform.system().lower()}-{platform.machine().lower()}"
    packed = Path(shutil.make_archive(str(DIST / name), kind, DIST, "skepway"))
    size_mb = sum(path.lstat().st_size for path in folder.rglob("*") if not path.is_dir()) / 1e6
    print(f"{folder}: {size_mb:.0f} MB; packed {packed.stat().st_size / 1e6:.0f} MB in {packed}", flush=True)
    if size_mb > MOST_BUNDLE_MB:
        raise SetupError(
            f"The bundle is larger than {MOST_BUNDLE_MB} MB. See what came in, or raise the limit."
        )
    return 0


def pytest_options(arguments: list[str]) -> list[str]:
    """Arguments for pytest: a process a core; where coverage is measured, all tests together must keep the floor."""
    rest = [argument for argument in arguments if argument not in ("--whole", "--cover")]
    measured = ["--cov", "--cov-branch", "--cov-report=term"] if "--cover" in arguments else []
    floor = [f"--cov-fail-under={COVERAGE_FLOOR}"] if measured and not rest else []
    whole = ["-m", "not network"] if "--whole" in arguments else []
    given = any(argument.startswith(("-n", "--numprocesses")) for argument in rest)
    beside = [] if given else ["-n", str(cores()), "--dist", "worksteal"]
    return [*measured, *floor, *whole, *beside, *rest]


def cores() -> int:
    """How many processes can run at once."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


# -- checks --------------------------------------------------------------------------------------


Checked = tuple[str, "subprocess.CompletedProcess[str]", float]


def static_checks() -> list[Checked]:
    """Run the checks that execute nothing of the program, side by side: name, result and seconds of each."""
    with concurrent.futures.ThreadPoolExecutor() as pool:
        return list(pool.map(static_check, STATIC_CHECKS))


def report(checks: list[Checked]) -> int:
    """Say how the static checks went; the number that failed."""
    for name, result, seconds in checks:
        step(name, result.returncode == 0, seconds)
        if result.returncode:
            print(result.stdout.rstrip(), flush=True)
    return sum(result.returncode != 0 for _, result, _ in checks)


def static_check(name: str) -> Checked:
    command, started = STATIC_CHECKS[name], time.monotonic()
    result = subprocess.run(
        [str(tool(command[0])), *command[1:]],
        cwd=ROOT,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        check=False,
    )
    return name, result, time.monotonic() - started


def echo(command: list[str]) -> tuple[str, int]:
    """Run while showing the output as it comes; the last line that says something, and the exit code."""
    last = ""
    with subprocess.Popen(
        command,
        cwd=ROOT,
        env={**os.environ, **OFFSCREEN, **ONE_THREAD, **COMPILED_ONCE},
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        errors="replace",
    ) as process:
        assert process.stdout is not None
        for line in process.stdout:
            print(line, end="", flush=True)
            last = line.strip() or last
    return last, process.returncode


def closing_line(pytest_line: str, broken_checks: int) -> str:
    """The count that ends the output: pytest's own line, or one that adds the checks that failed before it."""
    if not broken_checks:
        return pytest_line
    counts = {word: int(number) for number, word in re.findall(r"(\d+) (passed|failed|error)", pytest_line)}
    failed = counts.get("failed", 0) + counts.get("error", 0) + broken_checks
    return f"{counts.get('passed', 0)} passed, {failed} failed"


def step(name: str, passed: bool, seconds: float) -> None:
    print(f"{'ok    ' if passed else 'FAILED'}  {name:<18} {seconds:6.1f} s", flush=True)


# -- setting up ----------------------------------------------------------------------------------


def install(extra: str = "") -> None:
    """Put the program and its libraries into ``.venv``; nothing to do while pyproject.toml is unchanged."""
    wanted = hashlib.sha256((ROOT / "pyproject.toml").read_bytes()).hexdigest()
    if runs(tool("python")):
        done = STAMP.read_text().split() if STAMP.exists() else []
        if done[:1] == [wanted] and extra in ("", *done[1:]):
            return
        extra = extra or " ".join(done[1:])
    else:
        make_venv()
    print("Installing what Skepway needs into .venv (a minute or two, once) ...", flush=True)
    started = time.monotonic()
    target = f".[{extra}]" if extra else "."
    command = [str(tool("python")), "-m", "pip", "install", "--quiet", "--no-input", "--editable", target]
    carry_out(
        command,
        "pip could not install the libraries; its message stands above. Is there a network?",
        PIP_DISABLE_PIP_VERSION_CHECK="1",
    )
    STAMP.write_text(f"{wanted} {extra}")
    step("install", True, time.monotonic() - started)


def build_march() -> None:
    """Build the compiled march, with the means of the machine or a compiler out of a wheel; say which march is in use.

    Where it cannot be, the numpy march does the work. What was tried in vain is not tried again for the same source.
    """
    folder = ROOT / "planner" / "model" / "kernel"
    sources = sorted(path for path in folder.iterdir() if path.suffix in MARCH_SOURCES)
    tried = hashlib.sha256(b"".join(path.read_bytes() for path in sources)).hexdigest()
    said = march_tool()
    if said.returncode and not (MARCH_STAMP.exists() and MARCH_STAMP.read_text() == tried):
        for lend in (system_compiler, wheel_compiler):
            with lend() as environment:
                said = march_tool(**environment) if environment is not None else said
            if not said.returncode:
                break
        MARCH_STAMP.write_text(tried)
    print(
        said.stdout.strip() or "The numpy march is in use: the compiled one could not be asked for.",
        flush=True,
    )


def march_tool(**environment: str) -> subprocess.CompletedProcess[str]:
    """Build the compiled march unless it is there; the exit code is 0 where it may be used."""
    return subprocess.run(
        [str(tool("python")), str(ROOT / "tools" / "march.py")],
        env={**os.environ, **environment},
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
        check=False,
    )


Lent = Iterator["dict[str, str] | None"]


@contextlib.contextmanager
def system_compiler() -> Lent:
    """The C compiler of the system, put in where that is allowed: the environment to build in, None without one."""
    may = not shutil.which("cc") and shutil.which("apt-get") and os.geteuid() == 0
    try:
        if may:
            need_packages("gcc libc6-dev", "There is no C compiler for the fast march")
        yield {} if may else None
    except SetupError:
        yield None


@contextlib.contextmanager
def wheel_compiler() -> Lent:
    """A C compiler out of a wheel, in a folder that is gone afterwards; None where it cannot be had."""
    with tempfile.TemporaryDirectory() as folder:
        print("No C compiler here built the fast march; fetching one for a moment (80 MB) ...", flush=True)
        command = [str(tool("python")), "-m", "pip", "install", "--quiet", "--no-input", "--target", folder]
        done = subprocess.run([*command, "ziglang"], stdin=subprocess.DEVNULL, check=False)
        yield None if done.returncode else {"PYTHONPATH": folder, "ZIG_GLOBAL_CACHE_DIR": folder}


def make_venv() -> None:
    python = find_python()
    command = [python, "-m", "venv", "--clear", str(VENV)]
    if not runs(python, "import ensurepip, venv"):
        version = subprocess.run(
            [python, "-c", "import sys; print('%d.%d' % sys.version_info[:2])"],
            stdout=subprocess.PIPE,
            text=True,
            check=True,
        ).stdout.strip()
        need_packages(f"python{version}-venv", "Python lacks its venv module")
    carry_out(command, f"{' '.join(command)} failed; its message stands above.")


def find_python() -> str:
    """This interpreter if it will do, else another on the path."""
    if OLDEST <= sys.version_info[:2] <= NEWEST:
        return sys.executable
    for minor in range(NEWEST[1], OLDEST[1] - 1, -1):
        python = shutil.which(f"python3.{minor}")
        if python and runs(python):
            return python
    raise SetupError(
        f"Skepway needs Python {OLDEST[0]}.{OLDEST[1]} to {NEWEST[0]}.{NEWEST[1]}; this is "
        f"{sys.version.split()[0]} and no other was found. Install one and run this again with it."
    )


def tool(name: str) -> Path:
    """An executable of the virtual environment."""
    return VENV / ("Scripts" if os.name == "nt" else "bin") / (f"{name}.exe" if os.name == "nt" else name)


def runs(python: str | Path, code: str = "", **environment: str) -> bool:
    try:
        return not subprocess.run(
            [str(python), "-c", code],
            env={**os.environ, **environment},
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            check=False,
        ).returncode
    except OSError:
        return False


# -- what lies outside Python --------------------------------------------------------------------


def need_qt(*, offscreen: bool) -> None:
    """Make sure Qt can start, on this display or on none; it needs libraries that pip does not bring."""
    where = OFFSCREEN if offscreen else {}
    if platform.system() != "Linux" or runs(tool("python"), QT_TRIAL, **where):
        return
    packages = QT_PACKAGES if offscreen else f"{QT_PACKAGES} {QT_WINDOW_PACKAGES}"
    need_packages(packages, "Qt lacks system libraries or a font")
    if not runs(tool("python"), QT_TRIAL, **where):
        raise SetupError(f"Qt still does not start. See why with: {tool('python')} -c '{QT_TRIAL}'")


def need_packages(packages: str, reason: str) -> None:
    """Install Debian packages as root; anybody else is told the command."""
    if not shutil.which("apt-get"):
        raise SetupError(f"{reason}. Install your system's counterparts of these Debian packages: {packages}")
    if os.geteuid() != 0:
        raise SetupError(f"{reason}. Install them, then run this again:\n  sudo apt-get install {packages}")
    print(f"{reason}: installing {packages} ...", flush=True)
    for command in (["update"], ["install", "--yes", "--no-install-recommends", *packages.split()]):
        carry_out(
            ["apt-get", "-qq", *command],
            f"apt-get could not install them; its message stands above. Needed: {packages}",
            DEBIAN_FRONTEND="noninteractive",
        )


def has_display() -> bool:
    if os.environ.get("CI"):
        return False
    if platform.system() == "Linux":
        return bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))
    return True


def carry_out(command: list[str], problem: str, **environment: str) -> None:
    """Run and show a command; a failure ends the run with ``problem`` in words."""
    done = subprocess.run(
        command, cwd=ROOT, env={**os.environ, **environment}, stdin=subprocess.DEVNULL, check=False
    )
    if done.returncode:
        raise SetupError(problem)


if __name__ == "__main__":
    sys.exit(main())
