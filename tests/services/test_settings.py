"""Settings: defaults, file, environment; keys stay out of sight."""

from __future__ import annotations

from pathlib import Path

import pytest

from planner.errors import InputError, StorageError
from planner.services.settings import (
    Forecasts,
    Geocoding,
    Roads,
    Settings,
    cache_dir,
    load_settings,
    save_settings,
    settings_file,
)


def test_without_a_file_the_defaults_serve_and_geocoding_is_off(tmp_path: Path) -> None:
    settings = load_settings(tmp_path / "none.toml", {})
    assert settings == Settings()
    assert settings.geocoding.service == ""


def test_saved_settings_come_back_and_only_differences_are_written(tmp_path: Path) -> None:
    path = tmp_path / "deep" / "settings.toml"
    settings = Settings(
        contact="invented@example.org",
        forecast=Forecasts(open_meteo_url="http://127.0.0.1:1", key="k"),
        roads=Roads(service="valhalla", gap_s=0.0),
    )
    save_settings(settings, path)
    assert load_settings(path, {}) == settings
    assert "ensemble_url" not in path.read_text()
    assert path.stat().st_mode & 0o077 == 0
    assert [file.name for file in path.parent.iterdir()] == ["settings.toml"]


def test_the_environment_wins_over_the_file(tmp_path: Path) -> None:
    path = tmp_path / "settings.toml"
    path.write_text('contact = "file"\n[roads]\nkey = "file"\n')
    environment = {"SKEPWAY_CONTACT": "env", "SKEPWAY_ROADS_KEY": "env", "SKEPWAY_ROADS_GAP_S": "2.5"}
    settings = load_settings(path, environment)
    assert (settings.contact, settings.roads.key, settings.roads.gap_s) == ("env", "env", 2.5)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[roads]\nservise = 'osrm'", "servise"),
        ("[roads]\nservice = 'donkey'", "donkey"),
        ("contact = 7", "contact"),
        ("[roads", "not a TOML document"),
        ("\x00", "not a TOML document"),
    ],
)
def test_a_wrong_entry_is_named(tmp_path: Path, text: str, words: str) -> None:
    path = tmp_path / "settings.toml"
    path.write_text(text)
    with pytest.raises(InputError, match=words):
        load_settings(path, {})


def test_keys_do_not_show_when_settings_are_printed() -> None:
    shown = repr(Settings(forecast=Forecasts(key="secret-4711"), geocoding=Geocoding(url="http://x")))
    assert "secret-4711" not in shown
    assert "(hidden)" in shown


def test_one_folder_can_hold_everything(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("SKEPWAY_HOME", str(tmp_path))
    assert settings_file() == tmp_path / "config" / "settings.toml"
    assert cache_dir() == tmp_path / "cache"


def test_the_settings_shown_in_the_readme_are_read(tmp_path: Path) -> None:
    """What users are told to write is what the program understands."""
    readme = (Path(__file__).resolve().parents[2] / "README.md").read_text("utf-8")
    path = tmp_path / "settings.toml"
    path.write_text(readme.partition("```toml\n")[2].partition("```")[0])
    settings = load_settings(path, {})
    assert (settings.contact, settings.forecast.key) == ("you@example.org", "...")
    assert (settings.roads.service, settings.geocoding.service) == ("valhalla", "photon")
    names = (
        "open_meteo_url",
        "archive_url",
        "ensemble_url",
        "engine_dir",
        "SKEPWAY_FORECAST_KEY",
        "SKEPWAY_CONTACT",
    )
    assert all(name in readme for name in names)


def test_the_key_for_paid_journeys_is_taken_from_the_environment(tmp_path: Path) -> None:
    assert load_settings(tmp_path / "none.toml", {"SKEPWAY_FORECAST_KEY": "k"}).forecast.key == "k"


@pytest.mark.parametrize("table", ["[forecast]\nservice = 'acme'", "[forecast]\nopen_meteo = 'x'"])
def test_a_wrong_forecast_entry_says_its_table_and_what_to_do(tmp_path: Path, table: str) -> None:
    path = tmp_path / "settings.toml"
    path.write_text(table)
    with pytest.raises(InputError) as caught:
        load_settings(path, {})
    (fault,) = caught.value.faults
    assert fault.field == "forecast"
    assert fault.remedy == "Correct or delete this entry; the defaults serve"


def test_a_folder_in_the_way_of_the_settings_is_told(tmp_path: Path) -> None:
    with pytest.raises(StorageError, match="settings cannot be read"):
        load_settings(tmp_path, {})
    (tmp_path / "file").write_text("")
    with pytest.raises(StorageError, match="cannot be made"):
        save_settings(Settings(contact="c"), tmp_path / "file" / "settings.toml")


def test_the_public_servers_are_asked_by_default_and_no_faster_than_once_a_second() -> None:
    """Places are not searched online until the user names a server."""
    settings = Settings()
    assert (settings.forecast.service, settings.roads.service, settings.roads.gap_s) == (
        "open-meteo",
        "osrm",
        1.0,
    )
    assert (settings.contact, settings.forecast.key, settings.geocoding.service) == ("", "", "")
