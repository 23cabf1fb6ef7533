"""The catalogues: complete, in range, and open to the user's own rows."""

from __future__ import annotations

import json
import pickle
import re
from pathlib import Path

import pytest

from planner.bundled import resource_path
from planner.errors import InputError
from planner.model.parameters import NAMES
from planner.store.catalogue import SECTIONS, bundled_rows, load_catalogue
from planner.store.schema import schema_faults

HEAT_MODEL_PLACES = {
    "car": 7,  # cooled seat and footwell; one window, all windows front and back; shut dark and white
    "van": 8,  # shut, insulated, bulkhead open, roof fan; dark and white each
    "estate": 6,
    "pickup": 5,  # canopy shut and open, dark and white; open bed
    "trailer": 1,
    "flatbed": 10,  # outer x4, inner and its top tier, front and rear outer and inner
    "ground": 2,
}


def write(path: Path, text: str) -> Path:
    path.write_text(text, "utf-8")
    return path


def faults_of(path: Path) -> dict[str, str]:
    with pytest.raises(InputError) as caught:
        load_catalogue(path)
    return {fault.field: fault.remedy for fault in caught.value.faults}


def test_the_bundled_catalogues_keep_their_own_schema() -> None:
    assert schema_faults(bundled_rows(), "catalogue.schema.json") == []


def test_a_catalogue_laid_over_nothing_passes_every_check(tmp_path: Path) -> None:
    assert load_catalogue(write(tmp_path / "own.toml", "# nothing yet\n")) == load_catalogue()


def test_every_number_of_the_model_has_its_row() -> None:
    assert set(load_catalogue().parameters.rows) == set(NAMES)


@pytest.mark.parametrize("section", [section for section in SECTIONS if section != "vehicles"])
def test_every_row_says_where_it_comes_from(section: str) -> None:
    for name, row in bundled_rows()[section].items():
        assert row["source"].strip(), name
        assert row["grade"] in "ABCD", name


@pytest.mark.parametrize(("vehicle", "least"), HEAT_MODEL_PLACES.items())
def test_every_vehicle_has_its_places(vehicle: str, least: int) -> None:
    assert len(load_catalogue().loading_places_of(vehicle)) >= least


def test_loading_places_carry_the_figures_of_the_heat_model_tables() -> None:
    places = load_catalogue().loading_places
    van = places["van_shut_dark"]
    assert (van.volume_m3, van.sun_area_m2, van.ua_parked_w_k, van.ua_moving_w_k) == (10, 3, 138, 178)
    assert (van.ach_parked_base, van.ach_moving_base, van.ach_moving_per_speed) == (0.7, 0.5, 0.15)
    trailer = places["open_trailer"]
    assert (trailer.offset_moving_k, trailer.speed_factor, trailer.wind_factor) == (0.5, 0.35, 0.6)
    assert trailer.pressure_difference == 0.25
    boot = places["boot_dark"]
    assert boot.sun_area_m2 == pytest.approx(0.5 * 1.35 * 10 / 40)
    assert boot.sun_lag_factor == 2
    inner = places["flatbed_inner"]
    assert inner.neighbour_w_k == (11.0, 18.0)
    assert (inner.offset_moving_k, inner.offset_parked_sun_k) == (0, 0)


def test_open_and_enclosed_places_do_not_mix_their_figures() -> None:
    for place in load_catalogue().loading_places.values():
        enclosed = place.volume_m3 > 0
        assert enclosed == (place.ua_moving_w_k > 0), place.name
        assert enclosed == (place.ach_doors_open > 0), place.name
        assert place.wind_factor > 0 or enclosed, place.name


def test_a_tight_polystyrene_box_leaks_least() -> None:
    boxes = load_catalogue().box_types.values()
    foam = max(box.leak_l_s[0] for box in boxes if box.name.endswith("_eps"))
    assert foam < min(box.leak_l_s[0] for box in boxes if not box.name.endswith("_eps"))


def test_inside_volumes_are_the_trade_sizes() -> None:
    """Litres of the common trade sizes (common practice): two figures each, so 3 %."""
    boxes = load_catalogue().box_types
    litres = {
        "langstroth10_single_pine": 42.7,
        "national_brood_pine": 35.4,
        "national_14x12_pine": 49.8,
        "dadant_pine": 55.0,
        "package_cage": 13.4,
    }
    for name, expected in litres.items():
        box = boxes[name]
        volume = box.inside_length_m * box.inside_width_m * box.inside_height_m * 1000
        assert volume == pytest.approx(expected, rel=0.03), name


def test_the_heads_of_the_files_explain_every_figure() -> None:
    for section in SECTIONS[:-1]:
        text = resource_path(f"{section}.toml").read_text("utf-8")
        head = text.split("\n[", 1)[0]
        keys = {key for row in bundled_rows()[section].values() for key in row}
        for key in keys:
            either = re.sub(r"_(parked|moving)_(min|max)$", r"_*_\2", key)
            assert key in head or either in head, (section, key)


def test_a_users_row_changes_only_the_figures_it_gives(tmp_path: Path) -> None:
    own = write(tmp_path / "own.toml", "[box_types.langstroth_nuc5_pine]\nframes = 4\n")
    before, after = load_catalogue().box_types, load_catalogue(own).box_types
    assert after["langstroth_nuc5_pine"].frames == 4.0
    assert after["langstroth_nuc5_pine"].walls == before["langstroth_nuc5_pine"].walls
    assert len(after) == len(before)


def test_a_users_row_adds_a_place(tmp_path: Path) -> None:
    own = write(
        tmp_path / "own.toml",
        '[loading_places.my_cart]\ntitle = "Cart"\nvehicle = "trailer"\nspeed_factor = 0.2\nwind_factor = 0.5\n',
    )
    assert load_catalogue(own).loading_places_of("trailer") == ("open_trailer", "my_cart")


def test_later_files_lie_over_earlier_ones(tmp_path: Path) -> None:
    first = write(tmp_path / "a.toml", "[parameters.fan_start_c]\nvalue = 35.5\n")
    second = write(tmp_path / "b.toml", "[parameters.fan_start_c]\nvalue = 36.5\n")
    assert load_catalogue(first, second).parameters.rows["fan_start_c"].value == 36.5


def test_an_unknown_figure_names_the_nearest_known_one(tmp_path: Path) -> None:
    own = write(tmp_path / "own.toml", "[box_types.langstroth_nuc5_pine]\nframe_kinds = 4\n")
    assert faults_of(own) == {"box_types.langstroth_nuc5_pine.frame_kinds": 'Did you mean "frame_kind"?'}


def test_a_figure_nothing_reads_any_more_is_let_pass_and_never_offered(tmp_path: Path) -> None:
    """Older files open for ever; a slip near the old name is not led back to it."""
    row = "[box_types.langstroth_nuc5_pine]\n"
    assert load_catalogue(write(tmp_path / "own.toml", f"{row}empty_kg = 4\n")) == load_catalogue()
    (remedy,) = faults_of(write(tmp_path / "own.toml", f"{row}empty_kgs = 4\n")).values()
    assert "empty_kg" not in remedy


def test_every_fault_of_a_users_file_is_named_at_once(tmp_path: Path) -> None:
    own = write(
        tmp_path / "own.toml",
        """
        [box_types.langstroth_nuc5_pine]
        absorptance = 3
        frames = nan
        [parameters.fan_start_c]
        unit = 5
        [loading_place.x]
        """,
    )
    found = faults_of(own)
    assert set(found) == {
        "box_types.langstroth_nuc5_pine.absorptance",
        "box_types.langstroth_nuc5_pine.frames",
        "parameters.fan_start_c.unit",
        "loading_place",
    }
    assert found["loading_place"] == 'Did you mean "loading_places"?'


@pytest.mark.parametrize(
    ("text", "field"),
    [
        ('[box_types.dadant_pine]\nframe_kind = "dadent"', "box_types.dadant_pine.frame_kind"),
        ("[box_types.dadant_pine]\nleak_l_s = [1, 2, 3]", "box_types.dadant_pine.leak_l_s"),
        ("[box_types.dadant_pine]\nvent_height_m = 2", "box_types.dadant_pine.vent_height_m"),
        ("[parameters.fan_start_c]\nvalue = 90", "parameters.fan_start_c.value"),
        (
            '[parameters.fan_begin_c]\nvalue = 1\nlow = 1\nhigh = 1\nunit = "C"\ngrade = "D"\nsource = "me"',
            "parameters.fan_begin_c",
        ),
        ("[loading_places.van_shut_dark]\nach_parked_min = 9000\nach_parked_max = 1",
         "loading_places.van_shut_dark.ach_parked_min"),
        ("[loading_places.van_shut_dark]\nua_parked_w_k = 0", "loading_places.van_shut_dark.ua_parked_w_k"),
        ("box_types = 3", "box_types"),
        ("[box_types]\ndadant_pine = 3", "box_types.dadant_pine"),
    ],
)  # fmt: skip
def test_what_does_not_hold_together_is_named(tmp_path: Path, text: str, field: str) -> None:
    assert field in faults_of(write(tmp_path / "own.toml", text))


ENCLOSED = "[loading_places.van_shut_dark]\n"


@pytest.mark.parametrize(
    ("good", "bad", "field"),
    [
        ("leak_l_s = [1, 1, 3]", "leak_l_s = [0.9, 1, 3]", "leak_l_s"),
        ("leak_l_s = [3, 1, 3]", "leak_l_s = [3.1, 1, 3]", "leak_l_s"),
        (
            "inside_height_m = 0.3\nvent_height_m = 0.3",
            "inside_height_m = 0.3\nvent_height_m = 0.31",
            "vent_height_m",
        ),
    ],
)
def test_a_box_holds_together_up_to_its_bounds(tmp_path: Path, good: str, bad: str, field: str) -> None:
    row = "[box_types.dadant_pine]\n"
    load_catalogue(write(tmp_path / "good.toml", row + good))
    assert list(faults_of(write(tmp_path / "bad.toml", row + bad))) == [f"box_types.dadant_pine.{field}"]


@pytest.mark.parametrize(
    ("good", "bad", "field"),
    [
        (
            "ach_parked_min = 5\nach_parked_max = 5",
            "ach_parked_min = 5.1\nach_parked_max = 5",
            "ach_parked_min",
        ),
        (
            "ach_moving_min = 5\nach_moving_max = 5",
            "ach_moving_min = 5.1\nach_moving_max = 5",
            "ach_moving_min",
        ),
        ("ua_parked_w_k = 0.1", "ua_parked_w_k = 0", "ua_parked_w_k"),
        ("ua_moving_w_k = 0.1", "ua_moving_w_k = 0", "ua_parked_w_k"),
        ("volume_m3 = 0\nua_moving_w_k = 0", "volume_m3 = 0.1\nua_moving_w_k = 0", "ua_parked_w_k"),
    ],
)
def test_a_place_holds_together_up_to_its_bounds(tmp_path: Path, good: str, bad: str, field: str) -> None:
    load_catalogue(write(tmp_path / "good.toml", ENCLOSED + good))
    found = faults_of(write(tmp_path / "bad.toml", ENCLOSED + bad))
    assert list(found) == [f"loading_places.van_shut_dark.{field}"]


def test_an_open_place_needs_no_skin_and_no_bounds(tmp_path: Path) -> None:
    row = '[loading_places.cart]\ntitle = "Cart"\nvehicle = "trailer"\n'
    load_catalogue(write(tmp_path / "cart.toml", row + "ach_parked_min = 10000"))
    load_catalogue(write(tmp_path / "cart.toml", row + "ach_parked_max = 0"))
    for skin in ("", "ua_parked_w_k = 5", "ua_moving_w_k = 5"):
        found = faults_of(write(tmp_path / "cart.toml", f"{row}volume_m3 = 1\n{skin}"))
        assert list(found) == ["loading_places.cart.ua_parked_w_k"]


@pytest.mark.parametrize(
    ("row", "field"),
    [
        ("value = 1\nlow = 1\nhigh = 1", ""),
        ("value = 1\nlow = 1.1\nhigh = 2", "value"),
        ("value = 2.1\nlow = 1\nhigh = 2", "value"),
        ("value = 1\nlow = 0.1\nhigh = 2\nlog = true", ""),
        ("value = 1\nlow = 0\nhigh = 2\nlog = true", "low"),
        ("value = 1\nlow = 0\nhigh = 2\nlog = false", ""),
    ],
)
def test_a_parameter_lies_in_its_range(tmp_path: Path, row: str, field: str) -> None:
    own = write(tmp_path / "own.toml", f"[parameters.fan_start_c]\n{row}")
    if field:
        assert list(faults_of(own)) == [f"parameters.fan_start_c.{field}"]
    else:
        assert load_catalogue(own).parameters.rows["fan_start_c"].value == 1.0


def test_figures_are_floats_lists_are_tuples_and_effort_is_a_count(tmp_path: Path) -> None:
    own = write(
        tmp_path / "own.toml",
        "[loading_places.open_trailer]\neffort = 2\ncapacity_boxes = 12\nsun_lid_only = true\nneighbour_w_k = [1, 2]\n",
    )
    place = load_catalogue(own).loading_places["open_trailer"]
    assert (place.effort, place.capacity_boxes, place.sun_lid_only) == (2, 12.0, True)
    assert isinstance(place.effort, int)
    assert isinstance(place.capacity_boxes, float)
    assert place.neighbour_w_k == (1.0, 2.0)
    assert all(isinstance(figure, float) for figure in place.neighbour_w_k)
    assert isinstance(load_catalogue().box_types["dadant_pine"].walls[0], tuple)


def test_what_a_users_file_adds_comes_last_and_what_it_lays_over_stays_in_place(tmp_path: Path) -> None:
    before = list(load_catalogue().loading_places)
    own = write(
        tmp_path / "own.toml",
        '[loading_places.cart]\ntitle = "Cart"\nvehicle = "trailer"\n'
        "[loading_places.open_trailer]\nspeed_factor = 0.5\n",
    )
    after = load_catalogue(own)
    assert list(after.loading_places) == [*before, "cart"]
    assert after.loading_places["open_trailer"].speed_factor == 0.5
    assert "ground" not in after.driven
    assert set(load_catalogue().loading_places_of("ground")) == {"ground_shade", "ground_sun"}


def test_a_fault_names_its_file(tmp_path: Path) -> None:
    with pytest.raises(InputError) as caught:
        load_catalogue(write(tmp_path / "own.toml", "box_types = 3"))
    assert caught.value.where == "own.toml"


def _bounded() -> list[tuple[str, str]]:
    schema = json.loads(resource_path("catalogue.schema.json").read_text("utf-8"))
    return [
        (table, name)
        for table, rules in schema["$defs"].items()
        for name, rule in rules["properties"].items()
        if rule["type"] == "number" and table != "parameter"
    ]


@pytest.mark.parametrize(("table", "name"), _bounded())
def test_every_figure_of_a_row_is_bounded_below_and_above(table: str, name: str) -> None:
    schema = json.loads(resource_path("catalogue.schema.json").read_text("utf-8"))
    rule = schema["$defs"][table]["properties"][name]
    assert "maximum" in rule
    assert "minimum" in rule or "exclusiveMinimum" in rule


def test_the_published_schemas_describe_every_property() -> None:
    for name in ("catalogue.schema.json", "trip.schema.json"):
        for path, described in _properties(json.loads(resource_path(name).read_text("utf-8"))):
            assert described.get("description"), (name, path)
            assert described.get("x-remedy"), (name, path)


def _properties(node: object, path: str = "") -> list[tuple[str, dict[str, object]]]:
    found: list[tuple[str, dict[str, object]]] = []
    if isinstance(node, dict):
        properties = node.get("properties")
        if isinstance(properties, dict):
            found += [(f"{path}.{key}", inner) for key, inner in properties.items()]
            assert node.get("additionalProperties") is False, path
        for key, inner in node.items():
            found += _properties(inner, f"{path}.{key}")
    if isinstance(node, list):
        for inner in node:
            found += _properties(inner, path)
    return found


def test_a_catalogue_can_be_sent_to_another_process() -> None:
    found = load_catalogue()
    sent = pickle.loads(pickle.dumps(found))
    assert sent.box_types == found.box_types
    assert sent.parameters == found.parameters
    assert list(sent.loading_places) == list(found.loading_places)
