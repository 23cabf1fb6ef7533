"""Plans as documents and tables, value by value: rounding, None for what is unknown, the worst of several boxes."""

from __future__ import annotations

import csv
import io
from typing import Any

import numpy as np
import pytest
from planner.app.plan.documents import as_csv, as_document, as_html, candidate, table

from planner.app.common.timetext import utc_text
from planner.app.common.wording import clock_text, duration_text, local, numbers
from planner.app.plan.plan import curves
from planner.app.plan.results import CAUTION, HARM, UNKNOWN, Choice, Headroom, Plan
from planner.app.plan.words import answer
from planner.model.preparations import AS_DECLARED, ROOF_SCREEN
from planner.units import US
from tests.app.handmade import made_plan
from tests.model.scenarios import HOUR_S, NUC, SPRING, catalogue, replace, road, steady, trip

LEAVE_S = SPRING + 34.0 * HOUR_S  # Tuesday 30 March, 10:00 UTC, 12:00 in Rome and Zurich
ONLY = Choice(0, 0, 0)


def by_agitation(calm: float, typical: float, agitated: float) -> np.ndarray:
    return np.array([calm, typical, agitated])[:, None]


def plan_of(**more: Any) -> Plan:
    """Two groups; an hour and a half of driving, half an hour to load and to open."""
    asked = trip(
        (NUC, replace(NUC, label="more", count=2)), more.pop("places", "open_trailer"), leave_s=LEAVE_S
    )
    setups = more.pop("setups", (AS_DECLARED, ROOF_SCREEN))
    return made_plan(asked, road(1.5), setups=setups, **more)


def test_a_candidate_as_plain_values() -> None:
    verdict = np.zeros((3, 2, 5))
    verdict[1, 0, 1] = CAUTION  # queen of the first group, typical bees
    verdict[2, 1, 3] = HARM  # comb of the second, agitated bees
    found = plan_of(
        verdict=verdict,
        peak_core_c=by_agitation(33.0, 35.55557, 40.0) - np.array([0.0, 1.0]),
        peak_stores_c=np.array([30.0, 31.5]),
        low_core_c=np.array([25.0, 24.12347]),
        headroom_k=by_agitation(4.0, 2.0, -1.0) + np.array([0.5, 0.0]),
        water_ml=np.array([12.0, 40.0]),
        water_short_ml=np.array([3.0, 1.0]),
        peak_co2_share=np.array([0.004, 0.012345]),
        dead_share=np.array([0.03, 0.01]),
    )
    assert candidate(found, ONLY) == {
        "departure": "2027-03-30T10:00:00Z",
        "arrival": "2027-03-30T11:30:00Z",
        "closed": "2027-03-30T09:30:00Z",
        "opened": "2027-03-30T12:00:00Z",
        "place": "open_trailer",
        "setup": "as_declared",
        "level": "caution",
        "level_disturbed": "harm",
        "brood": "clear",
        "queen": "caution",
        "workers": "clear",
        "comb": "clear",
        "chill": "clear",
        "peak_core_c": 35.5556,
        "peak_core_calm_c": 33.0,
        "peak_core_disturbed_c": 40.0,
        "peak_stores_c": 31.5,
        "low_core_c": 24.1235,
        "headroom_k": 2.0,
        "headroom_hotter_k": 2.0,
        "headroom_colder_k": 20.0,
        "headroom_exact": False,
        "margin_k": 2.0,
        "margin_disturbed_k": -1.0,
        "dead_share": 0.03,
        "water_ml_per_box": 40.0,
        "water_short_ml_per_box": 3.0,
        "peak_co2_share": 0.0123,
        "closed_by_day": False,
        "fits": True,
    }


def test_what_is_not_known_is_null_and_never_a_number() -> None:
    """Stores of one group unknown: the other's; of both: null. Closing by day is told."""
    half = plan_of(peak_stores_c=np.array([np.nan, 31.0]), peak_core_c=np.nan, headroom_k=np.nan)
    row = candidate(replace(half, closed_by_day=np.array([True])), ONLY)
    assert row["peak_stores_c"] == 31.0
    assert row["peak_core_c"] is row["headroom_k"] is row["margin_k"] is None
    assert row["closed_by_day"] is True
    assert candidate(plan_of(peak_stores_c=np.nan), ONLY)["peak_stores_c"] is None


def test_the_table_for_machines_has_empty_cells_for_what_is_unknown() -> None:
    found = plan_of(peak_stores_c=np.nan)
    rows = list(csv.DictReader(io.StringIO(as_csv(found))))
    assert [row["setup"] for row in rows] == ["as_declared", "roof_screen"]
    assert rows[0]["peak_stores_c"] == ""
    assert rows[0]["peak_core_c"] == "35.0"
    assert list(rows[0]) == list(candidate(found, ONLY))


def test_the_document_names_road_and_weather() -> None:
    found = plan_of(notes=("a note",))
    document = as_document(found, answer(found, catalogue()))
    assert document["skepway_plan"] == 1
    assert document["road"] == {"source": "invented", "km": 120.0, "driving_s": 5400.0, "estimated": False}
    assert document["weather"] == {"source": "invented", "kind": "invented", "attribution": ""}
    assert document["notes"] == ["a note"]
    assert len(document["candidates"]) == 2


def test_a_row_for_people() -> None:
    verdict = np.zeros((3, 2, 5))
    verdict[1, 1, 0] = CAUTION
    verdict[1, 0, 4] = HARM
    found = plan_of(verdict=verdict, peak_core_c=by_agitation(33.0, 35.0, 38.0), headroom_k=1.26)
    (row,) = table(found, rows=1)
    assert row["leave"] == "Tuesday 12:00"
    assert row["arrive"] == "Tuesday 13:30"
    assert row["peak"] == "35.0 (33.0-38.0)"
    assert (row["headroom"], row["level"]) == ("about 1.3 °C", "harm")
    assert row["verdicts"] == "brood caution, chill harm"
    (us,) = table(found, US, rows=1)
    assert us["peak"] == "95.0 (91.4-100.4)"
    assert us["headroom"] == "about 2.3 °F"
    tried = replace(found, tried={ONLY: Headroom(1.26, 9.0, exact=True)})
    assert table(tried, rows=1)[0]["headroom"] == "1.3 °C"


def test_rows_are_the_best_ones_and_unknown_where_the_weather_is() -> None:
    found = plan_of(peak_core_c=np.nan, headroom_k=np.nan, verdict=UNKNOWN)
    rows = table(found)
    assert len(rows) == 2
    assert [rows[0][key] for key in ("peak", "headroom", "verdicts", "level")] == ["unknown"] * 4
    many = replace(found, ranking=found.ranking * 10)
    assert len(table(many)) == 12
    assert table(plan_of(), rows=1)[0]["verdicts"].startswith("all")


def test_the_page_counts_the_boxes_and_tells_the_road() -> None:
    """One nuc and two more; 120 km, 75 miles."""
    asked = trip((NUC, replace(NUC, label="more", count=2)), "open_trailer", leave_s=LEAVE_S)
    found = made_plan(asked, road(1.5), steady(15.0))
    drawn = curves(found, ONLY, catalogue())
    page = as_html(found, answer(found, catalogue()), drawn)
    assert "120 km, 1 h 30 min" in page
    assert "3 boxes" in page
    assert "75 mi" in as_html(found, answer(found, catalogue(), US), drawn, US)


# -- instants, spans and arrays as text --------------------------------------------------------------


def test_instants_are_written_in_utc_or_on_the_local_clock() -> None:
    assert utc_text(LEAVE_S + 5.0) == "2027-03-30T10:00:05Z"
    assert clock_text(LEAVE_S, "Europe/Rome") == "Tuesday 12:00"
    assert clock_text(LEAVE_S, "America/New_York") == "Tuesday 06:00"
    assert local(LEAVE_S, "Asia/Kolkata").isoformat() == "2027-03-30T15:30:00+05:30"


@pytest.mark.parametrize(
    ("seconds", "text"),
    [
        (0.0, "0 min"),
        (89.0, "1 min"),
        (91.0, "2 min"),
        (3569.0, "59 min"),
        (3571.0, "1 h"),
        (3660.0, "1 h 01 min"),
    ],
)
def test_spans_are_rounded_to_the_minute(seconds: float, text: str) -> None:
    assert duration_text(seconds) == text


def test_arrays_are_nested_lists_with_none_for_what_has_no_value() -> None:
    found = numbers(np.array([[1.23456, np.nan], [np.inf, -2.0]]))
    assert found == [[1.2346, None], [None, -2.0]]
    assert numbers(np.array(0.00004)) == 0.0
