"""What a box carries over a moment, and when it must be acted upon: against the integration, and by hand."""

from __future__ import annotations

import numpy as np
import pytest

from planner.model.integrate import integrate, start
from planner.model.limits import assess
from planner.model.records import Floats
from planner.model.standstill import CAUSES, Checkpoint, Onset, checkpoints, fresh, time_to_action, walk
from tests.model.scenarios import NUC, Group, Stage, replace, staged, still_boxes

HOT_C, MILD_C = 44.0, 15.0
SWARM = Group("swarm", 1, "swarm_box_ply", bees_kg=1.2)


def shut_in(air_c: Floats | float, group: Group = NUC, hours: float = 0.5) -> Stage:
    return staged(still_boxes(replace(group, entrance="shut", floor="solid")), air_c, hours=hours)


def begun(stage: Stage, **changes: float) -> Checkpoint:
    """Freshly shut, some of its state or doses changed."""
    fresh_one = fresh(start(*stage))
    changed = {name: np.array([value]) for name, value in changes.items()}
    doses = {name: changed.pop(name) for name in ("sperm_exponent", "brood_dose") if name in changed}
    return fresh_one._replace(state=fresh_one.state._replace(**changed), **doses)


def onset(stage: Stage, **changes: float) -> tuple[float, str]:
    found: Onset = time_to_action(*stage, begun(stage, **changes))
    return float(found.after_s[0]), (*CAUSES, "")[int(found.cause[0])]


def test_walking_meets_the_integration_node_by_node_and_the_doses_of_the_verdicts() -> None:
    stage = shut_in(HOT_C, hours=1.0)
    seen, walked = integrate(*stage), list(walk(*stage))
    np.testing.assert_array_equal([one.state.core_c for one in walked], seen.core_c)
    judged = assess(seen, stage.cases.boxes, stage.vehicle.time_s, stage.p, 60.0)
    assert walked[-1].brood_dose == pytest.approx(judged.brood_dose)
    assert 1.0 - np.exp(-walked[-1].sperm_exponent) == pytest.approx(judged.sperm_loss_share)
    assert judged.brood_dose[0] > 0.001


def test_checkpoints_are_the_nodes_asked_for() -> None:
    stage = shut_in(HOT_C, hours=0.6)
    walked = list(walk(*stage))
    kept = checkpoints(*stage, np.array([0, 7, 31]))
    for row, node in enumerate((0, 7, 31)):
        assert kept.state.core_c[row] == walked[node].state.core_c
        assert kept.brood_dose[row] == walked[node].brood_dose
        assert kept.sperm_exponent[row] == walked[node].sperm_exponent


def test_going_on_from_a_checkpoint_is_going_on() -> None:
    """Half an hour, then the rest from there, is the whole way; the doses go on too."""
    whole = list(walk(*shut_in(HOT_C, hours=1.0)))
    half = shut_in(HOT_C, hours=0.5)
    on = list(walk(*half, begin=whole[30]))
    assert on[-1].state.core_c == pytest.approx(whole[60].state.core_c, abs=1e-3)
    assert on[-1].brood_dose == pytest.approx(whole[60].brood_dose, rel=1e-3)


@pytest.mark.parametrize(("group", "level_c", "air_c"), [(NUC, 39.0, HOT_C), (SWARM, 41.0, 65.0)])
def test_the_core_must_be_acted_upon_a_kelvin_before_danger(
    group: Group, level_c: float, air_c: float
) -> None:
    """40 C with brood, 42 C without; straight between the minutes."""
    stage = shut_in(air_c, group, hours=1.5)
    core = integrate(*stage).core_c[:, 0]
    node = int(np.argmax(core >= level_c))
    share = (level_c - core[node - 1]) / (core[node] - core[node - 1])
    after_s, cause = onset(stage)
    assert cause == "core"
    assert after_s == pytest.approx(60.0 * (node - 1 + share), abs=0.5)
    assert node > 1


def test_what_is_reached_already_is_reached_at_once() -> None:
    assert onset(shut_in(HOT_C), core_c=39.0) == (0.0, "core")
    assert onset(shut_in(HOT_C), core_c=38.5)[0] > 0.0


def test_a_box_in_mild_air_need_not_be_acted_upon() -> None:
    assert onset(shut_in(MILD_C)) == (np.inf, "")


def test_where_the_weather_ends_the_answer_is_unknown() -> None:
    """Unknown from the eleventh minute: not 'never'."""
    air_c = np.where(np.arange(30) < 10, MILD_C, np.nan)
    after_s, cause = onset(shut_in(air_c))
    assert np.isnan(after_s)
    assert cause == ""


def test_new_comb_must_be_acted_upon_at_forty_and_only_where_there_is_comb() -> None:
    """Danger of new comb 41 C, one kelvin before."""
    assert onset(shut_in(MILD_C), stores_c=40.0) == (0.0, "comb")
    assert onset(shut_in(MILD_C), stores_c=39.9) == (np.inf, "")
    assert onset(shut_in(MILD_C, SWARM), stores_c=40.0) == (np.inf, "")


@pytest.mark.parametrize(
    ("dose", "enough"),
    [("brood_dose", 0.31), ("sperm_exponent", -np.log(1.0 - 0.29)), ("worker_dose", (1.0 / 9.0) ** 0.25)],
)
def test_a_dose_that_harms_must_be_acted_upon(dose: str, enough: float) -> None:
    """The harm doses of the table: brood 0.31, a sperm loss of 29 %, one worker in ten dead."""
    assert onset(shut_in(MILD_C), **{dose: enough * 1.001}) == (0.0, "dose")
    assert onset(shut_in(MILD_C), **{dose: enough * 0.999})[0] > 0.0


def test_a_dose_counts_at_the_end_of_its_step() -> None:
    """Brood at 38.9 C in hot air takes up what is missing within the first minute."""
    after_s, cause = onset(shut_in(MILD_C), core_c=38.9, brood_dose=0.31 - 1e-6)
    assert (after_s, cause) == (60.0, "dose")


def test_a_brood_dose_means_nothing_without_brood() -> None:
    assert onset(shut_in(MILD_C, SWARM), brood_dose=9.0) == (np.inf, "")
