"""The words: the answer first, nothing safe called safe that is not, units, and what is owed to the reader."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from planner.app.common.cautions import ALWAYS
from planner.app.common.wording import duration_text
from planner.app.plan.results import HARM, UNKNOWN, Choice, Headroom, Plan
from planner.app.plan.words import answer
from planner.model.catalogue import Catalogue
from planner.units import METRIC, US, UnitSystem


def with_verdicts(plan: Plan, level: int) -> Plan:
    """The same plan with every verdict set to one level."""
    verdict = np.full_like(plan.outcomes.verdict, level)
    return replace(plan, outcomes=replace(plan.outcomes, verdict=verdict))


def test_the_headline_names_time_place_setup_and_peak(plan: Plan, catalogue: Catalogue) -> None:
    said, best = answer(plan, catalogue), plan.ranking[0]
    assert said.headline.startswith("Leave Saturday ")
    assert plan.loading_place_titles[best.loading_place].lower() in said.headline.lower()
    assert plan.setup_titles[best.setup] in said.headline
    assert f"{plan.peak_c(best)[1]:.1f} °C" in said.headline


def test_us_units_change_the_figures_not_the_answer(plan: Plan, catalogue: Catalogue) -> None:
    said = answer(plan, catalogue, US)
    assert f"{plan.peak_c(plan.ranking[0])[1] * 1.8 + 32:.1f} °F" in said.headline
    assert said.choice == answer(plan, catalogue).choice


def test_when_all_harm_nothing_is_called_safe(plan: Plan, catalogue: Catalogue) -> None:
    said = answer(with_verdicts(plan, HARM), catalogue)
    assert said.level == HARM
    assert said.headline.startswith("No departure in this window is safe.")
    assert "the queen's stored sperm is damaged" in said.headline


def test_without_weather_it_says_it_cannot_say(plan: Plan, catalogue: Catalogue) -> None:
    assert answer(with_verdicts(plan, UNKNOWN), catalogue).headline.startswith("Cannot say")


@pytest.mark.parametrize(("units", "said"), [(METRIC, "3.8 degrees"), (US, "6.8 °F")])
def test_the_headroom_is_said_in_degrees(
    plan: Plan, catalogue: Catalogue, units: UnitSystem, said: str
) -> None:
    """A kelvin is no word of a beekeeper's."""
    close = replace(plan, tried={plan.ranking[0]: Headroom(3.8, 20.0, exact=True)})
    first = answer(close, catalogue, units).reasons[0]
    assert first.startswith(f"Headroom: it may get {said} hotter or ")


def test_bees_that_carry_their_water_need_none(plan: Plan, catalogue: Catalogue) -> None:
    o = plan.outcomes
    wet = replace(o, water_ml=np.full_like(o.water_ml, 70.0), water_short_ml=np.zeros_like(o.water_short_ml))
    dry = replace(wet, water_short_ml=np.full_like(o.water_short_ml, 40.0))
    assert (
        "No water needed: each box's bees use about 70 ml that they carry."
        in answer(replace(plan, outcomes=wet), catalogue).reasons
    )
    assert any("up to 40 ml more" in r for r in answer(replace(plan, outcomes=dry), catalogue).reasons)


def test_the_next_best_stands_without_a_label(plan: Plan, catalogue: Catalogue) -> None:
    """The command line, the window and the printed page each put their own words before it."""
    assert answer(plan, catalogue).next_best.startswith("Saturday ")


def test_harmful_hours_are_named_to_avoid(plan: Plan, catalogue: Catalogue) -> None:
    """The third and fourth departure of every fourth hour from 05:00 do harm: 13:00-17:00."""
    verdict = np.zeros_like(plan.outcomes.verdict)
    verdict[2:4] = HARM
    hot = replace(
        plan, outcomes=replace(plan.outcomes, verdict=verdict), ranking=(Choice(0, 0, 0), *plan.ranking)
    )
    assert "avoid 13:00-17:00" in answer(hot, catalogue).headline


def test_the_cautions_are_always_there(plan: Plan, catalogue: Catalogue) -> None:
    assert set(ALWAYS) <= set(answer(plan, catalogue).cautions)


def test_an_invented_trip_is_said_to_be_invented(plan: Plan, catalogue: Catalogue) -> None:
    assert plan.trip.invented
    assert any("invented" in line for line in answer(plan, catalogue).how_sure)


def test_an_old_forecast_shows_its_age(plan: Plan, catalogue: Catalogue) -> None:
    aged = replace(plan, weather=replace(plan.weather, issued_s=1000.0, kind="forecast"))
    said = answer(aged, catalogue, now_s=1000.0 + 6 * 3600.0)
    assert any("6 h old" in line for line in said.how_sure)


def test_a_long_stretch_without_a_halt_is_cautioned(plan: Plan, catalogue: Catalogue) -> None:
    slow = replace(plan, trip=replace(plan.trip, drive_time_factor=3.0))
    assert any("no halt in" in line for line in answer(slow, catalogue).cautions)
    assert not any("no halt" in line for line in answer(plan, catalogue).cautions)


@pytest.mark.parametrize(("seconds", "text"), [(300.0, "5 min"), (3600.0, "1 h"), (12_000.0, "3 h 20 min")])
def test_durations_read_like_speech(seconds: float, text: str) -> None:
    assert duration_text(seconds) == text
