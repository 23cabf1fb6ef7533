"""A season's lessons: shares drawn to the season's, nothing of few boxes, chances held against what came."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from planner.app.lessons.demo import BOXES, LOST, demo_logbook, season
from planner.app.lessons.season import (
    LEAST_BIN,
    LEAST_BOXES,
    Ridden,
    drawn_together,
    interval,
    lessons,
    outcome_entry,
    ridden,
)
from planner.app.lessons.words import as_document, calibration_svg, in_words
from planner.model.box_names import box_name
from planner.store.logbook import verify
from planner.store.logbook.book import Logbook


def boxes(
    counts: dict[str, tuple[int, int]], factor: str = "lane", predicted: float = float("nan")
) -> list[Ridden]:
    return [
        Ridden(at < lost, predicted, {factor: level})
        for level, (count, lost) in counts.items()
        for at in range(count)
    ]


@pytest.mark.parametrize(("lost", "count"), [(0, 10), (3, 40), (40, 40)])
def test_an_interval_is_that_of_the_closed_form(lost: int, count: int) -> None:
    """Jeffreys' interval, by another implementation."""
    a, b = lost + 0.5, count - lost + 0.5
    low, middle, high = interval(a, b)
    assert (low, high) == pytest.approx(stats.beta(a, b).interval(0.9))
    assert middle == pytest.approx(stats.beta(a, b).mean())


def test_the_season_as_a_whole_is_what_was_counted() -> None:
    """Jeffreys' interval of 10 lost among 20."""
    whole = lessons(boxes({"a": (20, 10)})).whole
    assert (whole.boxes, whole.lost) == (20, 10)
    assert whole.middle == pytest.approx(0.5)
    assert whole.low == pytest.approx(1.0 - whole.high)


def test_one_level_of_everything_is_the_season_itself() -> None:
    """With one level and any weight the mean stays between the level's own share and the season's."""
    (ends,) = drawn_together(np.array([5.0]), np.array([100.0]), (100, 5))
    assert ends[1] == pytest.approx(0.05, abs=0.006)
    assert ends[0] < ends[1] < ends[2]


def test_few_boxes_are_drawn_further_to_the_season_than_many() -> None:
    lost, counts = np.array([2.0, 40.0, 10.0, 10.0]), np.array([10.0, 200.0, 500.0, 500.0])
    ends = drawn_together(lost, counts, (1210, 62))
    raw = lost / counts
    drawn = (raw - ends[:, 1]) / (raw - 62 / 1210)
    assert drawn[0] > drawn[1] > 0.0


@pytest.mark.slow
def test_the_share_lost_lies_in_its_interval_nine_times_of_ten() -> None:
    """Levels drawn from a known spread: by simulation the intervals hold what they promise."""
    chance = np.random.default_rng(3)
    held = []
    for _ in range(60):
        truth = chance.beta(1.0, 30.0, 8)
        counts = chance.integers(10, 150, 8).astype(float)
        lost = chance.binomial(counts.astype(int), truth).astype(float)
        ends = drawn_together(lost, counts, (int(counts.sum()), int(lost.sum())))
        held += list((ends[:, 0] <= truth) & (truth <= ends[:, 2]))
    assert 0.84 <= np.mean(held) <= 0.97


def test_nothing_is_shown_of_fewer_than_eight_boxes() -> None:
    found = lessons(boxes({"long": (LEAST_BOXES, 1), "short": (LEAST_BOXES - 1, 5)}))
    assert [rate.level for rate in found.rates] == ["long"]
    assert found.few == (("short", LEAST_BOXES - 1),)
    assert "left out" in " ".join(in_words(found).cautions)


def test_a_lane_that_loses_much_stands_out_and_one_of_little_does_not() -> None:
    found = lessons(boxes({"bad": (60, 18), "good": (400, 4), "tiny": (9, 1)}))
    said = " ".join(in_words(found).stands_out)
    assert "Lane bad: lost more often" in said
    assert "tiny" not in said


def test_chances_are_held_against_what_came() -> None:
    chance = np.random.default_rng(4)
    given = chance.uniform(0.5, 1.0, 600)
    right = [Ridden(bool(chance.random() > p), float(p), {}) for p in given]
    found = lessons(right)
    assert sum(each.boxes for each in found.bins) == 600
    assert all(each.boxes >= LEAST_BIN for each in found.bins)
    assert all(each.low - 0.05 <= each.predicted <= each.high + 0.05 for each in found.bins)
    assert found.brier < found.brier_flat
    assert found.brier == pytest.approx(np.mean([(b.predicted - (not b.lost)) ** 2 for b in right]))
    assert calibration_svg(found).startswith("<svg")


def test_a_season_without_boxes_or_chances_says_so() -> None:
    assert "No outcome" in in_words(lessons([])).headline
    assert "nothing can be held" in in_words(lessons(boxes({"a": (10, 1)}))).chances[0]
    assert as_document(lessons([]), in_words(lessons([])))["brier"] is None


def test_the_last_word_on_a_box_counts(tmp_path: Path) -> None:
    logbook = Logbook(tmp_path / "l.sqlite")
    name = box_name(1)
    for at_s, lost in ((1.0, True), (2.0, False)):
        logbook.add(outcome_entry("t", name, Ridden(lost, 0.9, {"lane": "x"}), at_s))
    assert ridden(logbook) == (Ridden(False, 0.9, {"lane": "x"}),)


def test_the_invented_season_has_nine_hundred_boxes_and_twelve_losses(tmp_path: Path) -> None:
    logbook = demo_logbook(tmp_path)
    found = ridden(logbook)
    assert (len(found), sum(box.lost for box in found)) == (BOXES, LOST) == (900, 12)
    assert season() == season()
    assert verify.faults(logbook) == ()
    said = in_words(lessons(found))
    assert said.rates
    assert said.chances
    assert all("invented" in trip.title for trip in logbook.trips())
