"""The way of a box as a chain of stages: when each begins, where the box is then, and what the air there is."""

from __future__ import annotations

import numpy as np
import pytest

from planner.app.plan.results import Outcomes
from planner.app.plan.simulate import simulate_ways
from planner.errors import InputError
from planner.model.cases import CaseGrid, agitation_variations, case_grid, full_grid, lay_out
from planner.model.closing import closing_times
from planner.model.preparations import AS_DECLARED
from planner.model.records import Arrival, Group, Moment, Stage, Trip
from planner.model.timeline import Timeline, VehicleState, build_timeline, follow
from planner.model.ways import alternatives, gate_opens_s, in_doubt, likeliest, way_of
from tests.model.scenarios import HOUR_S, NUC, SUMMER, Closing, catalogue, halt, hourly, replace, road, trip

LEAVE_S = SUMMER + 10.0 * HOUR_S
VAN = "van_shut_white"
AN_HOUR = (3600.0,) * 3
WAIT = Stage("wait", (0, 0), Moment("arrival"))
DRIVE = Stage("drive", (0, 2), Moment("arrival"))
SETTLE = Stage("settle", (2, 2), Moment("lasting", (1800.0,) * 3))


def journey(*stages: Stage, group: Group = NUC) -> Trip:
    """Two hours of road with a stop of twenty minutes half way, shut when lifted."""
    boxes = replace(group, stages=stages, load_waypoint=0, unload_waypoint=2)
    closing = Closing("at_loading")
    return trip((boxes,), VAN, leave_s=LEAVE_S, stops=[halt(20, "load")], closing=closing)


def timed(planned: Trip, reach: float = 0.0) -> Timeline:
    way, departure_s = road(2.0, waypoints=3), np.array([LEAVE_S])
    return build_timeline(planned, way, departure_s, closing_times(planned, way, departure_s), reach)


def states(planned: Trip, *minutes: float) -> VehicleState:
    time_s = LEAVE_S + 60.0 * np.array(minutes)[:, None]
    return follow(planned, road(2.0, waypoints=3), timed(planned), time_s)


def faults_of(*stages: Stage) -> list[str]:
    with pytest.raises(InputError) as caught:
        timed(journey(*stages))
    return [f"{fault.field}: {fault.problem}" for fault in caught.value.faults]


def test_a_plain_trip_is_a_way_of_three_stages() -> None:
    plain = journey()
    assert [stage.kind for stage in way_of(plain, plain.groups[0])] == ["wait", "drive", "settle"]


def test_the_three_stages_written_out_change_nothing() -> None:
    """Every field of the timeline and of the state, minute by minute from closing to opening."""
    minutes = np.arange(-40.0, 180.0)
    plain, staged = journey(), journey(WAIT, DRIVE, SETTLE)
    for name in ("closed_s", "boarded_s", "unloaded_s", "opened_s", "stage_begin_s"):
        np.testing.assert_array_equal(getattr(timed(staged), name), getattr(timed(plain), name))
    for name in VehicleState.__dataclass_fields__:
        seen, expected = (getattr(states(each, *minutes), name) for each in (staged, plain))
        np.testing.assert_array_equal(seen, expected, err_msg=name)


def test_stages_follow_one_another() -> None:
    """Off at the stop (minute 60), an hour on a doorstep there, opened at minute 120."""
    early = Stage("drive", (0, 1), Moment("arrival"))
    porch = Stage("doorstep", (1, 1), Moment("lasting", AN_HOUR), holder="receiver")
    planned = journey(WAIT, early, porch)
    times = timed(planned)
    assert ((times.stage_begin_s[0, 0] - LEAVE_S) / 60.0).tolist() == [-30.0, -30.0, 60.0]
    assert (times.unloaded_s[0, 0] - LEAVE_S) / 60.0 == 60.0
    assert (times.opened_s[0, 0] - LEAVE_S) / 60.0 == 120.0
    seen = states(planned, 30.0, 90.0, 119.0, 121.0)
    assert seen.stage[:, 0].tolist() == [1, 2, 2, 2]
    assert seen.km[:, 0].tolist() == [40.0, 80.0, 80.0, 80.0]
    assert seen.on_board[:, 0].tolist() == [True, False, False, False]
    assert seen.closed[:, 0].tolist() == [True, True, True, False]


def test_a_stage_ends_when_the_clock_shows_its_hour() -> None:
    """Unloaded at 14:20 in Rome (12:20 UTC); the receiver comes at 18:00, 220 minutes later; on the dot it is now."""
    depot = Stage("depot", (2, 2), Moment("clock", clock_s=18.0 * HOUR_S))
    assert (timed(journey(WAIT, DRIVE, depot)).opened_s[0, 0] - LEAVE_S) / 60.0 == 140.0 + 220.0
    at_once = Stage("depot", (2, 2), Moment("clock", AN_HOUR, clock_s=14.0 * HOUR_S + 20.0 * 60.0))
    assert (timed(journey(WAIT, DRIVE, at_once)).opened_s[0, 0] - LEAVE_S) / 60.0 == 140.0 + 60.0


def test_each_group_may_be_opened_at_its_own_time() -> None:
    """Unloaded at minute 140: opened after the trip's half hour, after two hours, at 18:00 in Rome (minute 360)."""
    late = Moment("lasting", (7200.0,) * 3)
    evening = Moment("clock", clock_s=18.0 * HOUR_S)
    opened = [
        float(timed(journey(group=replace(NUC, opening=opening))).opened_s[0, 0] - LEAVE_S) / 60.0
        for opening in (None, late, evening)
    ]
    assert opened == [170.0, 260.0, 360.0]


def test_a_stage_of_doubtful_length_is_short_usual_or_long() -> None:
    porch = Stage("doorstep", (2, 2), Moment("lasting", (600.0, 3600.0, 14400.0)))
    planned = journey(WAIT, DRIVE, porch)
    ends = [
        (timed(planned, reach).opened_s[0, 0] - LEAVE_S) / 60.0 - 140.0 for reach in (-1.0, 0.0, 0.5, 1.0)
    ]
    assert ends == [10.0, 60.0, 150.0, 240.0]
    assert in_doubt(planned)
    assert not in_doubt(journey(WAIT, DRIVE, SETTLE))


def test_only_a_stage_that_jolts_disturbs_the_bees() -> None:
    """Set down at minute 140, carried on at minute 200, gently or not."""
    porch = Stage("doorstep", (2, 2), Moment("lasting", AN_HOUR))
    for jolts, minutes in ((True, 10.0), (False, 70.0)):
        shelf = replace(SETTLE, jolts=jolts)
        seen = states(journey(WAIT, DRIVE, porch, shelf), 210.0)
        assert seen.since_jolt_s[0, 0] == 60.0 * minutes


def test_a_stage_has_its_own_shade_engine_doors_and_shaking() -> None:
    """A ferry: the car stands in shade with its engine off and its doors open, and shakes a third as on the road."""
    aboard = Stage("drive", (0, 1), Moment("arrival"))
    ferry = Stage(
        "halt", (1, 1), Moment("leaving"), shade=True, engine_on=False, doors_open=True, shaking=0.3
    )
    planned = journey(WAIT, aboard, ferry, Stage("drive", (1, 2), Moment("arrival")), SETTLE)
    seen = states(planned, 30.0, 70.0, 90.0)
    assert seen.shaking[:, 0].tolist() == [1.0, 0.3, 1.0]
    for name, during in (("shade", True), ("doors_open", True), ("engine_on", False)):
        assert bool(getattr(seen, name)[1, 0]) is during
    assert seen.engine_on[:, 0].tolist() == [True, False, True]


def test_a_carrier_mists_nobodys_bees() -> None:
    ours, theirs = (replace(DRIVE, holder=holder) for holder in ("us", "carrier"))
    assert states(journey(WAIT, ours, SETTLE), 30.0).riding_s[0, 0] == 3600.0
    assert states(journey(WAIT, theirs, SETTLE), 30.0).riding_s[0, 0] < 0.0


# -- places --------------------------------------------------------------------------------------


def grid_of(planned: Trip, air_c: float = 20.0) -> CaseGrid:
    sky = hourly(SUMMER + np.arange(48) * HOUR_S, air_c=air_c, dew_c=8.0, ghi_w_m2=600.0)
    return case_grid(planned, road(2.0, waypoints=3), sky, catalogue(), [VAN], [AS_DECLARED])


def air_along(planned: Trip, field: str) -> np.ndarray:
    """A condition around the box of the typical case, (time,)."""
    grid, timeline = grid_of(planned), timed(planned)
    batch = lay_out(grid, timeline, np.zeros((1, 1)), full_grid(grid, 1), agitation_variations(grid))
    return np.asarray(getattr(batch.local_air, field)[:, batch.cases.local_air[1]])


def test_through_a_stage_a_box_stands_in_the_air_of_the_stages_place() -> None:
    """An hour in a car's boot after arriving; before it the van, after it the ground. The boot's volume tells them."""
    boot = Stage("depot", (2, 2), Moment("lasting", AN_HOUR), places=(("boot_dark", 1.0),))
    van, trunk = (catalogue().loading_places[name].volume_m3 for name in (VAN, "boot_dark"))
    volume = air_along(journey(WAIT, DRIVE, boot, SETTLE), "volume_m3")
    assert volume[[0, 169, 170, 229, 230]].tolist() == [van, van, trunk, trunk, 1.0]
    shared = air_along(journey(WAIT, DRIVE, boot, SETTLE), "on_board")
    assert shared[[0, 200, 240]].tolist() == [1.0, 1.0, 0.0]


def test_on_the_ground_nothing_is_shared_whatever_the_place_is_called() -> None:
    sunny = Stage("wait", (2, 2), Moment("lasting", AN_HOUR), places=(("ground_sun", 1.0),))
    assert air_along(journey(WAIT, DRIVE, sunny), "on_board")[-1] == 0.0
    sun, shade = (
        air_along(journey(WAIT, DRIVE, replace(sunny, places=((name, 1.0),))), "lid_w_m2")[-1]
        for name in ("ground_sun", "ground_shade")
    )
    assert sun > 3.0 * shade


def mixed(first: float) -> Trip:
    places = (("boot_dark", first), ("ground_shade", 1.0 - first))
    return journey(WAIT, DRIVE, Stage("depot", (2, 2), Moment("lasting", (7200.0,) * 3), places=places))


def test_a_mix_is_one_place_or_the_other_with_its_weight() -> None:
    found = [(likeliest(trip.groups[0].stages[2]), weight) for trip, weight in alternatives(mixed(0.7))]
    assert found == [("boot_dark", 0.7), ("ground_shade", pytest.approx(0.3))]
    assert likeliest(mixed(0.3).groups[0].stages[2]) == "ground_shade"
    assert [weight for _, weight in alternatives(journey())] == [1.0]


def outcomes(planned: Trip, air_c: float = 20.0) -> Outcomes:
    timeline = timed(planned)
    return simulate_ways(grid_of(planned, air_c), timeline, np.zeros((1, 1)), catalogue())


def test_a_plan_takes_the_worst_place_of_a_mix_however_unlikely() -> None:
    """Two hours in a dark boot at noon in July against the shade of a tree."""
    dark, tree = (
        replace(mixed(w), groups=tuple(_only(g, name) for g in mixed(w).groups))
        for w, name in ((0.5, "boot_dark"), (0.5, "ground_shade"))
    )
    worst = outcomes(mixed(0.01), 26.0)
    usual = (0, 0, 0, 1, 0)
    assert outcomes(dark, 26.0).headroom_k[usual] < outcomes(tree, 26.0).headroom_k[usual] - 1.0
    np.testing.assert_array_equal(worst.headroom_k, outcomes(dark, 26.0).headroom_k)
    np.testing.assert_array_equal(worst.verdict, outcomes(dark, 26.0).verdict)


def _only(group: Group, name: str) -> Group:
    *before, last = group.stages
    return replace(group, stages=(*before, replace(last, places=((name, 1.0),))))


def test_agitated_bees_have_the_longest_way_and_calm_ones_the_shortest() -> None:
    """Each level alone equals a plan in which the stage lasts just so long."""

    def lasting(*minutes: float) -> Trip:
        low, usual, high = (60.0 * value for value in minutes)
        boot = Stage("depot", (2, 2), Moment("lasting", (low, usual, high)), places=(("boot_dark", 1.0),))
        return journey(WAIT, DRIVE, boot)

    found = outcomes(lasting(20, 60, 180)).peak_core_c
    assert np.isfinite(found).all()
    for level, minutes in enumerate((20, 60, 180)):
        alone = outcomes(lasting(minutes, minutes, minutes)).peak_core_c
        np.testing.assert_allclose(found[:, :, :, level], alone[:, :, :, level], atol=1e-9)


# -- what cannot be ------------------------------------------------------------------------------


def test_a_stage_that_would_end_before_it_begins_is_named() -> None:
    noon = Stage("wait", (2, 2), Moment("instant", at_s=LEAVE_S))
    assert faults_of(WAIT, DRIVE, noon) == [
        "load[0].stages[2].end: for some departures this stage would last -140 min"
    ]


def test_nobody_keeps_bees_in_for_a_month() -> None:
    late = Stage("wait", (2, 2), Moment("instant", at_s=LEAVE_S + 31 * 24 * HOUR_S))
    assert faults_of(WAIT, DRIVE, late) == [
        "load[0].stages[2].end: for some departures this stage would last more than 30 days"
    ]


def test_a_box_cannot_ride_where_the_vehicle_is_not() -> None:
    """An hour of waiting from half past, while the vehicle leaves on the hour; or set down before it arrives."""
    slow = Stage("wait", (0, 0), Moment("lasting", AN_HOUR))
    assert faults_of(slow, DRIVE, SETTLE) == [
        "load[0].stages[1]: for some departures the vehicle is not there when this stage begins"
    ]
    hasty = Stage("drive", (0, 2), Moment("lasting", AN_HOUR))
    assert faults_of(WAIT, hasty, SETTLE) == [
        "load[0].stages[1].end: for some departures the vehicle is elsewhere when this stage ends"
    ]


def test_a_stated_beginning_must_be_the_end_of_the_stage_before() -> None:
    for minutes, problem in ((100.0, "ends 40 min later: the two overlap"), (150.0, "ends 10 min earlier")):
        begin = Moment("instant", at_s=LEAVE_S + 60.0 * minutes)
        assert faults_of(WAIT, DRIVE, replace(SETTLE, begin=begin)) == [
            f"load[0].stages[2].begin: for some departures the stage before {problem}"
        ]
    timed(journey(WAIT, DRIVE, replace(SETTLE, begin=Moment("arrival"))))


# -- the gate of the destination -----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("opens_h", "shuts_h", "arrive_h", "let_in_h"),
    [
        (6.0, 20.0, 12.0, 12.0),
        (6.0, 20.0, 6.0, 6.0),
        (6.0, 20.0, 20.0, 20.0),
        (6.0, 20.0, 20.5, 30.0),
        (6.0, 20.0, 2.0, 6.0),
        (20.0, 4.0, 2.0, 2.0),
        (20.0, 4.0, 23.0, 23.0),
        (20.0, 4.0, 12.0, 20.0),
        (6.0, float("nan"), 12.0, 12.0),
        (6.0, float("nan"), 2.0, 6.0),
    ],
)
def test_who_arrives_at_a_shut_gate_is_let_in_when_it_opens(
    opens_h: float, shuts_h: float, arrive_h: float, let_in_h: float
) -> None:
    """Hours of the local day in Rome; gates may be open over midnight."""
    gate = Arrival(gate_open_s=opens_h * HOUR_S, gate_shut_s=shuts_h * HOUR_S)
    planned = replace(journey(), arrival=gate)
    midnight = SUMMER - 2.0 * HOUR_S
    found = gate_opens_s(planned, np.array([midnight + arrive_h * HOUR_S]))
    assert (found - midnight) / HOUR_S == pytest.approx([let_in_h])


def test_boxes_wait_aboard_and_shut_before_a_shut_gate() -> None:
    """Only those that go as far as the gate: who is unloaded on the way is opened there."""
    gate = Arrival(gate_open_s=18.0 * HOUR_S, gate_shut_s=20.0 * HOUR_S)
    free = journey()
    near = replace(NUC, label="near", unload_waypoint=1)
    planned = replace(free, arrival=gate, groups=(*free.groups, near))
    way = road(2.0, waypoints=3)
    closed = closing_times(planned, way, np.array([LEAVE_S]))
    found = build_timeline(planned, way, np.array([LEAVE_S]), closed)
    local = (found.unloaded_s - (SUMMER - 2.0 * HOUR_S)) / HOUR_S
    assert local[0, 0] == pytest.approx(18.0)
    assert local[0, 1] < 18.0
    assert found.opened_s[0, 0] - found.unloaded_s[0, 0] == planned.open_after_s
    at_s = np.array([[float(found.unloaded_s[0, 0]) - HOUR_S]])
    state = follow(planned, way, found, at_s)
    assert (state.closed[0, 0], state.on_board[0, 0], state.moving[0, 0]) == (True, True, False)
