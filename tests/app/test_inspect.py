"""Boxes looked at before the start: nothing is ok unseen, what differs is judged in the plan's own samples."""

from __future__ import annotations

import itertools
import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from planner.app.advice.changes import Change, box_changes
from planner.app.chance.race import chances, share_of
from planner.app.inspect.codes import box_in, code_text
from planner.app.inspect.decide import Decision, decided, overridden
from planner.app.inspect.items import (
    NOT_LOOKED,
    NOT_OK,
    NOTHING,
    OK,
    Finding,
    boxes_of,
    checked_value,
    differing,
    found_group,
    item_of,
    items,
    items_of,
    not_looked,
    planned_value,
)
from planner.app.inspect.judge import SAMPLES, SEED, Judge, Trial, enough
from planner.app.inspect.labels import list_html
from planner.app.inspect.pinned import kept_of, pin, pinned_before, snapshot, unpinned
from planner.app.inspect.records import (
    checked,
    start_cautions,
    start_remarks,
    write_decision,
    write_findings,
)
from planner.app.plan.results import Choice, Plan
from planner.bundled import resource_path
from planner.errors import InputError
from planner.model.box_names import box_name
from planner.model.catalogue import Catalogue
from planner.model.records import Box, Closing, DepartureWindow, Group, Misting, Stop
from planner.store.logbook.book import Logbook
from planner.store.tripfile import TripFile, read_draft
from tests.app.chancy import planned
from tests.model.scenarios import NUC
from tests.model.scenarios import catalogue as small_catalogue

ONLY = Choice(0, 0, 0)
NAMED = box_name(23)
BOX = box_name(1)
BARE = ("sides", "can")
"""What only boxes without frames have."""
ALL_OK = {item.name: Finding(OK) for item in items()}


@pytest.fixture(scope="module")
def warm() -> Plan:
    """Clean nucs under a shut canopy on a cool day, which go well; with gummed floors they do not."""
    clean = replace(NUC, count=3, floor_blocked_share=0.05, frames_of_bees=5.0)
    return planned(clean, "pickup_canopy_shut_dark", low_c=6, high_c=14, hours=3.5)


@pytest.fixture(scope="module")
def judge(warm: Plan) -> Judge:
    return Judge(kept_of(warm, ONLY), small_catalogue())


# -- what is looked at -----------------------------------------------------------------------------


def test_a_box_takes_at_most_fourteen_keys_when_all_is_as_planned(catalogue: Catalogue) -> None:
    """One key an item and one to go on."""
    kinds = catalogue.box_types.values()
    asked = [items_of(kind, replace(NUC, floor=floor)) for kind in kinds for floor in ("mesh", "solid")]
    assert max(map(len, asked)) + 1 == 14


def test_a_box_is_asked_about_what_it_has(catalogue: Catalogue) -> None:
    """Found in use: packages were asked about frames and a floor mesh, skeps and swarm boxes about frames."""
    can, cloth = replace(NUC, syrup_can_kg=1.0, floor="solid"), replace(NUC, floor="mesh")

    def names(kind: str, group: Group) -> set[str]:
        return {item.name for item in items_of(catalogue.box_types[kind], group)}

    always = {"straps", "stand", "queen", "disease", "leak"}
    framed = {"screen", "entrance", "frames", "strength", "stores", "water", "opened"}
    assert names("langstroth_nuc5_eps", cloth) == always | framed | {"floor"}
    assert names("package_cage", replace(can, side_vents_open=True)) == always | {"sides", "can"}
    assert names("package_cage", replace(can, syrup_can_kg=0.0, side_vents_open=True)) == always | {"sides"}
    assert names("skep_straw", cloth).isdisjoint({"frames", "strength", "stores", "screen", "opened"})
    assert names("swarm_box_ply", cloth).isdisjoint({"frames", "strength", "stores", "opened"})


def test_the_figure_of_a_screen_is_the_share_the_plan_has_covered() -> None:
    assert planned_value(item_of("screen"), replace(NUC, roof="screen", roof_blocked_share=0.3)) == 30.0
    assert planned_value(item_of("screen"), replace(NUC, roof="solid")) is None


def test_nothing_a_package_has_not_stands_between_it_and_the_road(warm: Plan, catalogue: Catalogue) -> None:
    asked = tuple(item for item in items() if item.of != "frames")
    seen = {item.name: Finding(OK) for item in asked}
    assert not_looked(seen, asked) == ()
    assert {item.name for item in not_looked({**seen, "can": NOTHING}, asked)} == {"can"}


def test_nothing_is_ok_before_it_was_looked_at(judge: Judge) -> None:
    decision = decided({}, BOX, judge)
    assert decision.outcome == "not_looked"
    assert not decision.goes
    assert len(not_looked({}, items())) == sum(item.needed for item in items())


@pytest.mark.parametrize("name", [item.name for item in items() if item.needed and item.of not in BARE])
def test_one_item_not_looked_at_is_enough_to_say_so(name: str, judge: Judge) -> None:
    decision = decided({**ALL_OK, name: Finding(NOT_LOOKED)}, BOX, judge)
    assert decision.outcome == "not_looked"


def test_a_box_found_as_planned_is_released_and_not_worked_out_anew(judge: Judge) -> None:
    decision = decided(ALL_OK, BOX, judge)
    assert (decision.outcome, decision.rejudged) == ("released", None)


@pytest.mark.parametrize("name", [item.name for item in items() if item.failing == "mend"])
def test_what_has_to_be_mended_holds_the_box_and_says_how(name: str, judge: Judge) -> None:
    decision = decided({**ALL_OK, name: Finding(NOT_OK)}, BOX, judge)
    assert decision.outcome == "held"
    assert decision.reasons


def test_signs_of_disease_hold_the_box_whatever_else_and_are_not_overridden(judge: Judge) -> None:
    findings = {"disease": Finding(NOT_OK)}
    decision = decided(findings, BOX, judge)
    assert decision.outcome == "held"
    assert "inspector" in decision.reasons[0]
    with pytest.raises(InputError, match="inspector"):
        overridden(decision, findings, "the buyer is waiting in the rain")


@pytest.mark.parametrize("reason", ["", "  ", "ok", "1234567890 !!"])
def test_there_is_no_override_without_a_typed_reason(reason: str, judge: Judge) -> None:
    findings = {**ALL_OK, "straps": Finding(NOT_OK)}
    decision = decided(findings, BOX, judge)
    with pytest.raises(InputError, match="receipt"):
        overridden(decision, findings, reason)
    assert overridden(decision, findings, "straps follow at the gate").goes


def test_a_released_box_needs_no_override(judge: Judge) -> None:
    with pytest.raises(InputError, match="not held"):
        overridden(decided(ALL_OK, BOX, judge), ALL_OK, "for good measure")


@pytest.mark.parametrize(
    ("name", "value"),
    [("floor", 101), ("floor", -1), ("strength", 41), ("opened", float("nan")), ("straps", 1)],
)
def test_a_figure_out_of_bounds_is_refused(name: str, value: float) -> None:
    with pytest.raises(InputError, match=name):
        checked_value(item_of(name), value)


def test_what_was_found_becomes_numbers_of_the_box() -> None:
    found = {
        "floor": Finding(NOT_OK, 40.0),
        "strength": Finding(NOT_OK, 6.0),
        "screen": Finding(NOT_OK),
        "stand": Finding(NOT_OK),
        "stores": Finding(OK, 2.0),
    }
    group = found_group(found, replace(NUC, roof="shaded_screen", stand="battens"))
    assert (group.floor_blocked_share, group.frames_of_bees, group.stores_frames) == (0.4, 6.0, 2.0)
    assert (group.roof, group.stand) == ("solid", "flat")
    assert found_group({name: Finding(NOT_LOOKED) for name in found}, NUC) == NUC


def test_a_mesh_that_is_not_ok_and_not_measured_is_judged_as_shut() -> None:
    assert found_group({"floor": Finding(NOT_OK)}, NUC).floor_blocked_share == 1.0


def test_only_what_differs_is_told_to_differ() -> None:
    same = 100.0 * NUC.floor_blocked_share
    assert differing({"floor": Finding(OK, same), "strength": Finding(NOT_OK, 9.0)}, NUC) == (
        item_of("strength"),
    )


# -- worked out anew -------------------------------------------------------------------------------


def test_a_box_as_planned_gets_the_plans_own_figure_from_the_same_samples(warm: Plan, judge: Judge) -> None:
    (trial,) = judge.tried(BOX, [judge.planned(BOX)])
    (*_, known) = chances(warm, small_catalogue(), np.random.default_rng(SEED), samples=SAMPLES, screen=False)
    assert trial.no_harm == known.no_harm(ONLY)
    level = warm.outcomes.verdict[0, 0, 0, 1].max()
    assert trial.level == level


def test_a_gummed_floor_is_judged_worse_and_clean_again_as_planned(judge: Judge) -> None:
    planned_box = judge.planned(BOX)
    gummed = found_group({"floor": Finding(NOT_OK, 100.0)}, planned_box)
    as_planned, worse = judge.tried(BOX, [planned_box, gummed])
    assert worse.no_harm.value < as_planned.no_harm.value
    again = judge.rejudged(BOX, gummed)
    assert again.fix
    assert enough(again.fixed, again.target) if again.fixed else False


def test_the_neighbours_of_a_gummed_box_stay_as_planned(judge: Judge) -> None:
    """Only the box that was looked at changes: its fellows are told apart even where they are alike."""
    gummed = found_group({"floor": Finding(NOT_OK, 100.0)}, judge.planned(BOX))
    twice = [judge.tried(BOX, [gummed])[0], judge.tried(box_name(2), [gummed])[0]]
    assert twice[0].no_harm == twice[1].no_harm


def test_the_set_offered_is_the_smallest_there_is(judge: Judge) -> None:
    """By brute force over all single changes and pairs."""
    from planner.app.advice.changes import box_changes
    from planner.app.inspect.judge import BATTENS, _with

    gummed = found_group(
        {"floor": Finding(NOT_OK, 100.0), "strength": Finding(NOT_OK, 6.0)}, judge.planned(BOX)
    )
    found = judge.rejudged(BOX, gummed)
    assert not found.safe
    kind = small_catalogue().box_types[gummed.box_type]
    useful = [c for c in (*box_changes(), BATTENS) if c.boxes and c.boxes(gummed, kind) != gummed]

    def works(changes: tuple[Change, ...]) -> bool:
        (trial,) = judge.tried(BOX, [_with(changes, gummed, kind)])
        return enough(trial, found.target)

    singles = [c for c in useful if works((c,))]
    if singles:
        assert found.fix is not None
        assert len(found.fix) == 1
        assert found.fix[0].effort == min(c.effort for c in singles)
    else:
        pairs = [p for p in itertools.combinations(useful, 2) if p[0].slot != p[1].slot and works(p)]
        assert (found.fix is not None) == bool(pairs)


def test_a_box_is_released_for_drives_shorter_than_the_first_harm(judge: Judge) -> None:
    harm_s = np.array([4.0, 5.0, np.inf, np.inf]) * 3600.0
    trial = Trial(share_of(np.array([False, False, True, True])), -1.0, 2, harm_s)
    driving_min = judge.kept.road.driving_s / 60.0
    open_s = judge.kept.trip.open_after_s
    wanted = (min(harm_s[0] - open_s, 1e9) / 60.0) // 15 * 15
    assert judge._minutes(BOX, trial, 1.0) == (wanted if wanted < driving_min else 0)
    assert judge._minutes(BOX, replace(trial, harm_s=np.zeros(4)), 1.0) == 0


def test_held_and_short_drives_follow_where_no_set_is_enough(
    judge: Judge, monkeypatch: pytest.MonkeyPatch
) -> None:
    findings = {**ALL_OK, "floor": Finding(NOT_OK, 100.0)}
    base = judge.rejudged(BOX, found_group(findings, judge.planned(BOX)))
    for minutes, outcome in ((0, "held"), (45, "released_under")):
        stuck = replace(base, fix=None, fixed=None, minutes=minutes)
        monkeypatch.setattr(judge, "rejudged", lambda *_, stuck=stuck: stuck)
        assert decided(findings, BOX, judge).outcome == outcome


# -- names, labels, list ---------------------------------------------------------------------------


def test_every_box_has_a_name_and_those_given_are_kept(nuc_pickup: TripFile) -> None:
    trip = replace(nuc_pickup.trip, boxes=(Box(NAMED, 1),))
    names = [box.name for box in boxes_of(trip)]
    assert len(names) == len(set(names)) == sum(group.count for group in trip.groups)
    assert NAMED in names
    assert [box.group for box in boxes_of(trip)] == [0, 1, 1, 1]


def test_a_code_says_one_box_and_no_other_code_does() -> None:
    assert box_in(code_text(NAMED)) == NAMED
    for other in (NAMED, "SKEPWAY/B023A", "SKEPWAY/", "https://example.org/B023W", "SKEPWAY/B02W"):
        assert box_in(other) is None


def test_the_list_to_print_has_every_box_every_item_and_needs_nothing_else(
    nuc_pickup: TripFile, catalogue: Catalogue
) -> None:
    page = list_html(replace(nuc_pickup.trip, title="<b>&"), catalogue)
    assert page.count("<svg") == len(boxes_of(nuc_pickup.trip))
    assert "&lt;b&gt;&amp;" in page
    assert "http" not in page
    for box in boxes_of(nuc_pickup.trip):
        assert box.name in page


# -- in the logbook --------------------------------------------------------------------------------


def test_the_last_word_on_an_item_stands_and_undoes_the_decision(tmp_path: Path, judge: Judge) -> None:
    logbook = Logbook(tmp_path / "l.sqlite")
    write_findings(logbook, "t", BOX, ALL_OK, at_s=1.0)
    write_decision(logbook, "t", BOX, decided(ALL_OK, BOX, judge), at_s=2.0)
    assert checked(logbook, "t")[BOX].outcome == "released"
    worse = {"floor": Finding(NOT_OK, 70.0, "photo", "gum", ("ab",))}
    write_findings(logbook, "t", BOX, worse, at_s=3.0, known=checked(logbook, "t")[BOX].findings)
    found = checked(logbook, "t")[BOX]
    assert found.outcome == ""
    assert found.findings == {**ALL_OK, **worse}
    assert len(logbook.events(kinds=["check"])) == len(ALL_OK) + 1


def test_a_start_tells_of_boxes_unseen_held_and_against_advice(
    tmp_path: Path, nuc_pickup: TripFile, catalogue: Catalogue
) -> None:
    trip, logbook = nuc_pickup.trip, Logbook(tmp_path / "l.sqlite")
    names = [box.name for box in boxes_of(trip)]
    write_decision(logbook, "t", names[0], Decision("released"), at_s=1.0)
    write_decision(logbook, "t", names[1], Decision("held"), at_s=1.0)
    write_decision(logbook, "t", names[2], Decision("held", override="the yard floods tonight"), at_s=1.0)
    said = start_remarks(trip, checked(logbook, "t"), catalogue)
    assert [line.split()[0] for line in said] == ["1", "1", "1"]
    assert names[3] in said[0]
    assert names[1] in said[1]
    assert names[2] in said[2]


def test_a_trip_of_which_every_box_goes_has_nothing_to_say(
    tmp_path: Path, nuc_pickup: TripFile, catalogue: Catalogue
) -> None:
    logbook = Logbook(tmp_path / "l.sqlite")
    for box in boxes_of(nuc_pickup.trip):
        write_decision(logbook, "t", box.name, Decision("released"), at_s=1.0)
    assert start_remarks(nuc_pickup.trip, checked(logbook, "t"), catalogue) == ()


# -- pinned ----------------------------------------------------------------------------------------


def test_a_pinned_plan_is_worked_out_again_to_the_same_figure(
    nuc_pickup: TripFile, warm: Plan, catalogue: Catalogue
) -> None:
    draft = read_draft(resource_path("demo", "nuc-pickup.toml"))
    plan = replace(warm, trip=nuc_pickup.trip)
    kept = unpinned(snapshot(plan, ONLY, draft, catalogue), catalogue)
    other = kept_of(plan, ONLY)
    for name in ("road", "weather"):
        one, two = getattr(kept, name), getattr(other, name)
        for field in one.__dataclass_fields__:
            np.testing.assert_array_equal(getattr(one, field), getattr(two, field))
    assert (kept.departure_s, kept.loading_place, kept.setup) == (
        other.departure_s,
        other.loading_place,
        other.setup,
    )


def test_a_pinned_plan_keeps_what_the_answer_did_with_the_load(
    nuc_pickup: TripFile, warm: Plan, catalogue: Catalogue
) -> None:
    """Screens the answer puts on, places, closings and legal breaks are in no trip file: the box rode with them."""
    draft = read_draft(resource_path("demo", "nuc-pickup.toml"))
    trip = nuc_pickup.trip
    at_s = trip.window.first_s
    first = replace(
        trip.groups[0],
        roof="shaded_screen",
        floor_blocked_share=0.4,
        misting=Misting(20.0, 3600.0, 1800.0),
        loading_place="boot_white",
        closing=Closing("actual", at_s=at_s - 3600.0, fixed=True),
    )
    rest = (replace(group, closing=Closing("before_sunrise", 600.0)) for group in trip.groups[1:])
    put_in = Stop(replace(trip.origin, name="break", elevation_m=None), "break", 2700.0)
    settled = replace(
        trip,
        groups=(first, *rest),
        stops=(*trip.stops, put_in),
        window=DepartureWindow(at_s, at_s, 60.0),
        loading_places=("open_trailer",),
    )
    written = json.loads(json.dumps(snapshot(replace(warm, trip=settled), ONLY, draft, catalogue)))
    kept = unpinned(written, catalogue).trip
    assert repr(kept) == repr(settled)  # what is no number is equal to itself only when it is read
    before = {name: value for name, value in written.items() if name != "load"}
    assert repr(unpinned(before, catalogue).trip) == repr(trip)


def test_a_plan_is_pinned_once_and_not_used_for_another_draft(
    tmp_path: Path, warm: Plan, catalogue: Catalogue
) -> None:
    logbook = Logbook(tmp_path / "l.sqlite")
    draft = read_draft(resource_path("demo", "nuc-pickup.toml"))
    first, again = (pin(logbook, "t", warm, ONLY, draft, catalogue, made_s=m) for m in (1.0, 2.0))
    assert first.id == again.id
    assert pinned_before(logbook, "t", draft, catalogue) == first
    assert pinned_before(logbook, "t", {**draft, "title": "x"}, catalogue) is None
    assert pinned_before(logbook, "u", draft, catalogue) is None


def test_an_answer_speaks_of_boxes_only_once_somebody_looks_or_the_start_is_near(
    tmp_path: Path, nuc_pickup: TripFile, catalogue: Catalogue
) -> None:
    trip, logbook, path = nuc_pickup.trip, Logbook(tmp_path / "l.sqlite"), tmp_path / "trip.toml"
    path.write_text(f'version = 1\nid = "{"a" * 32}"\n', "utf-8")
    leave_s = 1_000_000.0
    assert start_cautions(path, trip, catalogue, leave_s, leave_s - 86_400.0, logbook) == ()
    assert "4 of 4 boxes" in start_cautions(path, trip, catalogue, leave_s, leave_s - 3600.0, logbook)[0]
    assert start_cautions(None, trip, catalogue, leave_s, leave_s - 3600.0, logbook) == ()
    write_decision(logbook, "a" * 32, boxes_of(trip)[0].name, Decision("released"), at_s=1.0)
    assert "3 of 4 boxes" in start_cautions(path, trip, catalogue, leave_s, leave_s - 86_400.0, logbook)[0]
    broken = Logbook(tmp_path / "broken.sqlite")
    broken.path.write_bytes(b"no database" * 100)
    assert "is not known" in start_cautions(path, trip, catalogue, leave_s, leave_s, broken)[0]


@pytest.mark.parametrize(("fix", "minutes"), [((), 45), (None, 45)])
def test_what_nobody_looked_at_is_said_beside_what_makes_a_box_safe(
    judge: Judge, monkeypatch: pytest.MonkeyPatch, fix: tuple[Change, ...] | None, minutes: int
) -> None:
    """A floor to scrape tells nothing of the straps nobody looked at."""
    findings = {"floor": Finding(NOT_OK, 100.0)}
    base = judge.rejudged(BOX, found_group(findings, judge.planned(BOX)))
    change = next(one for one in box_changes() if one.name == "clean_floor")
    stuck = replace(base, fix=fix if fix is None else (change,), fixed=None, minutes=minutes)
    monkeypatch.setattr(judge, "rejudged", lambda *_: stuck)
    some, every = decided(findings, BOX, judge), decided({**ALL_OK, **findings}, BOX, judge)
    assert some.outcome == every.outcome == ("released_under" if fix is None else "released_with")
    assert "two straps" in " ".join(some.reasons)
    assert "Not looked at" not in " ".join(every.reasons)


def test_a_start_tells_of_a_box_released_with_something_that_nobody_looked_at_whole(
    nuc_pickup: TripFile, tmp_path: Path, catalogue: Catalogue
) -> None:
    logbook = Logbook(tmp_path / "l.sqlite")
    names = [box.name for box in boxes_of(nuc_pickup.trip)]
    for name in names:
        write_findings(logbook, "t", name, ALL_OK, at_s=1.0)
        write_decision(logbook, "t", name, Decision("released"), at_s=2.0)
    assert start_remarks(nuc_pickup.trip, checked(logbook, "t"), catalogue) == ()
    half = {name: one for name, one in ALL_OK.items() if name != "straps"}
    other = Logbook(tmp_path / "m.sqlite")
    for name in names:
        write_findings(other, "t", name, half if name == names[0] else ALL_OK, at_s=1.0)
        write_decision(other, "t", name, Decision("released_with", fix_names=("battens",)), at_s=2.0)
    (remark,) = start_remarks(nuc_pickup.trip, checked(other, "t"), catalogue)
    assert f"1 of {len(names)} boxes" in remark
    assert names[0] in remark
