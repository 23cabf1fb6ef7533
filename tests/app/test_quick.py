"""A trip from place names: namesakes, usual figures, hand-entered weather, and the whole plan without network."""

from __future__ import annotations

from pathlib import Path

import pytest

from planner.app.asking.place_names import find_sites
from planner.app.asking.quick import OwnFigures, Quick, quick_draft
from planner.cli.main import main
from planner.errors import InputError
from planner.model.catalogue import Catalogue
from planner.model.records import Site
from planner.services.geocoding.saved import save_place
from planner.store.tripfile import faults

NOON = 1_806_321_600.0  # 2027-03-29 12:00 UTC


def test_namesakes_are_taken_where_the_trip_is_shortest() -> None:
    sites, remarks = find_sites({"--from": "Ludlow", "--to": "Hereford"})
    assert sites["--from"].zone == sites["--to"].zone == "Europe/London"
    assert any("Massachusetts" in remark for remark in remarks)


def test_a_region_chooses_among_namesakes() -> None:
    sites, _ = find_sites({"--from": "Hereford, Texas", "--to": "Amarillo"})
    assert sites["--from"].zone == "America/Chicago"


def test_every_unknown_place_is_named() -> None:
    with pytest.raises(InputError) as caught:
        find_sites({"--from": "Qqqqxz", "--to": "Zzzzqv"})
    assert [fault.field for fault in caught.value.faults] == ["--from", "--to"]


def test_coordinates_are_places_with_a_zone() -> None:
    sites, remarks = find_sites({"--from": "48.2, 16.4", "--to": "47.07 N 15.44 E"})
    assert sites["--from"].zone == sites["--to"].zone == "Europe/Vienna"
    assert remarks == ()


def test_a_saved_place_goes_before_towns_of_its_name() -> None:
    save_place(Site("Hereford", 1.0, 2.0, "Etc/UTC"))
    sites, _ = find_sites({"--from": "hereford", "--to": "Ludlow"})
    assert sites["--from"].lat_deg == 1.0


def test_a_quick_draft_passes_the_check_of_trip_files(catalogue: Catalogue) -> None:
    sites, _ = find_sites({"--from": "Ludlow", "--to": "Hereford"})
    asked = Quick(sites["--from"], sites["--to"], vehicle="pickup", own=OwnFigures(6.0, 19.0))
    draft = quick_draft(asked, NOON)
    assert faults(draft, catalogue) == ()
    assert draft["window"]["from"] == "2027-03-29T18:00"
    assert len(draft["weather"]["own"]) == 4  # the eve, both days of the window, the day after


def test_names_and_hand_entered_weather_plan_without_network(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    saved = tmp_path / "trip.toml"
    words = "plan --from Ludlow --to Hereford --low 6 --high 19 --offline --vehicle van --rows 1 --save"
    code = main([*words.split(), str(saved), "--leave", "2027-03-29T18:00", "--until", "2027-03-29T20:00"])
    said = capsys.readouterr()
    assert code == 0
    headline = said.out.splitlines()[0]
    assert headline.startswith("Go")
    assert "Monday" in headline
    assert "The road is an estimate" in said.out
    assert "own figures" in said.out
    assert main(["check", str(saved)]) == 0


def test_half_a_weather_is_a_fault(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["plan", "--from", "Ludlow", "--to", "Hereford", "--low", "6", "--offline"]) == 2
    assert "--high" in capsys.readouterr().err


def test_without_network_and_without_weather_it_says_what_to_do(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["plan", "--from", "Ludlow", "--to", "Hereford", "--offline"]) == 3
    assert "offline" in capsys.readouterr().err
