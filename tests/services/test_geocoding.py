"""Places: coordinates in every notation, the bundled gazetteer, saved places, geocoders, time zones."""

from __future__ import annotations

import time
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.errors import InputError, ServiceError, StorageError
from planner.model.records import Site
from planner.services.geocoding.coordinates import looks_like_coordinates, parse_coordinates
from planner.services.geocoding.gazetteer import ATTRIBUTION, Gazetteer, folded, gazetteer
from planner.services.geocoding.geocode import geocode, geocoding_is_on
from planner.services.geocoding.saved import forget_place, save_place, saved_place, saved_places
from planner.services.geocoding.search import suggestions
from planner.services.http import Client, RefusedError
from planner.services.settings import Settings
from planner.zones import zone_at
from tests.services import standin
from tests.services.standin import StandIn

# -- coordinates ---------------------------------------------------------------------------------

VIENNA = (48.20833, 16.37389)


@pytest.mark.parametrize(
    "text",
    [
        "48.20833, 16.37389",
        "48.20833,16.37389",
        "48.20833 16.37389",
        "48.20833; 16.37389",
        "48,20833; 16,37389",
        "48,20833 16,37389",
        "48,20833, 16,37389",
        "+48.20833 +16.37389",
        "48.20833° 16.37389°",
        "48.20833°, 16.37389°",
        "48.20833 N, 16.37389 E",
        "48.20833N 16.37389E",
        "N48.20833 E16.37389",
        "N 48.20833° E 16.37389°",
        "16.37389 E, 48.20833 N",
        "48°12'30\"N 16°22'26\"E",
        "48° 12' 30\" N, 16° 22' 26\" E",
        "48°12′30″N 16°22′26″E",
        "48º 12' 30'' n 16º 22' 26'' e",
        "N48°12'30\" E16°22'26\"",
        "48 12 30 N 16 22 26 E",
        "48 12.5 N, 16 22.4333 E",
        "48°12.5' N 16°22.4333' E",
        "48°12,5'N; 16°22,4333'E",
        "48°12'30\", 16°22'26\"",
        "48°12'30\" 16°22'26\"",
        "48.20833 north 16.37389 east",
        "48 deg 12 min 30 sec N, 16 deg 22 min 26 sec E",
        "geo:48.20833,16.37389",
        "geo:48.20833,16.37389,183;crs=wgs84;u=40",
        "geo:48.20833,16.37389?z=12",
        "  48.20833 ,  16.37389  ",
    ],
)
def test_common_notations_mean_the_same_place(text: str) -> None:
    assert looks_like_coordinates(text)
    assert parse_coordinates(text) == (pytest.approx(VIENNA[0], abs=1e-4), pytest.approx(VIENNA[1], abs=1e-4))


@pytest.mark.parametrize(
    ("text", "lat", "lon"),
    [
        ("-33.8688, 151.2093", -33.8688, 151.2093),
        ("33.8688 S, 151.2093 E", -33.8688, 151.2093),
        ("40.7, -74.0", 40.7, -74.0),
        ("40.7,-74", 40.7, -74.0),
        ("40.7 N 74 W", 40.7, -74.0),
        ("40°42'N 74°0'W", 40.7, -74.0),
        ("\u221233.5 \u221270.5", -33.5, -70.5),
        ("0, 0", 0.0, 0.0),
        ("90 N 180 W", 90.0, -180.0),
        ("48,16", 48.0, 16.0),
        ("48.2° -16.4°", 48.2, -16.4),
        ("-48.2° 16.4°", -48.2, 16.4),
        ("-48°30' -16°30'", -48.5, -16.5),
        ("-48°30', -16°30'", -48.5, -16.5),
        ("48°30'36\"S 16°30'36\"W", -48.51, -16.51),
        ("geo:-33.5,-70.25", -33.5, -70.25),
        ("48.2 N, 16.4 O", 48.2, 16.4),
    ],
)
def test_signs_and_letters_give_the_side(text: str, lat: float, lon: float) -> None:
    assert parse_coordinates(text) == (pytest.approx(lat), pytest.approx(lon))


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "cannot be read|not coordinates"),
        ("48.2", "not coordinates"),
        ("91, 16", "latitude of 91 does not exist"),
        ("16.4, 200", "longitude of 200 does not exist"),
        ("151.2, -33.9", "latitude comes first"),
        ("48.2 N, 16.4 N", "same direction"),
        ("-48.2 S, 16.4 E", "contradict"),
        ("48°75'N 16°E", "end at 59"),
        ("48 12 30 16 22 26", "not coordinates"),
        ("1,2,3,4,5", "not coordinates"),
        ("12.3.4, 5", "not coordinates"),
        ("geo:abc", "not coordinates"),
        ("48..2, 16", "not coordinates"),
    ],
)
def test_faulty_coordinates_are_told(text: str, words: str) -> None:
    with pytest.raises(InputError, match=words):
        parse_coordinates(text)


@given(st.floats(-90, 90), st.floats(-180, 180))
def test_every_place_survives_being_written(lat: float, lon: float) -> None:
    side = f"{abs(lat):.6f}° {'S' if lat < 0 else 'N'}, {abs(lon):.6f}° {'W' if lon < 0 else 'E'}"
    for text in (f"{lat:.6f}, {lon:.6f}", f"{lat:.6f};{lon:.6f}", f"geo:{lat:.6f},{lon:.6f}", side):
        assert parse_coordinates(text) == (pytest.approx(lat, abs=1e-6), pytest.approx(lon, abs=1e-6))


@given(st.text(max_size=40))
def test_no_text_brings_the_coordinate_reader_down(text: str) -> None:
    try:
        lat, lon = parse_coordinates(text)
    except InputError:
        return
    assert abs(lat) <= 90.0
    assert abs(lon) <= 180.0


@pytest.mark.parametrize(
    "name", ["York", "Newcastle, AU", "Saint Ives", "100 Mile House", "Ōtaki", "", "8. Bezirk Graz"]
)
def test_names_are_not_taken_for_coordinates(name: str) -> None:
    assert not looks_like_coordinates(name)


# -- the gazetteer -------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def towns() -> Gazetteer:
    return gazetteer()


@pytest.mark.parametrize(
    ("typed", "name", "country"),
    [
        ("vien", "Vienna", "AT"),
        ("Wien", "Vienna", "AT"),
        ("münchen", "Munich", "DE"),
        ("munchen", "Munich", "DE"),
        ("sao pau", "São Paulo", "BR"),
        ("STRATFORD-UPON", "Stratford-upon-Avon", "GB"),
        ("newcastle, au", "Newcastle", "AU"),
        ("springfield, illinois", "Springfield", "US"),
        ("paris, united states", "Paris", "US"),
        ("malmo", "Malmö", "SE"),
        ("lodz", "Łódź", "PL"),
    ],
)
def test_towns_are_found_while_typing(towns: Gazetteer, typed: str, name: str, country: str) -> None:
    first = towns.search(typed)[0]
    assert (first.name, first.country_code) == (name, country)


def test_the_largest_comes_first_and_namesakes_are_told_apart(towns: Gazetteer) -> None:
    found = towns.search("richmond", 10)
    people = [place.people for place in found if folded(place.name) == "richmond"]
    assert people == sorted(people, reverse=True)
    titles = [place.title for place in towns.search("neustadt, de", 8)]
    assert len(set(titles)) == len(titles)
    assert any("near " in title for title in titles)


def test_a_place_becomes_a_site_with_its_zone(towns: Gazetteer) -> None:
    site = towns.search("auckland")[0].site()
    assert site.zone == "Pacific/Auckland"
    assert site.lat_deg == pytest.approx(-36.85, abs=0.05)


@pytest.mark.slow
def test_a_keystroke_costs_less_than_20_ms_of_work(towns: Gazetteer) -> None:
    typed = "stratford-upon-avon"
    words = [*(typed[:n] for n in range(1, len(typed) + 1)), "zzqx", "st ives", "upon", "ham, gb"]
    costs = []
    for word in words:
        start = time.process_time()
        towns.search(word)
        costs.append(time.process_time() - start)
    assert sorted(costs)[len(costs) // 2] < 0.020


@pytest.mark.parametrize(
    "typed", ["", " ", ",", "|", "\n", ", gb", "qqqqq", "york, atlantis", "\udc80", "a" * 500]
)
def test_nonsense_finds_nothing(towns: Gazetteer, typed: str) -> None:
    assert towns.search(typed) == []


def test_the_nearest_town_names_a_point(towns: Gazetteer) -> None:
    place, km = towns.nearest(48.2, 16.37, people=500_000)
    assert place.name == "Vienna"
    assert km < 5.0
    village, away = towns.nearest(48.3, 16.9)
    assert away < 10.0
    assert village.people < 500_000


def test_the_gazetteer_covers_the_world_and_names_its_source(towns: Gazetteer) -> None:
    """GeoNames holds about 235 000 places of more than 500 people (July 2026)."""
    assert len(towns) > 200_000
    names, lat, lon, people = towns.larger_than(5_000_000)
    assert 40 < len(names) < 120
    assert len(names) == lat.size == lon.size == people.size
    assert "GeoNames" in ATTRIBUTION
    assert "CC BY 4.0" in ATTRIBUTION


# -- saved places --------------------------------------------------------------------------------

HOME = Site("Home yard", 48.31, 9.02, "Europe/Berlin", 640.0)
HEATH = Site('Ænes heath "north"', 52.9, 9.9, "Europe/Berlin")


@pytest.mark.parametrize(
    ("lat_deg", "lon_deg", "on_earth"),
    [
        (90.0, 0.0, True), (-90.0, 0.0, True), (0.0, 180.0, True), (0.0, -180.0, True),
        (90.01, 0.0, False), (-90.01, 0.0, False), (0.0, 180.01, False), (0.0, -180.01, False),
    ],
)  # fmt: skip
def test_the_ends_of_the_earth_can_be_saved_and_nothing_beyond(
    lat_deg: float, lon_deg: float, on_earth: bool, tmp_path: Path
) -> None:
    path = tmp_path / "places.toml"
    if on_earth:
        save_place(Site("end", lat_deg, lon_deg, "UTC"), path)
        assert [(site.lat_deg, site.lon_deg) for site in saved_places(path)] == [(lat_deg, lon_deg)]
        return
    with pytest.raises(InputError, match="not on the earth"):
        save_place(Site("beyond", lat_deg, lon_deg, "UTC"), path)
    assert not path.exists()


def test_saved_places_come_back_in_order(tmp_path: Path) -> None:
    path = tmp_path / "deep" / "places.toml"
    assert saved_places(path) == ()
    for site in (HOME, HEATH):
        save_place(site, path)
    assert saved_places(path) == (HOME, HEATH)
    moved = Site("HOME YARD", 50.0, 10.0, "Europe/Berlin")
    save_place(moved, path)
    assert saved_place("home yard", path) == moved
    assert forget_place("Home Yard", path)
    assert not forget_place("Home Yard", path)
    assert saved_places(path) == (HEATH,)
    assert [file.name for file in path.parent.iterdir()] == ["places.toml"]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[[place", "not as written"),
        ('[[place]]\nname = "x"\nlat = "north"\nlon = 1.0', "lat"),
        ('[[place]]\nname = "x"\nlat = 91.0\nlon = 1.0', "not on the earth"),
        ('[[place]]\nname = "x"\nlat = nan\nlon = 1.0', "not on the earth"),
        ('[[place]]\nname = " "\nlat = 1.0\nlon = 1.0', "needs a name"),
        ('[[place]]\nname = "x"\nlat = 1.0\nlon = 1.0\nheight = 3', "height"),
    ],
)
def test_a_spoilt_file_of_places_is_told(tmp_path: Path, text: str, words: str) -> None:
    path = tmp_path / "places.toml"
    path.write_text(text)
    with pytest.raises(InputError, match=words):
        saved_places(path)
    assert path.read_text() == text


def test_a_folder_in_the_way_is_told(tmp_path: Path) -> None:
    with pytest.raises(StorageError):
        saved_places(tmp_path)


def test_suggestions_put_coordinates_and_own_places_first() -> None:
    (found,) = suggestions("48.2, 16.37")
    assert (found.origin, found.site.zone) == ("coordinates", "Europe/Vienna")
    assert suggestions("48.2,") == []
    found_saved = suggestions("yard", [HOME])
    assert (found_saved[0].origin, found_saved[0].site) == ("saved", HOME)
    assert suggestions("hom", [HOME])[0].site == HOME
    assert suggestions("york", [HOME])[0].origin == "gazetteer"
    assert len(suggestions("a", [HOME], most=3)) == 3


# -- online --------------------------------------------------------------------------------------


@pytest.mark.parametrize("service", ["nominatim", "photon"])
def test_geocoders_find_places_with_their_zone(client: Client, world: StandIn, service: str) -> None:
    settings = world.settings(geocoding={"service": service})
    ((title, site),) = geocode(client, settings, "Imkerhausen")
    assert "Imkerhausen" in title
    assert world.seen[-1].query["limit"] == "5"
    assert (site.name, site.lat_deg, site.lon_deg, site.zone) == ("Imkerhausen", 48.5, 9.0, "Europe/Berlin")
    assert geocode(client, settings, "Nowhere at all") == []
    geocode(client, settings, "Imkerhausen")
    assert len(world.seen) == 2
    assert "Skepway/" in world.seen[-1].headers["User-Agent"]


def test_geocoding_is_off_until_server_and_contact_are_set(client: Client, world: StandIn) -> None:
    assert not geocoding_is_on(Settings())
    assert not geocoding_is_on(world.settings())
    for settings in (Settings(), world.settings()):
        with pytest.raises(ServiceError, match=r"online is off.*Choose a service"):
            geocode(client, settings, "Imkerhausen")
    assert world.seen == []


def test_geocoders_are_asked_once_a_second(client: Client, world: StandIn) -> None:
    settings = world.settings(geocoding={"service": "nominatim"})
    start = time.monotonic()
    geocode(client, settings, "Imkerhausen")
    geocode(client, settings, "Beeminster")
    assert time.monotonic() - start >= 1.0


@pytest.mark.parametrize(
    ("behaviour", "error", "words"),
    [
        (standin.status(403), RefusedError, "403"),
        (standin.status(429, retry_after="3600"), ServiceError, "429"),
        (standin.status(503), ServiceError, "503"),
        (standin.html(), ServiceError, "log-in page"),
        (standin.status(200, {"error": "no"}), ServiceError, "another form"),
        (standin.status(200, [{"lat": "north", "lon": "9"}]), ServiceError, "another form|not data"),
        (
            standin.status(200, [{"lat": "480", "lon": "9", "display_name": "x"}]),
            ServiceError,
            "outside the earth",
        ),
        (standin.status(200, [{"name": "x"}]), ServiceError, "another form"),
    ],
)
def test_geocoder_faults_are_told(
    client: Client,
    world: StandIn,
    monkeypatch: pytest.MonkeyPatch,
    behaviour: standin.Behaviour,
    error: type[Exception],
    words: str,
) -> None:
    monkeypatch.setattr("planner.services.geocoding.geocode.GAP_S", 0.0)
    world.always("/search", behaviour)
    with pytest.raises(error, match=f"Nominatim: .*{words}"):
        geocode(client, world.settings(geocoding={"service": "nominatim"}), "Imkerhausen")


def test_a_geocoder_that_says_nothing_is_told(quick_client: Client, world: StandIn) -> None:
    world.always("/search", standin.silent())
    with pytest.raises(ServiceError, match=r"Nominatim: .*in time"):
        geocode(quick_client, world.settings(geocoding={"service": "nominatim"}), "Imkerhausen")


# -- time zones ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("lat", "lon", "zone"),
    [
        (48.2, 16.37, "Europe/Vienna"),
        (40.7, -74.0, "America/New_York"),
        (33.45, -112.07, "America/Phoenix"),
        (-36.85, 174.76, "Pacific/Auckland"),
        (52.5, -1.9, "Europe/London"),
    ],
)
def test_zones_are_known_offline(lat: float, lon: float, zone: str) -> None:
    assert zone_at(lat, lon) == zone


def test_summer_time_follows_the_zone() -> None:
    """Clocks in Germany go forward at 01:00 UTC on 28 March 2027."""
    zone = ZoneInfo(zone_at(49.0, 8.4))
    before, after = (datetime(2027, 3, 28, hour, tzinfo=zone).utcoffset() for hour in (1, 4))
    assert before is not None
    assert after is not None
    assert (after - before).total_seconds() == 3600.0


@given(st.floats(-90, 90), st.floats(-180, 180))
def test_every_point_of_the_earth_has_a_usable_zone(lat: float, lon: float) -> None:
    assert ZoneInfo(zone_at(lat, lon)).key


@pytest.mark.parametrize(("typed", "code"), [("Leeds, uk", "GB"), ("Leeds, USA", "US"), ("Lutsk, uk", "UA")])
def test_a_country_is_known_by_the_letters_people_write(typed: str, code: str) -> None:
    assert gazetteer().search(typed)[0].country_code == code
