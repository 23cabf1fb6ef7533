"""The table of times judges as it says: 1 where a ratio falls short by over a tenth, 2 where the cores are busy."""

from __future__ import annotations

import pytest

from tests.benchmarks import __main__ as benchmarks
from tests.benchmarks.timing import Ratio


def judged(monkeypatch: pytest.MonkeyPatch, ratios: list[Ratio], busy: float = 1.0) -> int:
    """The exit code of ``--check`` where the ratios and the business of the cores are these."""
    monkeypatch.setattr("sys.argv", ["benchmarks", "--check"])
    monkeypatch.setattr(benchmarks, "busyness", lambda: busy)
    monkeypatch.setattr(benchmarks, "marches", lambda: ratios)
    monkeypatch.setattr(benchmarks, "whole_command", lambda name: Ratio(name, 4.0, 4.0))
    monkeypatch.setattr(benchmarks, "from_request", lambda name: [Ratio(name, 2.0, 2.0)])
    monkeypatch.setattr(benchmarks, "people", lambda: None)
    return benchmarks.main()


@pytest.mark.parametrize(("found", "code"), [(6.0, 0), (5.4, 0), (5.39, 1), (1.0, 1)])
def test_a_ratio_short_by_more_than_a_tenth_fails(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], found: float, code: int
) -> None:
    """The target itself and nine tenths of it are reached."""
    assert judged(monkeypatch, [Ratio("march", found, 6.0), Ratio("other", 10.0, 9.0)]) == code
    assert ("Falls short: march" in capsys.readouterr().out) == bool(code)


def test_busy_cores_judge_nothing(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Not even what falls short by far, and in words."""
    assert judged(monkeypatch, [Ratio("march", 1.0, 6.0)], busy=2.0) == 2
    assert "busy" in capsys.readouterr().out


def test_a_whole_plan_that_falls_short_fails(monkeypatch: pytest.MonkeyPatch) -> None:
    """``--check`` judges the march and the whole command; without a compiled march there is nothing to judge."""
    assert judged(monkeypatch, []) == 0
    monkeypatch.setattr(benchmarks, "WHOLE", ("swarm-run",))
    monkeypatch.setattr("sys.argv", ["benchmarks", "--check"])
    monkeypatch.setattr(benchmarks, "whole_command", lambda name: Ratio(name, 3.0, 4.0))
    monkeypatch.setattr(benchmarks, "marches", lambda: [Ratio("march", 6.0, 6.0)])
    assert benchmarks.main() == 1


def test_a_slow_way_from_the_request_fails(monkeypatch: pytest.MonkeyPatch) -> None:
    """The first answer and the decision are judged beside the whole command."""
    assert judged(monkeypatch, [Ratio("march", 6.0, 6.0)]) == 0
    monkeypatch.setattr(
        benchmarks, "from_request", lambda name: [Ratio(name, 2.0, 2.0), Ratio(name, 3.0, 4.0)]
    )
    assert benchmarks.main() == 1
