"""What sheets say comes from this trip: air, mist, stops, screens, cold, night and rain change the words."""

from __future__ import annotations

import math
import tomllib
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from phonenumbers.shortnumberinfo import is_emergency_number

from planner.app.inspect.codes import box_in
from planner.app.sheets.drive import buyer_sheet, driver_sheet, listen_times, picked_stands, timetable
from planner.app.sheets.facts import CODE_LETTERS, GroupFacts, Halt, Proof, Standing, TripFacts, rounded_down
from planner.app.sheets.records import STAYS, Block, Sheet, values_in
from planner.app.sheets.stay import receipt_sheet, receiver_sheet, yard_sheet
from planner.app.sheets.stuck import box_names, entries, labels
from planner.bundled import resource_path
from planner.store.people import Person
from planner.words import Sentence, Title, Voice
from tests.paper.made import BUYER, LEAVE_S, facts, groups, people, random_facts, without_figures

HOUR_S = 3600.0


def keys(sheet: Sheet) -> set[str]:
    """The sentences a sheet says, without their topic."""
    return {cell.key.removeprefix("sheets.") for cell in sheet.cells() if isinstance(cell, Sentence)}


def driver(**more: object) -> set[str]:
    return keys(driver_sheet(facts(**more), "en"))


def blocks_of(trip: TripFacts) -> dict[str, Block]:
    return {block.name: block for block in driver_sheet(trip, "en").blocks}


# -- the three numbers ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("minutes", "printed"),
    [(0.0, 0), (4.99, 0), (5.0, 5), (38.0, 35), (59.9, 55), (400.0, 360), (math.inf, 360)],
)
def test_a_standing_time_is_rounded_down_to_five(minutes: float, printed: int) -> None:
    assert rounded_down(minutes) == printed


@given(st.floats(0.0, 1e6))
def test_no_standing_time_is_rounded_up(minutes: float) -> None:
    assert rounded_down(minutes) <= minutes
    assert rounded_down(minutes) % 5 == 0


def test_below_five_minutes_the_sheet_says_not_to_stop() -> None:
    assert "do_not_stop" in {
        getattr(f.value, "key", "")[7:] for f in driver_sheet(facts(stand_min=4.9), "en").figures
    }
    sheet = driver_sheet(facts(stand_min=5.0), "en")
    assert next(iter(values_in(sheet.figures[1].value))).value == 5  # type: ignore[union-attr]
    assert "road_no_rest" in driver(stand_min=25.0)
    assert "road_no_rest" not in driver(stand_min=35.0)


def test_the_numbers_of_a_window_move_with_the_start() -> None:
    leave, _, opened = driver_sheet(facts(), "en").figures
    first, last = values_in(leave.value)
    assert (first.time_s, last.time_s) == (LEAVE_S, LEAVE_S + 2 * HOUR_S)  # type: ignore[union-attr]
    first, last = values_in(opened.value)
    assert (first.time_s, last.time_s) == (LEAVE_S + 5.5 * HOUR_S, LEAVE_S + 7.5 * HOUR_S)  # type: ignore[union-attr]


# -- no figures ----------------------------------------------------------------------------------

NO_FIGURES = {
    "do_not_go": {"decision": "do_not_go"},
    "cannot_tell": {"decision": "cannot_tell"},
    "past": {"proof": Proof(LEAVE_S + 90 * HOUR_S, None, "forecast", "x", LEAVE_S + 80 * HOUR_S)},
}


@pytest.mark.parametrize("why", NO_FIGURES)
def test_a_trip_without_figures_says_why_in_its_head(why: str) -> None:
    trip = facts(**NO_FIGURES[why])
    for sheet in (driver_sheet(trip, "en"), buyer_sheet(trip, BUYER, "en"), receiver_sheet(trip, "en")):
        assert sheet.figures == ()
        assert sheet.head.void[0] == Sentence(f"sheets.void_{why}")
        assert {block.name for block in sheet.blocks} == {"signs", "emergency"}
    assert yard_sheet(trip, people(2), "en").figures == ()
    assert entries(trip) == ()


def test_a_go_without_times_cannot_be_told() -> None:
    assert facts(arrive_s=None).void == "cannot_tell"


@pytest.mark.parametrize(
    ("missing", "says"),
    [
        (("weather",), "no weather"),
        (("road",), "no road"),
        (("weather", "road"), "neither a road nor weather"),
        (("chance",), "too close to call"),
        ((), "worked out to its end"),
    ],
)
def test_a_sheet_that_cannot_tell_names_what_is_not_known(missing: tuple[str, ...], says: str) -> None:
    for sheet in (
        driver_sheet(facts(decision="cannot_tell", missing=missing), "en"),
        yard_sheet(facts(decision="cannot_tell", missing=missing), (), "en"),
    ):
        assert says in Voice().text(sheet.head.void[1])
    assert facts().void == ""


def test_a_sheet_is_past_when_its_last_start_is() -> None:
    late = replace(facts().proof, printed_s=LEAVE_S + 2 * HOUR_S + 60.0)
    assert facts(proof=late).void == "past"


# -- what the plan changes -----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("air", "said", "unsaid"),
    [
        (
            "cooled",
            {"before_cooled", "road_cooled", "sign_roar_do_cooled", "jam_first_engine"},
            {"road_windows"},
        ),
        ("windows", {"before_windows", "road_windows", "jam_first_doors"}, {"road_cooled", "before_cooled"}),
        ("open", {"road_open_deck", "jam_first_open"}, {"road_windows", "road_cooled"}),
        ("fan", {"road_fan"}, {"road_open_deck"}),
        ("shut", {"road_shut_space"}, {"road_windows"}),
    ],
)
def test_windows_or_cooling_are_those_of_the_plan(air: str, said: set[str], unsaid: set[str]) -> None:
    found = driver(air=air, set_point_c=22.0)
    assert said <= found
    assert not unsaid & found


def test_the_air_of_every_place_is_told_where_groups_ride_in_several() -> None:
    """One group rides behind in the open, the other in the cooled cabin: both drivers' rules hold."""
    deck, cab = groups()
    two = (
        replace(deck, air="open"),
        replace(cab, place=Title("places", "cab", "Cabin"), air="cooled", set_point_c=21.0),
    )
    trip = facts(groups=two, air="open")
    road = [row.cells[0] for row in blocks_of(trip)["road"].rows if len(row.cells) == 1]
    told = [Voice("en").text(cell) for cell in road]
    assert told.index("Cabin: Air conditioning on all the way, engine running; set to 21 °C.") == 1
    assert "Open trailer: Moving air is what keeps them cool: keep rolling." in told
    found = keys(driver_sheet(trip, "en"))
    assert {"before_cooled", "jam_first_engine", "sign_roar_do_cooled"} <= found
    one = keys(driver_sheet(facts(groups=tuple(replace(group, air="windows") for group in groups())), "en"))
    assert "road_windows" in one
    assert "road_air_at" not in one


def test_nobody_is_told_to_keep_rolling_where_standing_is_as_good() -> None:
    assert "road_open_deck_mild" in driver(stand_min=120.0)
    assert "road_open_deck" not in driver(stand_min=math.inf)
    assert "road_open_deck" in driver(stand_min=119.0)
    assert "road_open_deck" in driver(stand_min=None)
    assert "road_open_deck_cold" in driver(stand_min=math.inf, cold=True)


def test_listening_is_a_rule_that_stays_in_every_language() -> None:
    rows = [row for row in blocks_of(facts())["road"].rows if row.cells == (Sentence("sheets.road_listen"),)]
    assert [row.keep for row in rows] == [STAYS]
    short = facts(arrive_s=LEAVE_S + 1.5 * HOUR_S, halts=(), mist_s=(), stands=())
    assert "road_listen" not in keys(driver_sheet(short, "en"))


def test_many_mistings_alike_are_one_row_that_stays() -> None:
    times = tuple(LEAVE_S + 2 * HOUR_S + 1800.0 * k for k in range(6))
    rows = [due for due in timetable(facts(mist_s=times)) if "road_mist" in getattr(due.what, "key", "")]
    (row,) = rows
    assert (row.at_s, row.keep) == (times[0], STAYS)
    told = Voice("en").text(row.what)
    assert told == "Mist: 20 ml a box, then every 30 min until 01:30"
    assert len(timetable(facts(mist_s=times[:3]))) == len(timetable(facts(mist_s=()))) + 3
    uneven = (*times[:4], times[5])
    assert len([due for due in timetable(facts(mist_s=uneven)) if due.keep == 8]) >= len(uneven)


def test_mist_is_said_only_where_the_plan_mists() -> None:
    assert {"before_water", "road_mist", "sign_hum_do"} <= driver()
    dry = driver(mist_s=())
    assert {"road_no_mist", "sign_hum_do_dry"} <= dry
    assert not {"before_water", "road_mist"} & dry
    assert "road_no_mist_cold" in driver(mist_s=(), too_cold_to_mist=True)


def test_screens_are_told_group_by_group_where_they_differ() -> None:
    assert {"before_screen_on", "before_screen_off"} <= driver()
    alike = tuple(replace(group, screen="on") for group in groups())
    assert "before_screen_on_all" in driver(groups=alike)
    assert "arrival_screens" in driver(groups=alike)
    without = tuple(replace(group, screen="none") for group in groups())
    found = driver(groups=without)
    assert not {key for key in found if key.startswith("before_screen")}
    assert "arrival_screens" not in found


def test_cold_instead_of_heat_changes_the_words() -> None:
    found = driver(cold=True)
    assert {"before_warm", "road_open_deck_cold", "jam_first_cold", "arrival_stand_cold"} <= found
    assert not {"before_shade", "road_open_deck", "arrival_stand"} & found
    signs = next(block for block in driver_sheet(facts(cold=True), "en").blocks if block.name == "signs")
    assert [row.sign for row in signs.rows][:2] == ["hum", "cold"]


def test_night_rain_and_a_near_old_stand_change_the_arrival() -> None:
    assert "arrival_dark" in driver(opens_dark=True)
    assert "arrival_dark" not in driver(opens_dark=False)
    assert "arrival_wet" in driver(opens_wet=True)
    assert "arrival_near" in driver(near_m=4000.0)
    assert "arrival_near" not in driver(near_m=6000.0)
    assert "arrival_near" in driver(near_m=4999.0)
    assert "arrival_near" not in driver(near_m=5000.0), "as the line says: less than 5 km"


def test_a_legal_break_is_never_left_out() -> None:
    halts = tuple(Halt(LEAVE_S + (k + 2) * 1000.0, 2700.0, f"Stop {k}", "break", 9.0 * k) for k in range(30))
    assert "road_legal" in driver(halts=halts)
    rows = next(b for b in driver_sheet(facts(halts=halts[:3]), "en").blocks if b.name == "road").rows
    breaks = [row for row in rows if getattr(row.cells[-1], "key", "") == "sheets.road_break"]
    assert len(breaks) == 3
    assert {row.keep for row in breaks} == {9}


def test_the_timetable_is_in_order_and_ends_with_the_opening() -> None:
    for seed in range(30):
        trip = replace(random_facts(seed), decision="go")
        dues = timetable(trip)
        times = [due.at_s for due in dues]
        assert times == sorted(times)
        assert dues[-1].what == Sentence("sheets.road_open")


def test_the_worst_moment_is_among_those_printed() -> None:
    for worst in range(20):
        stands = tuple(Standing(LEAVE_S + k, float(k), 9.0 if k == worst else 99.0) for k in range(20))
        picked = picked_stands(stands)
        assert len(picked) <= 5
        assert stands[worst] in picked


def test_a_buyer_elsewhere_is_told_whose_figures_these_are() -> None:
    there = Person("Ada", place="boot")
    assert "other_place" in keys(buyer_sheet(facts(), there, "en"))
    assert "other_place" not in keys(buyer_sheet(facts(), replace(there, place="open trailer"), "en"))


# -- whom it is from -----------------------------------------------------------------------------


def test_the_code_is_of_what_is_said_not_of_when() -> None:
    trip = facts()
    later = replace(trip, proof=replace(trip.proof, printed_s=trip.proof.printed_s + 60.0, replaces="ABCD"))
    assert later.code == trip.code
    assert facts(stand_min=33.0).code != trip.code
    assert len(trip.code) == 4
    assert set(trip.code) <= set(CODE_LETTERS)


def test_a_new_sheet_says_what_it_replaces() -> None:
    trip = facts(proof=replace(facts().proof, replaces="QXKT"))
    assert Sentence("sheets.replaces", (("code", "QXKT"),)) in driver_sheet(trip, "en").head.proof


# -- emergency -----------------------------------------------------------------------------------

NUMBERS = tomllib.loads(resource_path("emergency.toml").read_text("utf-8"))["numbers"]


@pytest.mark.parametrize("country", sorted(NUMBERS))
def test_emergency_numbers_are_what_the_metadata_of_phonenumbers_says(country: str) -> None:
    assert NUMBERS[country]
    assert all(is_emergency_number(number, country) for number in NUMBERS[country])


def test_the_numbers_are_those_of_the_countries_on_the_road() -> None:
    block = next(
        b for b in driver_sheet(facts(countries=("DE", "GB", "XX")), "en").blocks if b.name == "emergency"
    )
    said = [dict(cell.gaps) for row in block.rows for cell in row.cells if isinstance(cell, Sentence)]
    assert {"numbers": "112 (DE), 999 / 112 (GB)"} in said
    assert {"countries": "XX"} in said


# -- labels and receipts -------------------------------------------------------------------------


def test_a_label_names_the_box_and_nobody_and_is_read_back() -> None:
    """The code on a label is the one that photos are sorted by."""
    trip = facts()
    for label in labels(trip):
        assert box_in(label.code) == label.box
        assert trip.keeper not in label.code


def test_every_box_has_a_name_of_its_own() -> None:
    crowd = tuple(replace(group, count=200) for group in groups())
    found = box_names(facts(boxes=400, groups=crowd))
    assert len({name for name, _ in found}) == 400
    assert [name for name, _ in found[:2]] == list(groups()[0].names)
    assert [one.label for _, one in found] == [group.label for group in crowd for _ in range(group.count)]


def test_a_receipt_names_the_boxes_and_leaves_no_time_where_there_is_none() -> None:
    sheet = receipt_sheet(facts(), BUYER, "en")
    rows = next(block for block in sheet.blocks if block.name == "handed").rows
    assert [row.cells[0] for row in rows] == list(BUYER.boxes)
    void = receipt_sheet(without_figures(), BUYER, "en")
    rows = next(block for block in void.blocks if block.name == "handed").rows
    assert {row.cells[1] for row in rows} == {Sentence("sheets.receipt_blank")}


def test_every_sheet_of_random_trips_can_be_built() -> None:
    for seed in range(60):
        trip: TripFacts = random_facts(seed)
        for sheet in (
            driver_sheet(trip, "de"),
            receiver_sheet(trip, "en"),
            yard_sheet(trip, people(3), "pl"),
        ):
            assert bool(sheet.figures) != bool(trip.void)
            names = [block.name for block in sheet.blocks]
            assert len(set(names)) == len(names)


def test_a_group_without_a_place_is_still_told() -> None:
    lone = GroupFacts("Swarm", 1, (), Title("places", "", ""), LEAVE_S)
    assert "title_driver" in driver(groups=(lone,), place=Title("places", "", ""))


def test_every_sheet_of_a_plan_bears_its_code() -> None:
    """Whoever takes one box of twelve holds the same plan as the yard does."""
    trip = facts()
    one = Person("Ada", boxes=("B001B",), count=1)
    for sheet in (buyer_sheet(trip, one, "en"), receipt_sheet(trip, one, "en"), yard_sheet(trip, (), "en")):
        assert Sentence("sheets.code", (("code", trip.code),)) in sheet.head.proof


def test_a_driver_reads_where_each_group_rides() -> None:
    back = Title("places", "rear", "Rear row")
    two = tuple(
        replace(group, place=place) for group, place in zip(groups(), (facts().place, back), strict=True)
    )
    told = dict(driver_sheet(facts(groups=two), "en").head.pairs)
    rides = Voice().text(told[Sentence("sheets.head_rides")])
    assert "Rear row" in rides
    assert "Spring splits" in rides
    many = dict(driver_sheet(facts(groups=(*two, two[0])), "en").head.pairs)
    assert many[Sentence("sheets.head_rides")] == Sentence("sheets.rides_by_group")


def test_do_not_stop_leaves_the_stops_that_were_planned() -> None:
    planned_only = "road_planned_only"
    assert planned_only in driver(stand_min=3.0)
    assert planned_only not in driver(stand_min=3.0, halts=())
    assert planned_only not in driver(stand_min=38.0)


@pytest.mark.parametrize(
    ("air", "first", "roar"),
    [
        ("open", "jam_first_open", "sign_roar_do"),
        ("shut", "jam_first_doors", "sign_roar_do"),
        ("cooled", "jam_first_engine", "sign_roar_do_cooled"),
    ],
)
def test_in_air_too_cold_to_mist_no_water_is_advised(air: str, first: str, roar: str) -> None:
    usual = driver(air=air, set_point_c=18.0)
    assert usual >= {first, roar, "jam_misted"}
    cold = driver(air=air, set_point_c=18.0, too_cold_to_mist=True, mist_s=())
    assert cold >= {f"{first}_dry", f"{roar}_dry", "road_no_mist_cold"}
    assert not cold & {first, roar, "jam_misted"}
    text = " ".join(Voice().say(f"sheets.{key}") for key in (f"{first}_dry", f"{roar}_dry"))
    assert "No water" in text
    receiver = keys(receiver_sheet(facts(too_cold_to_mist=True), "en"))
    assert "sign_roar_do_standing_dry" in receiver


def test_nobody_is_asked_to_listen_during_a_halt() -> None:
    """On the car deck of a ferry nobody may be; at the end of a long halt is the time."""
    ferry = Halt(LEAVE_S + 2 * HOUR_S, 3 * HOUR_S, "Ferry", "rest", 100.0)
    trip = facts(halts=(ferry,), mist_s=())
    heard = listen_times(trip)
    assert not [at_s for at_s in heard if ferry.at_s <= at_s < ferry.at_s + ferry.lasts_s]
    assert ferry.at_s + ferry.lasts_s in heard
    short = replace(ferry, lasts_s=600.0)
    assert short.at_s + short.lasts_s not in listen_times(replace(trip, halts=(short,)))


def test_a_gate_that_is_shut_on_arrival_is_named_and_the_boxes_are_opened_behind_it() -> None:
    gate_s = facts().arrive_s + 5 * HOUR_S  # type: ignore[operator]
    trip = facts(gate_s=gate_s, open_s=gate_s + 1800.0)
    for sheet in (driver_sheet(trip, "en"), receiver_sheet(trip, "en")):
        figure = next(one for one in sheet.figures if one.name == "open")
        assert {value.time_s for value in values_in(figure.value)} == {gate_s + 1800.0}  # type: ignore[union-attr]
        assert "open_note_gate" in keys(sheet)
    dues = timetable(trip)
    assert [due.at_s for due in dues if due.what == Sentence("sheets.road_gate")] == [gate_s]
    assert dues[-1].at_s == gate_s + 1800.0
    assert "road_gate" not in driver()


def test_nobody_is_asked_to_listen_just_after_a_halt() -> None:
    """Whoever stood until five to three has listened then."""
    hour_s = LEAVE_S + 3 * HOUR_S
    trip = facts(halts=(), mist_s=())
    assert hour_s in listen_times(trip)
    halt = Halt(hour_s - 900.0, 600.0, "Lay-by", "rest", 100.0)
    assert hour_s not in listen_times(replace(trip, halts=(halt,)))


def test_the_gate_stays_in_a_full_timetable() -> None:
    often = tuple(LEAVE_S + HOUR_S + 600.0 * k for k in range(1, 25))
    assert "road_gate" in driver(gate_s=LEAVE_S + 8 * HOUR_S, open_s=LEAVE_S + 8.5 * HOUR_S, mist_s=often)


def test_in_the_cold_a_long_rest_is_told_as_what_it_does_unless_only_from_later_on() -> None:
    stands = tuple(Standing(LEAVE_S, 0.0, 400.0) for _ in range(2))
    assert "road_rest_cold" in driver(cold=True, too_cold_to_mist=True, stand_min=400.0, stands=stands)
    assert "road_rest_cold" not in driver(cold=False, stand_min=400.0, stands=stands)
    assert "road_rest_cold" not in driver(cold=True, too_cold_to_mist=True, stand_min=40.0)


def test_a_short_time_to_stand_at_the_start_does_not_forbid_the_stops_of_a_whole_night() -> None:
    """Boxes that were just shut are on the brink for an hour; a tired driver may stop after it."""
    begin_s = facts().leave_s
    assert begin_s is not None
    minutes_at = (0.0, 3.0, 29.9, 70.0, 400.0, 45.0, 90.0)
    stands = tuple(Standing(begin_s + 900.0 * k, 18.0 * k, shut) for k, shut in enumerate(minutes_at))
    trip = facts(stand_min=0.0, stands=stands, air="windows")
    assert trip.rest_later == (2700.0, 45)
    told = keys(driver_sheet(trip, "en"))
    assert told >= {"road_later_short", "stand_note_first", "do_not_stop"}
    assert not told & {"road_no_rest", "stand_note", "road_planned_only"}
    text = " ".join(Voice().text(row.cells[0]) for row in blocks_of(trip)["road"].rows if len(row.cells) == 1)
    assert "in the first 45 min" in text
    assert "45 min at most" in text
    assert "road_later_long" in driver(stand_min=0.0, stands=stands[:3] + stands[4:5])
    assert "road_later_short_open" in driver(stand_min=0.0, stands=stands)


@pytest.mark.parametrize(
    "minutes_at",
    [
        (0.0,) * 6,
        (),
        (40.0, 40.0, 40.0, 40.0, 40.0, 0.0),
        (0.0, 0.0, 0.0, 0.0, 0.0, 40.0),
        (40.0, 40.0, 40.0, 40.0, 40.0, 40.0),
    ],
)
def test_there_is_no_later_stop_where_the_way_has_none_before_its_half(minutes_at: tuple[float, ...]) -> None:
    trip = facts()
    assert trip.leave_s is not None
    stands = tuple(Standing(trip.leave_s + 3600.0 * k, 9.0, shut) for k, shut in enumerate(minutes_at))
    least = min(minutes_at, default=0.0)
    assert facts(stand_min=least, stands=stands).rest_later is None


def test_arrival_and_opening_are_told_by_the_clock_there_wherever_they_stand() -> None:
    trip = facts(zone_there="Europe/London")
    sheet = driver_sheet(trip, "en")
    rows = next(block for block in sheet.blocks if block.name == "road").rows
    clocks = {row.cells[2].key: row.cells[1] for row in rows if len(row.cells) == 3}  # type: ignore[union-attr]
    assert clocks["sheets.road_leave"].zone == "Europe/Berlin"  # type: ignore[union-attr]
    assert clocks["sheets.road_arrive"].zone == "Europe/London"  # type: ignore[union-attr]
    assert clocks["sheets.road_open"].zone == "Europe/London"  # type: ignore[union-attr]
    assert trip.clock_ahead_s == -3600.0
    assert "road_zone_behind" in keys(sheet)
    assert "road_zone_ahead" in driver(zone_there="Europe/Helsinki")
    assert not driver(zone_there="Europe/Vienna") & {"road_zone_ahead", "road_zone_behind"}


def test_what_the_plan_counts_on_at_halts_is_asked_of_the_driver() -> None:
    first, second = (replace(halt, shade=False) for halt in facts().halts)

    def said(*halts: Halt) -> list[str]:
        cells = [row.cells[0] for row in blocks_of(facts(halts=halts))["road"].rows]
        return [text for text in map(Voice().text, cells) if "counts on it" in text]

    assert said(first, second) == []
    shaded = (replace(halt, shade=True) for halt in (first, second))
    assert said(*shaded) == ["At the planned halts in shade: the plan counts on it."]
    engine, open_ = replace(first, engine_on=True), replace(second, shade=True, doors_open=True)
    assert said(engine, open_) == [
        "At 00:00 engine and cooling on: the plan counts on it.",
        "At 01:30 in shade, doors open: the plan counts on it.",
    ]


def test_a_break_that_nobody_named_is_found_by_the_road() -> None:
    """The program puts breaks in where they are due; what it calls them is no place."""
    halt = Halt(LEAVE_S + 3 * HOUR_S, 2700.0, "", "break", 291.0)
    sheet = driver_sheet(facts(halts=(halt,)), "en")
    rows = next(block for block in sheet.blocks if block.name == "road").rows
    assert "Legal break, 45 min: at 291 km" in [Voice().text(row.cells[-1]) for row in rows]


@pytest.mark.parametrize(("air", "said"), [("windows", "road_gate_wait"), ("open", "road_gate_wait_open")])
def test_who_waits_before_a_gate_is_told_what_to_do(air: str, said: str) -> None:
    gate = {"gate_s": LEAVE_S + 8 * HOUR_S, "open_s": LEAVE_S + 8.5 * HOUR_S}
    assert said in driver(air=air, **gate)
    assert said not in driver(air=air)


def test_groups_of_one_label_are_told_apart_by_how_many_they_are() -> None:
    """A load split over two places keeps the label of its group."""
    front = Title("places", "", "Seat")
    both = tuple(replace(group, label="Nucs") for group in groups())
    two = (both[0], replace(both[1], place=front))
    told = dict(driver_sheet(facts(groups=two), "en").head.pairs)
    assert Voice().text(told[Sentence("sheets.head_rides")]) == "8 x Nucs: Open trailer; 4 x Nucs: Seat"
    places = next(block for block in yard_sheet(facts(groups=two), (), "en").blocks if block.name == "places")
    assert [Voice().text(row.cells[0]) for row in places.rows] == ["8 x Nucs", "4 x Nucs"]


def test_a_yard_with_a_window_is_told_for_which_start_its_times_are() -> None:
    assert "yard_best" in keys(yard_sheet(facts(), (), "en"))
    one = facts(leave_from_s=LEAVE_S, leave_s=LEAVE_S, leave_to_s=LEAVE_S)
    assert "yard_best" not in keys(yard_sheet(one, (), "en"))
