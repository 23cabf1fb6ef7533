"""Places offered while a name is typed: the near namesake first, points named after a town."""

from __future__ import annotations

from planner.app.asking.place_names import OFFERED, nearest_town, suggest
from planner.model.records import Site

LINCOLN = (53.23, -0.54)


def test_the_larger_namesake_comes_first_while_nothing_is_near() -> None:
    first = suggest("Boston")[0]
    assert (round(first.site.lat_deg), round(first.site.lon_deg)) == (42, -71), "Massachusetts"


def test_a_namesake_within_a_drive_comes_before_a_larger_one_across_the_sea() -> None:
    offered = suggest("Boston", near=[LINCOLN])
    assert (round(offered[0].site.lat_deg), round(offered[0].site.lon_deg)) == (53, 0), "Lincolnshire"
    assert len(offered) <= OFFERED


def test_coordinates_are_offered_as_they_are_however_far_away() -> None:
    (point,) = suggest("-33.9, 151.2", near=[LINCOLN])
    assert (point.origin, point.site.lat_deg, point.site.lon_deg) == ("coordinates", -33.9, 151.2)


def test_a_point_is_named_after_its_town_unless_none_is_near() -> None:
    assert nearest_town(Site("", 53.0, 0.0, "")) == "Boston"
    assert nearest_town(Site("", 40.0, -40.0, "")) == ""
