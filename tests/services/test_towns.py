"""The gazetteer's rules on a small one of invented towns."""

from __future__ import annotations

import io
import lzma
from collections.abc import Sequence

import numpy as np
import pytest

from planner.errors import InputError
from planner.model.records import Site
from planner.services.geocoding.coordinates import parse_coordinates
from planner.services.geocoding.gazetteer import LOOKED_AT, Gazetteer, folded
from planner.services.geocoding.saved import save_place
from planner.services.geocoding.search import suggestions

KM = 1.0 / 111.1951

Row = tuple[str, float, float, float, str, tuple[str, ...]]
"""Name, log2 of people, km north and east of 0, 0, region, other names."""


def _planes(values: Sequence[int]) -> np.ndarray:
    return np.array(values, dtype="<i4").view(np.uint8).reshape(-1, 4).T


def made(*rows: Row) -> Gazetteer:
    regions = sorted({row[4] for row in rows})
    packed = io.BytesIO()
    np.savez(
        packed,
        population_log2_8=np.array([round(8 * row[1]) for row in rows], dtype=np.uint8),
        names=np.frombuffer("\n".join(row[0] for row in rows).encode(), dtype=np.uint8),
        other_names=np.frombuffer("\n".join(n for row in rows for n in row[5]).encode(), dtype=np.uint8),
        other_counts=np.array([len(row[5]) for row in rows], dtype=np.uint8),
        lat_millideg=_planes([round(row[2] * KM * 1000) for row in rows]),
        lon_millideg=_planes([round(row[3] * KM * 1000) for row in rows]),
        region=_planes([regions.index(row[4]) for row in rows]),
        regions=np.array(regions),
        countries=np.array(["DE|Germany", "GB|United Kingdom"]),
    )
    return Gazetteer(lzma.compress(packed.getvalue()))


def town(
    name: str, log2: float, north: float = 0.0, east: float = 0.0, region: str = "DE.01|Baden", *others: str
) -> Row:
    return (name, log2, north, east, region, others)


BIG, SMALL = 16.0, 10.0
"""65 536 and 1024 people; from 50 000 on a town is one that others lie near."""


def test_a_town_is_read_with_all_it_has() -> None:
    (found,) = made(town("Neudorf", SMALL, 111.2, -55.6, "DE.01|Baden")).search("neudorf")
    assert (found.name, found.country, found.country_code, found.region) == (
        "Neudorf",
        "Germany",
        "DE",
        "Baden",
    )
    assert (found.lat_deg, found.lon_deg, found.people) == (pytest.approx(1.0), pytest.approx(-0.5), 1024)
    assert found.title == "Neudorf, Baden, Germany"


def test_a_country_without_a_name_is_told_by_its_code() -> None:
    (found,) = made(town("Neudorf", SMALL, 0, 0, "XX.01|")).search("neu")
    assert (found.title, found.country) == ("Neudorf, XX", "XX")


@pytest.mark.parametrize(
    ("log2", "north", "east", "near"),
    [
        (BIG, 59.0, 0.0, "Stadt"),
        (BIG, 61.0, 0.0, ""),
        (BIG, 45.0, 45.0, ""),
        (BIG, 0.0, -59.0, "Stadt"),
        (15.625, 1.0, 0.0, "Stadt"),
        (15.5, 1.0, 0.0, ""),
    ],
)
def test_a_village_lies_near_the_largest_town_within_60_km(
    log2: float, north: float, east: float, near: str
) -> None:
    """2^15.625 is 50 535 people, 2^15.5 is 46 341."""
    towns = made(town("Stadt", log2, north, east), town("Weiler", SMALL))
    assert towns.search("weiler")[0].near == near
    assert towns.search("stadt")[0].near == ""


def test_of_several_towns_about_the_largest_names_the_village() -> None:
    towns = made(town("Nah", BIG, 5.0), town("Weit", 20.0, 50.0), town("Weiler", SMALL))
    assert towns.search("weiler")[0].title == "Weiler, Baden, Germany, near Weit"


def names(towns: Gazetteer, typed: str, most: int = 10) -> list[str]:
    return [found.name for found in towns.search(typed, most)]


def test_just_the_name_comes_before_beginnings_and_those_before_later_words() -> None:
    towns = made(
        town("Bad Hall", 19.0),
        town("Halle", 18.0),
        town("Neu-Hall", 17.0),
        town("Hall", SMALL),
        town("Schall", 20.0),
    )
    assert names(towns, "hall") == ["Hall", "Halle", "Bad Hall", "Neu-Hall"]
    assert names(towns, "hall", 2) == ["Hall", "Halle"]
    assert names(towns, "HÁLL") == names(towns, "hall")


@pytest.mark.parametrize(("log2", "first"), [(12.0, "Wienheim"), (15.0, "Vienna")])
def test_a_name_in_another_language_counts_for_a_tenth_of_its_town(log2: float, first: str) -> None:
    """Wienheim has 2048 people: more than a tenth of 4096, less than a tenth of 32 768."""
    towns = made(town("Vienna", log2, 0, 0, "DE.01|Baden", "Wien", "Vienne"), town("Wienheim", 11.0))
    assert names(towns, "wien")[0] == first


def test_other_languages_are_searched_from_four_letters_on() -> None:
    towns = made(town("Vienna", 20.0, 0, 0, "DE.01|Baden", "Wien"), town("Graz", 18.0))
    assert names(towns, "wie") == []
    assert names(towns, "wien") == ["Vienna"]


def test_what_follows_a_comma_narrows_by_country_code_name_region_or_near_town() -> None:
    towns = made(
        town("Stadt", BIG, 5.0),
        town("Newton", 12.0, 0, 0, "DE.01|Baden"),
        town("Newton", 13.0, 500.0, 0, "GB.02|Kent"),
    )
    for where, region in (
        ("gb", "Kent"),
        ("united", "Kent"),
        ("kent", "Kent"),
        ("germ", "Baden"),
        ("stad", "Baden"),
    ):
        assert [found.region for found in towns.search(f"newton, {where}")] == [region]
    assert [found.region for found in towns.search("newton,")] == ["Kent", "Baden"]


def test_only_the_largest_namesakes_are_looked_through_for_a_country() -> None:
    """A bound on the work of a keystroke: 400 hits."""
    assert LOOKED_AT == 400
    rows = [town("Au", 12.0 + 0.125 * (index == 0)) for index in range(LOOKED_AT)]
    assert names(made(*rows[1:], town("Au", 11.0, 0, 0, "GB.02|Kent")), "au, kent") == ["Au"]
    assert names(made(*rows, town("Au", 11.0, 0, 0, "GB.02|Kent")), "au, kent") == []


def test_the_nearest_of_enough_people_is_found() -> None:
    towns = made(town("Stadt", BIG, 10.0), town("Weiler", SMALL, 1.0))
    assert [
        (found.name, round(km)) for found, km in (towns.nearest(0, 0), towns.nearest(0, 0, people=1025))
    ] == [
        ("Weiler", 1),
        ("Stadt", 10),
    ]
    assert towns.nearest(0, 0, people=1024)[0].name == "Weiler"
    assert towns.larger_than(1024)[0] == ["Stadt", "Weiler"]
    assert towns.larger_than(1025)[0] == ["Stadt"]
    assert len(towns) == 2


@pytest.mark.parametrize(
    ("text", "plain"),
    [
        ("Łódź", "lodz"),
        ("Großau", "grossau"),
        ("Ærø", "aero"),
        ("Þórð", "thord"),
        ("Iğdır", "igdir"),
        ("Œuf", "oeuf"),
    ],
)
def test_names_are_folded_to_what_a_plain_keyboard_types(text: str, plain: str) -> None:
    assert folded(text) == plain


# -- the search box ------------------------------------------------------------------------------

HOME = Site("Home yard", 48.31, 9.02, "Europe/Berlin")


def test_saved_places_are_offered_by_any_of_their_words_and_named_as_saved() -> None:
    assert suggestions("yar", [HOME])[0].title == "Home yard (saved)"
    assert [found.title for found in suggestions("ome", [HOME]) if found.origin == "saved"] == []
    assert [found for found in suggestions(" ", [HOME]) if found.origin == "saved"] == []


def test_coordinates_are_offered_with_four_decimals() -> None:
    (found,) = suggestions("48.20833 N, 16.37389 E")
    assert (found.title, found.site.name) == ("48.2083, 16.3739",) * 2


@pytest.mark.parametrize(
    ("lat", "lon", "fits"),
    [(90.0, 180.0, True), (-90.0, -180.0, True), (90.1, 0.0, False), (0.0, 180.1, False)],
)
def test_places_are_kept_up_to_the_poles_and_the_date_line(
    tmp_path: object, lat: float, lon: float, fits: bool
) -> None:
    path = tmp_path / "places.toml"  # type: ignore[operator]
    site = Site("End", lat, lon, "UTC")
    if fits:
        save_place(site, path)
        assert parse_coordinates(f"{lat}; {lon}") == (lat, lon)
    else:
        with pytest.raises(InputError, match="not on the earth"):
            save_place(site, path)
        with pytest.raises(InputError, match="does not exist"):
            parse_coordinates(f"{lat}; {lon}")


@pytest.mark.parametrize(
    ("text", "fits"), [("48°59'59\"N 16°0'0\"E", True), ("48°60'N 16°E", False), ("48°0'60\"N 16°E", False)]
)
def test_minutes_and_seconds_end_at_59(text: str, fits: bool) -> None:
    if fits:
        assert parse_coordinates(text) == (pytest.approx(48 + 59 / 60 + 59 / 3600), 16.0)
    else:
        with pytest.raises(InputError, match="end at 59"):
            parse_coordinates(text)
