"""A clock that jumps, back an hour or forward a day, between commands and in the middle of one."""

from __future__ import annotations

import json
import math
import re
import time
from pathlib import Path

import pytest

from planner.ages import age_s
from planner.app.inspect.items import Finding
from planner.app.inspect.records import checked, write_findings
from planner.cli.main import main
from planner.model.box_names import box_name
from planner.services.http import Client, Limits
from planner.services.settings import save_settings
from planner.store.logbook.book import Logbook
from planner.store.logbook.records import Entry
from tests.hard.clocks import DAY_S, HOUR_S, jumping, set_clock
from tests.services.standin import StandIn

BOX = box_name(1)
JUMPS = pytest.mark.parametrize("ahead_s", [-HOUR_S, DAY_S], ids=["back an hour", "forward a day"])
PATIENT = Limits(connect_s=60.0, silence_s=60.0, total_s=120.0)


# -- how old something is --------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("made_s", "age"),
    [
        (1000.0, 9000.0),
        (10_000.0, 0.0),
        (10_300.0, 0.0),
        (10_301.0, None),
        (math.nan, None),
        (-math.inf, None),
    ],
)
def test_an_age_is_never_negative_and_unknown_where_a_clock_was_wrong(
    made_s: float, age: float | None
) -> None:
    found = age_s(made_s, 10_000.0)
    assert math.isnan(found) if age is None else found == age


# -- between two commands --------------------------------------------------------------------------


@JUMPS
def test_an_answer_kept_before_a_jump_is_asked_for_again_and_never_called_fresh(
    ahead_s: float, tmp_path: Path, world: StandIn, monkeypatch: pytest.MonkeyPatch
) -> None:
    client = Client.open(tmp_path, limits=PATIENT)
    client.get("Plain service", f"{world.url}/plain", json.loads)
    assert client.get("Plain service", f"{world.url}/plain", json.loads).from_cache
    set_clock(monkeypatch, lambda: ahead_s)
    last = client.with_(offline=True).get("Plain service", f"{world.url}/plain", json.loads)
    assert last.stale
    assert last.age_s >= DAY_S if ahead_s > 0 else math.isnan(last.age_s)
    assert not any("0 s old" in note for note in last.notes)
    assert not client.get("Plain service", f"{world.url}/plain", json.loads).from_cache
    assert client.get("Plain service", f"{world.url}/plain", json.loads).from_cache
    client.close()


@JUMPS
def test_a_forecast_kept_before_a_jump_is_told_with_a_true_age_or_none(
    ahead_s: float, world: StandIn, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    save_settings(world.settings())
    assert main(["forecast", "Ludlow"]) == 0
    assert ", fresh" in capsys.readouterr().out
    set_clock(monkeypatch, lambda: ahead_s)
    assert main(["forecast", "Ludlow", "--offline"]) in (
        0,
        3,
    )  # another day may have begun, of which nothing is kept
    said = "".join(capsys.readouterr())
    assert "fresh" not in said
    assert not re.search(r"-\d[\d.]* (?:s|min|h|days)\b", said)


def test_what_was_found_last_stands_though_the_clock_ran_ahead_before(tmp_path: Path) -> None:
    """Found whole by a clock a year ahead; put right, the box was found torn, and would have been sent off."""
    now_s, logbook = time.time(), Logbook(tmp_path / "logbook.sqlite")
    write_findings(logbook, "t", BOX, {"floor": Finding("ok")}, at_s=now_s + 365 * DAY_S)
    write_findings(logbook, "t", BOX, {"floor": Finding("not_ok")}, at_s=now_s)
    assert checked(logbook, "t")[BOX].findings["floor"].state == "not_ok"


def test_a_decision_by_a_clock_put_back_stands_after_what_it_was_made_from(tmp_path: Path) -> None:
    now_s, logbook = time.time(), Logbook(tmp_path / "logbook.sqlite")
    write_findings(logbook, "t", BOX, {"floor": Finding("ok")}, at_s=now_s)
    logbook.add(Entry("released", now_s - HOUR_S, "box", BOX, {"outcome": "released"}, "t"))
    assert checked(logbook, "t")[BOX].outcome == "released"


def test_two_logbooks_put_together_are_told_by_time_and_each_in_its_own_order(tmp_path: Path) -> None:
    from planner.store.logbook import bundle

    ours, theirs = (Logbook(tmp_path / name / "logbook.sqlite") for name in ("a", "b"))
    for at_s in (1.0, 900.0, 5.0, 7.0):  # at the second the clock ran ahead
        ours.add(Entry("note", at_s, body={"text": f"ours {at_s:g}"}))
    for at_s in (4.0, 6.0):
        theirs.add(Entry("note", at_s, body={"text": f"theirs {at_s:g}"}))
    bundle.export(theirs, tmp_path / "b.zip")
    bundle.take_in(ours, tmp_path / "b.zip")
    told = [event.body["text"] for event in ours.told()]
    assert told == ["ours 1", "theirs 4", "ours 900", "ours 5", "theirs 6", "ours 7"]


@JUMPS
def test_a_plan_made_before_a_jump_is_the_last_one_after_it(
    ahead_s: float, trip: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A plan by a clock that ran ahead was "the last" for ever, and the next was "-1 h ago"."""
    assert main(["recheck", str(trip)]) == 0
    set_clock(monkeypatch, lambda: ahead_s)
    for known in (ahead_s > 0, True):
        capsys.readouterr()
        assert main(["recheck", str(trip)]) == 0
        said = capsys.readouterr().out
        assert ("nobody knows when" not in said) == known
        assert bool(re.search(r"Last answered \d+ (?:h|min)", said)) == known


# -- in the middle of one --------------------------------------------------------------------------

QUICK = ("forecast Ludlow", "logbook add {trip} note quiet", "recheck {trip}")


@JUMPS
@pytest.mark.parametrize("after", [1, 3, pytest.param(10, marks=pytest.mark.slow)])
def test_a_clock_that_jumps_at_work_ends_in_words(
    after: int,
    ahead_s: float,
    trip: Path,
    world: StandIn,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Jumps at the second, the fourth, the eleventh reading of the clock, and the command again after it."""
    save_settings(world.settings())
    for words in QUICK:
        with monkeypatch.context() as wrong:
            set_clock(wrong, jumping(ahead_s, after))
            for _ in range(2):
                assert main(words.format(trip=trip).split()) == 0
        said = "".join(capsys.readouterr())
        assert not re.search(r"-\d[\d.]* (?:s|min|h|days)\b", said), said
        assert "nan" not in said.lower().split()
