"""Which closings are tried: bees without comb gain nothing by being shut in early; and what syrup and battens do."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.app.advice.apply import Edit, draft_edits
from planner.app.advice.changes import possible
from planner.app.answer.ask import _setups
from planner.app.plan.closings import closings_of
from planner.app.plan.plan import departures_of
from planner.app.plan.results import Choice
from planner.model.preparations import AS_DECLARED, BATTENS, FED, useful
from planner.model.records import Closing, Group, Trip
from tests.app.answered import answered, asked, tiny
from tests.model.scenarios import HOUR_S, NUC, SUMMER, catalogue, peaks_c, plan, road, steady

PACKAGES = Group("Packages", 4, "package_cage", bees_kg=1.4, entrance="shut")
EVENING = Closing("after_sunset", 1200.0)


def shut_h(planned: Trip, *, freed: bool = False) -> set[tuple[str, float]]:
    """Rules tried for the first group at the first departure, with hours before the lift."""
    way = road(1.0, 60.0)
    found = closings_of(planned, way, catalogue(), departures_of(planned))
    lifted_s = planned.window.first_s - planned.loading_s
    return {
        (found.rules[row], round((lifted_s - float(found.closed_s[row, 0, 0])) / HOUR_S, 1))
        for row in found.tried(0, 0, freed=freed)
    }


@pytest.mark.parametrize("rule", [EVENING, Closing("before_sunrise"), Closing("clock", clock_s=9 * HOUR_S)])
@pytest.mark.parametrize("box", ["package_cage", "swarm_box_ply", "skep_straw"])
def test_bees_without_comb_are_shut_in_as_late_as_they_are_lifted(rule: Closing, box: str) -> None:
    """By whatever rule the file begins: it is free as long as the user has not fixed it."""
    group = replace(PACKAGES, box_type=box)
    assert shut_h(tiny(group, closing=rule)) == {("at_loading", 0.0)}


def test_a_closing_that_the_user_fixed_is_kept_and_another_tried_only_when_freed() -> None:
    planned = tiny(PACKAGES, closing=replace(EVENING, fixed=True))
    ((rule, early_h),) = shut_h(planned)
    assert rule == "after_sunset"
    assert early_h > 0.0
    assert ("at_loading", 0.0) in shut_h(planned, freed=True)


def test_the_hour_at_which_they_were_shut_in_stays_what_it_was() -> None:
    planned = tiny(PACKAGES)
    at_s = planned.window.first_s - 5 * HOUR_S
    given = replace(planned, closing=Closing("actual", at_s=at_s))
    ((rule, early_h),) = shut_h(given)
    assert rule == "actual"
    assert early_h == pytest.approx(5.0 - planned.loading_s / HOUR_S, abs=0.1)


def test_packages_told_shut_the_evening_before_get_the_answer_of_those_shut_when_lifted() -> None:
    morning = tiny(PACKAGES).window.first_s + 9 * HOUR_S
    early, late = (
        asked(tiny(PACKAGES, leave_s=morning, closing=rule, departures=1), counts=(8,)).answer(finished=True)
        for rule in (EVENING, Closing("at_loading"))
    )
    assert early.best is not None
    assert late.best is not None
    assert early.decision == late.decision
    assert (early.best.harm_of_100, early.best.shut_s) == (late.best.harm_of_100, late.best.shut_s)
    assert early.best.by_group[0].closing.rule == "at_loading"
    assert early.best.home_share == 1.0
    assert early.best.changes == late.best.changes


# -- a can of syrup --------------------------------------------------------------------------------


def ready(group: Group) -> float:
    """Syrup in the can of a box that is fed."""
    return FED.change(group, catalogue().box_types[group.box_type]).syrup_can_kg


def test_only_a_box_that_takes_a_can_is_given_a_full_one_where_it_has_none() -> None:
    full = catalogue().box_types["package_cage"].syrup_can_kg
    assert full > 0.0
    assert ready(PACKAGES) == full
    assert ready(replace(PACKAGES, syrup_can_kg=0.4 * full)) == full
    assert ready(replace(PACKAGES, syrup_can_kg=0.6 * full)) == 0.6 * full
    for box in ("swarm_box_ply", "skep_straw"):
        assert ready(replace(PACKAGES, box_type=box)) == 0.0
    assert ready(NUC) == 0.0


def test_a_can_is_among_the_set_ups_of_packages_and_of_no_hive() -> None:
    def names(group: Group) -> list[str]:
        return [one.name for one in useful((group,), (catalogue().box_types[group.box_type],))]

    assert "syrup_can" in names(PACKAGES)
    assert "syrup_can" not in names(replace(PACKAGES, syrup_can_kg=0.9))
    assert "syrup_can" not in names(NUC)


def test_who_is_told_to_hang_a_can_is_told_that_no_source_is_known_and_to_keep_it_from_dripping() -> None:
    """A fast of a day and a half in the cage, that only food changes."""
    planned = tiny(PACKAGES, departures=1, stops=())
    given = replace(
        planned, closing=Closing("actual", at_s=planned.window.first_s - 36 * HOUR_S), waiting_shade=True
    )
    found = answered(given, 9.0, 16.0)
    assert found.best is not None
    assert found.declared is not None
    assert found.declared.harm_of_100 is not None
    assert found.best.harm_of_100 is not None
    assert found.declared.harm_of_100.value > 50.0
    assert found.best.setup == "syrup_can"
    assert found.best.harm_of_100.value < 0.5 * found.declared.harm_of_100.value
    assert any("common practice, no source" in text and "drip" in text for text in found.cautions)


# -- battens ---------------------------------------------------------------------------------------


SKEP = Group("Skep", 1, "skep_straw", bees_kg=1.0, entrance="shut")


def test_battens_are_tried_late_only_under_a_mesh_that_would_lie_flat() -> None:
    """In a car boxes stand flat, on an open trailer they do not; and no mesh, nothing to lift."""
    for place, group, offered in (
        ("boot_dark", SKEP, True),
        ("open_trailer", SKEP, False),
        ("open_trailer", replace(SKEP, stand="flat"), True),
        ("boot_dark", replace(SKEP, floor="solid"), False),
        ("boot_dark", replace(SKEP, stand="battens"), False),
    ):
        planned = tiny(group, place, departures=1)
        assert (BATTENS in _setups(planned, steady(14.0), catalogue())) is offered, (place, group)


def test_a_box_set_on_battens_fares_as_one_that_the_trip_has_on_battens() -> None:
    """The floor's air was read off the trip and not off the set-up: battens made no difference."""
    flat, raised = (
        plan(
            tiny(group, "boot_dark", departures=1),
            road(1.0, 60.0),
            steady(22.0, start_s=SUMMER),
            setups=[setup],
        )
        for group, setup in ((SKEP, BATTENS), (replace(SKEP, stand="battens"), AS_DECLARED))
    )
    assert peaks_c(flat) == pytest.approx(peaks_c(raised))
    alone = plan(tiny(SKEP, "boot_dark", departures=1), road(1.0, 60.0), steady(22.0, start_s=SUMMER))
    assert peaks_c(alone).max() > peaks_c(flat).max() + 0.5


def test_battens_are_offered_in_what_helps_and_written_to_the_trip() -> None:
    for place, offered in (("boot_dark", True), ("open_trailer", False)):
        planned = plan(tiny(SKEP, place, departures=1), road(1.0, 60.0), steady(22.0, start_s=SUMMER))
        one = Choice(0, 0, 0)
        found = [change for change in possible(planned, one, catalogue()) if change.name == "battens"]
        assert len(found) == offered
        for change in found:
            edits = draft_edits(planned, one, [change], catalogue())
            assert edits is not None
            assert Edit(("load", 0, "stand"), "battens") in edits.edits
