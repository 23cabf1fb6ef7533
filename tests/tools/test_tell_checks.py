"""The list of checks: what each says, and which of them are missed for what reason."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from tools.tell_checks import first_paragraph, named

MADE_UP = """
import pytest


def test_a_comb_lags():
    \"\"\"H1. Somebody 2001: a comb lags
    by an hour.

    More of it.
    \"\"\"


@pytest.mark.parametrize("air_c", [1, 2])
@pytest.mark.xfail(reason="2 degrees too warm", strict=True)
def test_a_cluster_warms(air_c):
    assert air_c > 5
"""

RECORD = """
import pytest
from tools.tell_checks import Recorder
seen = Recorder()
pytest.main(["-q", "-p", "no:cacheprovider", "made_up_checks.py"], plugins=[seen])
print(seen.says, seen.missed, sep="\\n")
"""


def test_a_missed_check_is_kept_with_its_reason(tmp_path: Path) -> None:
    (tmp_path / "made_up_checks.py").write_text(MADE_UP)
    root = Path(__file__).resolve().parents[2]
    command = [sys.executable, "-c", RECORD]
    done = subprocess.run(
        command, cwd=tmp_path, env={"PYTHONPATH": str(root)}, capture_output=True, text=True, check=True
    )
    says, missed = done.stdout.strip().splitlines()[-2:]
    assert "'H1. Somebody 2001: a comb lags by an hour.'" in says
    assert "'A cluster warms.'" in says
    assert missed == "{'test_a_cluster_warms': ['2 degrees too warm', '2 degrees too warm']}"


def test_a_check_without_a_docstring_says_its_name() -> None:
    assert named("test_no_comb_is_lost") == "No comb is lost."
    assert first_paragraph("One\n  line.\n\nMore.") == "One line."
