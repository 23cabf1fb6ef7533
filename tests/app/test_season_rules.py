"""The season chart, cell by cell: which week a day falls in, what counts as safe, what is said and drawn of it."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import numpy as np
import pytest

from planner.app.answer.records import Tolerance
from planner.app.common.chart import Chart, Key, Ramp, Tile
from planner.app.common.scale import SAFE_SHARE, STEPS
from planner.app.common.svg import PAPER
from planner.app.season.chart import (
    HOURS,
    WEEKS,
    Lane,
    Season,
    _cells,
    _chart,
    _cut,
    _days,
    _piece,
    _weeks,
    season_folder,
    worked_out,
)
from planner.app.season.pictures import season_chart, season_svg
from planner.app.season.words import season_document, season_words, weather_text, week_text
from planner.errors import InputError
from planner.model.preparations import ROOF_SCREEN
from planner.model.records import Arrival, Weather
from tests.app.years import season_weather
from tests.model.scenarios import HOUR_S, NUC, at, catalogue, replace, road, trip

PLACE = "open_trailer"


def lane(**more: Any) -> Lane:
    return Lane(trip(NUC, PLACE, **more), road(1.5), PLACE)


def chart(**tables: Any) -> Season:
    """A chart of seven departures known in every hour of weeks 21 to 24 and none elsewhere, safe on all."""
    days = np.zeros((WEEKS, HOURS), dtype=np.int64)
    days[21:25] = 7
    known = np.where(days > 0, 1.0, np.nan)
    usual = {"days": days, "safe_share": known, "robust_share": 0.5 * known, "peak_c": 35.0 * known}
    usual["boxes_share"] = 1.0 - (usual | tables)["safe_share"]
    return Season(lane(), "made up", date(2026, 5, 28), date(2026, 6, 24), **(usual | tables), reused=0)


# -- weeks and hours -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("month", "day", "hour", "cell"),
    [
        (1, 1, 0, 0),
        (1, 1, 23, 23),
        (1, 7, 5, 5),
        (1, 8, 0, HOURS),
        (12, 30, 1, 51 * HOURS + 1),
        (12, 31, 1, 52 * HOURS + 1),
    ],
)
def test_weeks_begin_on_the_first_of_january(month: int, day: int, hour: float, cell: int) -> None:
    """By the clock of the lane, an hour before Greenwich's in winter: the 365th day is the first of the 53rd week."""
    assert _cells(np.array([at(2026, month, day, hour - 1)]), "Europe/Rome").tolist() == [cell]


def test_hours_are_those_of_the_local_clock_in_summer_too() -> None:
    assert _cells(np.array([at(2026, 7, 1, 10)]), "Europe/Rome").tolist() == [25 * HOURS + 12]


def test_the_first_and_last_days_of_the_weather_are_left_out() -> None:
    """From midnight in Rome on 1 June to that on 6 June: 2 to 5 June have the days around them."""
    sky = season_weather(at(2026, 6, 1) - 2 * HOUR_S, 5)
    assert _days(sky, "Europe/Rome") == (date(2026, 6, 2), date(2026, 6, 5))
    with pytest.raises(InputError, match="too short"):
        _days(season_weather(at(2026, 6, 1) - 2 * HOUR_S, 1), "Europe/Rome")


def test_a_typical_year_is_its_nominal_year() -> None:
    """Hours joined on at both ends are for closing before and arriving after."""
    sky = replace(season_weather(at(2025, 12, 28), 375), kind="typical")
    assert _days(sky, "Europe/Rome") == (date(2026, 1, 1), date(2026, 12, 31))
    short = replace(season_weather(at(2026, 3, 1), 60), kind="typical")
    assert _days(short, "Europe/Rome") == (date(2026, 3, 2), date(2026, 4, 29))


def test_work_is_cut_into_weeks_and_a_rest() -> None:
    weeks = list(_weeks(date(2026, 5, 28), date(2026, 6, 12)))
    assert weeks == [
        ("2026-05-28", date(2026, 5, 28), 7),
        ("2026-06-04", date(2026, 6, 4), 7),
        ("2026-06-11", date(2026, 6, 11), 2),
    ]
    assert list(_weeks(date(2026, 6, 12), date(2026, 6, 12))) == [("2026-06-12", date(2026, 6, 12), 1)]


def piece(**more: Any) -> Any:
    sky = season_weather(at(2026, 5, 20), 30)
    return _piece("k", lane(**more), sky, catalogue(), date(2026, 6, 1), 2)


def test_every_hour_of_the_days_is_a_departure() -> None:
    """Two days from midnight in Rome: the last wheels turn at 23:00."""
    window = piece().trip.window
    assert (window.first_s, window.last_s) == (at(2026, 6, 1, -2), at(2026, 6, 2, 21))
    assert window.step_s == HOUR_S


def test_wishes_for_the_arrival_do_not_count_in_a_season() -> None:
    found = piece(arrival=Arrival(before_light=True))
    assert not found.trip.arrival.before_light
    assert found.trip.loading_places == (PLACE,)
    assert found.setup == "as_declared"


def test_a_piece_brings_the_weather_of_two_days_around_and_of_the_drive() -> None:
    """48 hours before, 48 after, the drive twice as long as the road says, and an hour at each end."""
    found = piece(drive_time_factor=2.0)
    assert found.weather.time_s[0] == at(2026, 6, 1, -2 - 48 - 1)
    assert found.weather.time_s[-1] == at(2026, 6, 3, -2 + 48 + 3 + 1)


def test_cut_weather_keeps_its_points_whole() -> None:
    sky = season_weather(at(2026, 6, 1), 2)
    cut = _cut(sky, at(2026, 6, 1, 5), at(2026, 6, 1, 8))
    assert cut.time_s.tolist() == [at(2026, 6, 1, hour) for hour in range(4, 10)]
    assert cut.air_c.shape == (6, 1)
    assert np.array_equal(cut.air_c, sky.air_c[4:10])
    assert np.array_equal(cut.km, sky.km)
    assert cut.source == sky.source


def test_as_many_points_as_hours_are_not_mistaken_for_hours() -> None:
    sky = season_weather(at(2026, 6, 1), 1)
    points = {name: np.arange(25.0) for name in ("km", "lat_deg", "lon_deg", "elevation_m")}
    cut = _cut(replace(sky, **points), at(2026, 6, 1, 5), at(2026, 6, 1, 8))
    assert cut.km.size == cut.elevation_m.size == 25


def test_a_week_worked_out_is_the_plans_of_its_hours() -> None:
    found = worked_out(
        _piece("k", lane(), season_weather(at(2026, 5, 28), 8), catalogue(), date(2026, 6, 1), 1)
    )
    assert found["departure_s"].size == 24
    assert {name: values.shape for name, values in found.items()} == dict.fromkeys(
        ("departure_s", "harm_share", "boxes_share", "peak_c"), (24,)
    )
    assert ((found["harm_share"] >= 0.0) & (found["harm_share"] <= 1.0)).all()
    assert found["peak_c"].max() > 30.0


# -- shares ------------------------------------------------------------------------------------------


def test_shares_count_known_days_without_harm() -> None:
    """Five departures at one hour of one week, harmed in none, none, all, nobody knows, half of their variants.

    Four known: 2.5 of them without harm, two of them without any; the peak is the mean of the known.
    """
    departure_s = at(2026, 6, 4, 10) + 86_400.0 * np.arange(5)
    made = {
        "departure_s": departure_s,
        "harm_share": np.array([0.0, 0.0, 1.0, np.nan, 0.5]),
        "boxes_share": np.array([0.0, 0.0, 0.5, np.nan, 0.25]),
        "peak_c": np.array([34.0, 36.0, 41.0, np.nan, 35.0]),
    }
    sky = season_weather(at(2026, 6, 1), 3)
    found = _chart(lane(), sky, date(2026, 6, 4), date(2026, 6, 8), [made], 2)
    week, hour = 22, 12
    assert found.days.sum() == found.days[week, hour] == 4
    assert found.safe_share[week, hour] == 2.5 / 4
    assert found.robust_share[week, hour] == 0.5
    assert found.boxes_share[week, hour] == 0.75 / 4
    assert found.peak_c[week, hour] == pytest.approx(36.5)
    assert np.isnan(found.safe_share[week, hour + 1])
    assert (found.reused, found.source) == (2, sky.source)


def test_pieces_are_put_together() -> None:
    made = [
        {
            "departure_s": np.array([at(2026, 6, day, 10)]),
            "harm_share": np.array([harm]),
            "boxes_share": np.array([harm]),
            "peak_c": np.array([30.0]),
        }
        for day, harm in ((4, 0.25), (5, 0.75))
    ]
    found = _chart(lane(), season_weather(at(2026, 6, 1), 3), date(2026, 6, 4), date(2026, 6, 5), made, 0)
    assert found.days[22, 12] == 2
    assert found.safe_share[22, 12] == 0.5
    assert found.robust_share[22, 12] == 0.0


def test_safe_hours_are_those_within_what_is_accepted_as_an_answer_decides() -> None:
    """Of 7 days in 16 variants 1 of 112 may be 4 of 100, 2 of them 5.5: the interval decides; few days tell less."""
    share = np.where(chart().days > 0, 1.0, np.nan)
    share[22, 3], share[22, 4], share[23] = 111 / 112, 110 / 112, 0.0
    hours = dict(chart(safe_share=share).safe_hours())
    assert sorted(hours) == [21, 22, 23, 24]
    assert hours[22] == [hour for hour in range(24) if hour != 4]
    assert hours[23] == []
    much = Tolerance(6.0, 6.0)
    assert dict(chart(safe_share=share, tolerance=much).safe_hours())[22] == list(range(24))
    nothing = Tolerance(2.0, 2.0)
    assert not chart(tolerance=nothing).within.any(), "112 variants without harm cannot show it"
    boxes = np.where(chart().days > 0, 0.0, np.nan)
    assert dict(chart(safe_share=share, boxes_share=boxes).safe_hours())[22] == list(range(24))


def test_how_much_weather_is_told_in_whole_years_or_in_days() -> None:
    """Found in use: "1.0 years"."""

    def told(days: int) -> str:
        return weather_text(replace(chart(), last_day=date(2026, 5, 28) + timedelta(days=days - 1)))

    assert [told(days) for days in (1, 28, 362, 363, 365, 730, 3652)] == [
        "one day of weather",
        "28 days of weather",
        "362 days of weather",
        "one year of weather",
        "one year of weather",
        "2 years of weather",
        "10 years of weather",
    ]


def test_the_title_says_what_the_chart_rests_on() -> None:
    title = season_chart(chart()).title
    assert "28 days of weather, 112 variants" in title
    assert "made up" in title


def test_other_inputs_have_another_folder_but_not_another_window(tmp_path: Path) -> None:
    sky: Weather = season_weather(at(2026, 6, 1), 3)
    mine = season_folder(tmp_path, lane(), sky, catalogue())
    assert mine.parent == tmp_path
    assert len(mine.name) == 16
    assert season_folder(tmp_path, lane(leave_s=at(2026, 1, 1)), sky, catalogue()) == mine
    assert season_folder(tmp_path, lane(arrival=Arrival(before_light=True)), sky, catalogue()) == mine
    others = [
        (lane(net=True), sky),
        (replace(lane(), setup=ROOF_SCREEN), sky),
        (replace(lane(), place="pickup_bed"), sky),
        (lane(), season_weather(at(2026, 6, 1), 3, warmer_k=0.01)),
    ]
    folders = {season_folder(tmp_path, each, weather, catalogue()) for each, weather in others}
    assert len(folders | {mine}) == 5


# -- words -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("week", "day", "text"),
    [(0, 0, "1 Jan"), (0, 6, "7 Jan"), (22, 0, "4 Jun"), (52, 0, "31 Dec"), (52, 6, "31 Dec")],
)
def test_a_week_is_named_by_its_day(week: int, day: int, text: str) -> None:
    """The last week has one day."""
    assert week_text(chart(), week, day) == text


def test_the_headline_counts_weeks_safe_always_sometimes_and_never() -> None:
    """Four weeks known: one safe at every hour, two at some (28 May to 10 June), one at none."""
    share = np.where(chart().days > 0, 1.0, np.nan)
    share[21, :12], share[22, 0], share[23] = 0.0, 0.5, 0.9
    said = season_words(chart(safe_share=share), catalogue())
    assert all(
        text in said.headline
        for text in (
            "Old Yard",
            "New Yard",
            "harm in 10 of 100 variants and to 5 of 100 boxes",
            "1 of 4",
            "28 May",
            "10 Jun",
            "11 Jun",
            "17 Jun",
        )
    )
    assert "harm in 10 of 100 variants and to 5 of 100 boxes" in said.headline
    whole = season_words(chart(), catalogue()).headline
    assert "4 of 4" in whole
    assert "28 May" not in whole


def test_the_table_gives_tenths_of_the_days() -> None:
    share = np.where(chart().days > 0, 1.0, np.nan)
    share[22, :4] = [0.0, 0.19, 0.999, np.nan]
    (_, table), (_, how), _ = season_words(chart(safe_share=share), catalogue()).sections
    assert len(table) == 1 + 4
    assert table[0].split()[-24:] == [str(hour) for hour in range(24)]
    cells = table[2].split()
    assert cells[:2] == ["4", "Jun"]
    assert cells[2:] == ["0", "1", "9", "."] + ["X"] * 20
    assert len({len(line) for line in table}) == 1
    assert any("672" in line for line in how)  # 4 weeks of 7 days of 24 hours
    assert any("1 h 30 min" in line for line in how)
    assert any("of 28 days of weather" in line for line in how)


def test_the_drive_is_told_as_long_as_it_takes() -> None:
    slow = replace(chart(), lane=lane(drive_time_factor=2.0), last_day=date(2028, 5, 28))
    lines = season_words(slow, catalogue()).sections[1][1]
    assert any("3 h" in line for line in lines)
    assert any("of 2 years of weather" in line for line in lines)


def test_the_document_has_null_for_what_is_unknown() -> None:
    document = season_document(chart())
    assert document["safe_share"][21][0] == 1.0
    assert document["robust_share"][21][0] == 0.5
    assert document["mean_peak_core_c"][24][23] == 35.0
    assert document["safe_share"][20][0] is None
    assert document["days"][21][0] == 7
    assert document["within"][21][0] is True
    assert document["within"][20][0] is False
    assert document["tolerance"] == {"harm_of_100": 10.0, "boxes_of_100": 5.0, "from": "default"}
    assert (document["first_day"], document["last_day"]) == ("2026-05-28", "2026-06-24")
    assert (document["place"], document["setup"], document["source"]) == (PLACE, "as_declared", "made up")
    assert (document["origin"], document["destination"]) == ("Old Yard", "New Yard")


# -- the picture -------------------------------------------------------------------------------------


def tiles(shown: Chart) -> dict[tuple[float, float], Tile]:
    """The cells of known weeks by their week and hour."""
    cells = [mark for mark in shown.marks if isinstance(mark, Tile) and not mark.hatched]
    assert all((cell.right - cell.left, cell.high - cell.low, cell.gap) == (1, 1, 1.0) for cell in cells)
    return {(cell.left, cell.low): cell for cell in cells}


def test_spots_mark_what_is_accepted_and_rings_where_no_variant_is_harmed() -> None:
    """And a ring never stands where too few days are known to tell; the key shows one of each on their colour."""
    share = np.where(chart().days > 0, 0.9, np.nan)
    robust = np.where(chart().days > 0, 0.94, np.nan)
    share[22, 3:6], robust[22, 5] = [111 / 112, 111 / 112, 1.0], 1.0
    days = chart().days.copy()
    days[22, 6], share[22, 6], robust[22, 6] = 1, 1.0, 1.0
    shown = season_chart(chart(days=days, safe_share=share, robust_share=robust))
    signs = {at: cell.sign for at, cell in tiles(shown).items() if cell.sign}
    assert signs == {(22, 3): "spot", (22, 4): "spot", (22, 5): "ring"}
    ramp, *keys = shown.legend
    assert isinstance(ramp, Ramp)
    assert (ramp.scale, ramp.texts) == (SAFE_SHARE, ("0 %", "50 %", "100 %"))
    assert [(key.sign, key.fill) for key in keys if isinstance(key, Key)] == [
        ("spot", 0),
        ("ring", 0),
        ("", "unknown"),
    ]


def test_weeks_run_across_and_hours_down() -> None:
    """Hours are named every three, in the middle of their cells; months in their middles, counted in weeks."""
    shown = season_chart(chart())
    assert (shown.x.low, shown.x.high, shown.y.low, shown.y.high) == (0.0, 53.0, 24.0, 0.0)
    (hours,), (months,) = shown.y.rows, shown.x.rows
    assert [(tick.at, tick.text) for tick in hours] == [(h + 0.5, f"{h:02d}:00") for h in range(0, 24, 3)]
    assert [tick.text for tick in months][::11] == ["Jan", "Dec"]
    assert [tick.at for tick in months][:2] == pytest.approx([31 / 14, (31 + 59) / 14])
    assert months[11].at == pytest.approx((334 + 365) / 14)


def test_cells_are_the_deeper_the_fewer_variants_are_safe() -> None:
    """Of all variants, or of days on which none is harmed when asked; only known weeks have cells."""
    share = np.where(chart().days > 0, 1.0, np.nan)
    share[22, 3], share[22, 4] = 0.5, 0.0
    found = chart(safe_share=share)
    usual, agitated = season_chart(found), season_chart(found, agitated=True)
    cells = tiles(usual)
    assert set(cells) == {(week, hour) for week in range(21, 25) for hour in range(HOURS)}
    assert [cells[22, hour].fill for hour in (2, 3, 4)] == [0, STEPS // 2, STEPS - 1]
    assert {cell.fill for cell in tiles(agitated).values()} == {STEPS // 2}
    assert "variants without harm" in usual.title
    assert "days without any harm" in agitated.title


def test_an_hour_unknown_in_a_known_week_is_left_free() -> None:
    days = chart().days.copy()
    days[22, 3] = 0
    assert (22, 3) not in tiles(season_chart(chart(days=days)))


@pytest.mark.parametrize(
    ("known", "fields"),
    [
        (range(21, 25), [(0, 21), (25, 53)]),
        (range(WEEKS), []),
        ((), [(0, 53)]),
        ((0, 52), [(1, 52)]),
        ((5, 7), [(0, 5), (6, 7), (8, 53)]),
    ],
)
def test_every_run_of_unknown_weeks_is_one_hatched_field(known: Any, fields: list[tuple[int, int]]) -> None:
    days = np.zeros((WEEKS, HOURS), dtype=np.int64)
    days[list(known), 12] = 1
    shown = season_chart(chart(days=days, safe_share=np.ones_like(days), robust_share=np.ones_like(days)))
    hatched = [mark for mark in shown.marks if isinstance(mark, Tile) and mark.hatched]
    assert [(one.left, one.right) for one in hatched] == fields
    assert {(one.low, one.high, one.fill, one.opacity) for one in hatched} <= {(0, HOURS, "unknown", 0.35)}


def test_the_chart_on_paper_has_a_rectangle_for_every_cell() -> None:
    """Besides the paper, the fields of unknown weeks, the steps of the scale and the grounds of three keys."""
    picture = ElementTree.fromstring(season_svg(chart()))
    filled = [e.get("fill") for e in picture.iter() if e.tag.endswith("rect")]
    assert len(filled) == 1 + 2 + 4 * HOURS + STEPS + 3
    assert filled.count(PAPER["unknown"]) == 2 + 1
    assert (picture.get("width"), picture.get("height")) == ("960", "470")
