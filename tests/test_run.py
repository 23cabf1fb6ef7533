"""The door to a fresh copy: what ``run.py`` says and skips, without installing anything."""

from __future__ import annotations

import contextlib
import hashlib
import os
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

import run


@pytest.mark.parametrize(
    ("pytest_line", "broken", "closing"),
    [
        ("220 passed in 21.64s", 0, "220 passed in 21.64s"),
        ("220 passed, 3 skipped in 21.64s", 2, "220 passed, 2 failed"),
        ("2 failed, 220 passed, 1 error in 21.64s", 1, "220 passed, 4 failed"),
        ("no tests ran in 0.01s", 1, "0 passed, 1 failed"),
    ],
)
def test_the_last_line_counts_the_checks_that_failed_before_the_tests(
    pytest_line: str, broken: int, closing: str
) -> None:
    assert run.closing_line(pytest_line, broken) == closing


def test_an_installation_that_fits_is_left_alone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The stamp holds the digest of pyproject.toml and the extras; pip is not called when both fit."""
    digest = hashlib.sha256((run.ROOT / "pyproject.toml").read_bytes()).hexdigest()
    calls = installs(tmp_path, monkeypatch, f"{digest} test")
    run.install()
    run.install("test")
    assert calls == []


@pytest.mark.parametrize("stamp", ["", "0123 test", "damaged"])
def test_a_changed_project_is_installed_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, stamp: str
) -> None:
    calls = installs(tmp_path, monkeypatch, stamp)
    run.install("test")
    assert len(calls) == 1
    assert calls[0][-1] == ".[test]"
    run.install("test")
    assert len(calls) == 1


def installs(folder: Path, monkeypatch: pytest.MonkeyPatch, stamp: str) -> list[list[str]]:
    """A folder that passes for a virtual environment; the pip commands it would have been given."""
    calls: list[list[str]] = []
    monkeypatch.setattr(run, "STAMP", folder / "stamp")
    monkeypatch.setattr(run, "tool", lambda name: Path(sys.executable))
    monkeypatch.setattr(run, "carry_out", lambda command, problem, **env: calls.append(command))
    (folder / "stamp").write_text(stamp)
    return calls


def test_without_a_fitting_python_the_message_says_which_to_get(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(run.sys, "version_info", (3, 9, 2))
    monkeypatch.setenv("PATH", "")
    with pytest.raises(run.SetupError, match=r"needs Python 3\.11 to 3\.14"):
        run.find_python()


@pytest.mark.skipif(not hasattr(os, "geteuid"), reason="needs a system with a root user")
def test_who_may_not_install_packages_is_told_the_command(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(run.shutil, "which", lambda name: f"/usr/bin/{name}")
    monkeypatch.setattr(run.os, "geteuid", lambda: 1000)
    with pytest.raises(run.SetupError, match="sudo apt-get install libegl1"):
        run.need_packages("libegl1", "Qt lacks system libraries")


def test_no_window_is_tried_where_nobody_looks(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("DISPLAY", ":0")
    monkeypatch.setenv("CI", "true")
    assert not run.has_display()


def test_an_unknown_task_is_refused() -> None:
    done = subprocess.run([sys.executable, "run.py", "fly"], cwd=run.ROOT, capture_output=True, check=False)
    assert done.returncode == 2
    assert b"demo" in done.stderr


@pytest.mark.parametrize(
    ("arguments", "measured", "floor", "slow"),
    [
        ([], False, False, False),
        (["--cover"], True, True, False),
        (["--whole"], False, False, True),
        (["--whole", "--cover"], True, True, True),
        (["--cover", "tests/model"], True, False, False),
        (["tests/model"], False, False, False),
    ],
)
def test_all_tests_keep_the_coverage_floor_where_it_is_measured_and_a_part_need_not(
    arguments: list[str], measured: bool, floor: bool, slow: bool
) -> None:
    options = run.pytest_options(arguments)
    assert ("--cov" in options) == measured
    assert (f"--cov-fail-under={run.COVERAGE_FLOOR}" in options) == floor
    assert ("not network" in options) == slow
    assert not {"--whole", "--cover"} & set(options)


def test_continuous_integration_measures_the_coverage() -> None:
    assert "python3 run.py test --cover\n" in (run.ROOT / ".ci" / "run").read_text("utf-8")


def test_the_tests_run_a_process_a_core_unless_told_otherwise(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(run, "cores", lambda: 3)
    assert " ".join(run.pytest_options([])).endswith("-n 3 --dist worksteal")
    for said in (["-n0"], ["-n", "1"], ["--numprocesses=2"]):
        assert "worksteal" not in run.pytest_options(said)


def test_a_static_check_that_fails_is_shown_and_counted(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Each is asked with the interpreter itself: one is content, one complains."""
    monkeypatch.setattr(run, "tool", lambda name: Path(sys.executable))
    code = {"content": "pass", "sour": "print('line 3'); raise SystemExit(1)"}
    monkeypatch.setattr(run, "STATIC_CHECKS", {name: ["python", "-c", text] for name, text in code.items()})
    assert run.report(run.static_checks()) == 1
    said = capsys.readouterr().out
    assert re.search("ok +content", said)
    assert re.search("FAILED +sour", said)
    assert "line 3" in said


def test_the_pinned_versions_are_names_and_numbers_alone() -> None:
    """Nothing but ``name==version``: no address of a registry, no hash, no option."""
    for name in ("versions.txt", "versions-npm.txt"):
        lines = (run.ROOT / ".ci" / name).read_text(encoding="utf-8").splitlines()
        pins = [line for line in lines if not line.startswith("#")]
        assert pins
        assert [line for line in pins if not re.fullmatch(r"[A-Za-z0-9._-]+==[A-Za-z0-9.]+", line)] == []
    direct = re.findall(
        r'^  "([A-Za-z0-9_-]+)[><=!]', (run.ROOT / "pyproject.toml").read_text(), re.MULTILINE
    )
    pinned = (run.ROOT / ".ci" / "versions.txt").read_text(encoding="utf-8").lower().replace("_", "-")
    assert [name for name in direct if f"\n{name.lower()}==" not in pinned] == []


def test_the_march_that_was_built_is_named(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    said = subprocess.CompletedProcess([], 0, "The compiled march is in use.\n")
    monkeypatch.setattr(run, "march_tool", lambda **environment: said)
    run.build_march()
    assert capsys.readouterr().out == "The compiled march is in use.\n"


def test_compilers_are_lent_once_for_a_source_and_then_numpy_does_the_work(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Neither the system's compiler nor that of a wheel helps; the next start does not fetch them again."""
    lent: list[str] = []

    @contextlib.contextmanager
    def lend(name: str) -> Iterator[dict[str, str]]:
        lent.append(name)
        yield {}

    said = subprocess.CompletedProcess([], 1, "The numpy march is in use (no C compiler was found).\n")
    monkeypatch.setattr(run, "MARCH_STAMP", tmp_path / "march")
    monkeypatch.setattr(run, "march_tool", lambda **environment: said)
    for name in ("system_compiler", "wheel_compiler"):
        monkeypatch.setattr(run, name, lambda name=name: lend(name))
    run.build_march()
    run.build_march()
    assert lent == ["system_compiler", "wheel_compiler"]
    assert capsys.readouterr().out.count("The numpy march is in use") == 2
