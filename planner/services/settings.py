"""The user's own settings: which services, at which address, with which key and contact.

They live in one TOML file in the user's configuration folder, never in a trip file. Every value may also come
from the environment as ``SKEPWAY_<TABLE>_<NAME>`` (``SKEPWAY_FORECAST_KEY``, ``SKEPWAY_CONTACT``), which wins.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Literal

import msgspec
import tomlkit

from planner.errors import Fault, InputError, StorageError, reason_of
from planner.files import closed, made_private, write_text
from planner.folders import cache_dir as cache_dir
from planner.folders import config_dir as config_dir
from planner.reading import read_bounded, reading_file, toml
from planner.services.forecast.registry import NAMES, OPEN_METEO
from planner.words import say

PREFIX = "SKEPWAY_"
SECRETS = ("key",)


class _Table(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """A table of the settings file; keys never show when it is printed."""

    def __repr__(self) -> str:
        shown = {
            name: "(hidden)" if name in SECRETS and getattr(self, name) else getattr(self, name)
            for name in self.__struct_fields__
        }
        return f"{type(self).__name__}({', '.join(f'{name}={value!r}' for name, value in shown.items())})"


class Forecasts(_Table, frozen=True):
    """Where weather comes from. ``key`` is for a paid Open-Meteo address; self-hosted ones need none."""

    service: str = OPEN_METEO.name
    open_meteo_url: str = "https://api.open-meteo.com"
    ensemble_url: str = "https://ensemble-api.open-meteo.com"
    archive_url: str = "https://archive-api.open-meteo.com"
    met_norway_url: str = "https://api.met.no"
    nws_url: str = "https://api.weather.gov"
    key: str = ""

    def __post_init__(self) -> None:
        if self.service not in NAMES:
            raise ValueError(
                say("services.service_not_known", service=str(repr(self.service)), names=", ".join(NAMES))
            )


class Roads(_Table, frozen=True):
    """Where roads come from.

    ``gap_s`` is the time between two requests the public servers ask for; ``engine_dir`` holds a Valhalla
    engine's programs and ``tiles_dir`` the network built from the user's own extract.
    """

    service: Literal["osrm", "valhalla", "openrouteservice", "engine", "estimate"] = "osrm"
    osrm_url: str = "https://router.project-osrm.org"
    valhalla_url: str = "https://valhalla1.openstreetmap.de"
    openrouteservice_url: str = "https://api.openrouteservice.org"
    key: str = ""
    gap_s: float = 1.0
    engine_dir: str = ""
    tiles_dir: str = ""


class Geocoding(_Table, frozen=True):
    """Searching places online: off until the user names a service and its address."""

    service: Literal["", "nominatim", "photon"] = ""
    url: str = ""


class Tolerance(_Table, frozen=True):
    """How much harm is accepted where the trip does not say; None leaves it to the program's usual figures."""

    harm_of_100: float | None = None
    boxes_of_100: float | None = None

    def __post_init__(self) -> None:
        for value in (self.harm_of_100, self.boxes_of_100):
            if value is not None and not 0.0 <= value <= 50.0:
                raise ValueError("a tolerance lies between 0 and 50")


class Settings(_Table, frozen=True):
    """All settings. ``contact`` (an e-mail or web address) goes into the agent line that services ask for."""

    contact: str = ""
    forecast: Forecasts = Forecasts()
    roads: Roads = Roads()
    geocoding: Geocoding = Geocoding()
    tolerance: Tolerance = Tolerance()


def settings_file() -> Path:
    return config_dir() / "settings.toml"


def load_settings(path: Path | None = None, environment: Mapping[str, str] | None = None) -> Settings:
    """Settings from ``path`` (default: the user's file, which need not exist) and the environment.

    Raises InputError naming the field, or StorageError where the file cannot be read.
    """
    path = settings_file() if path is None else path
    with reading_file(str(path), "the settings"):
        return _loaded(path, os.environ if environment is None else environment)


def _loaded(path: Path, environment: Mapping[str, str]) -> Settings:
    values = _read(path)
    _overlay(values, environment)
    try:
        return msgspec.convert(values, Settings, strict=False)
    except msgspec.ValidationError as fault:
        problem, _, where = str(fault).partition(" - at ")
        remedy = "Correct or delete this entry; the defaults serve"
        raise InputError([Fault(where.strip("`$.") or "settings", "", problem, remedy)], str(path)) from fault


def save_settings(settings: Settings, path: Path | None = None) -> None:
    """Write what differs from the defaults, readable by the user alone because it may hold keys."""
    path = settings_file() if path is None else path
    document = tomlkit.document()
    document.add(tomlkit.comment("Skepway settings; may hold keys: keep this file to yourself."))
    for name, value in _differences(settings, Settings()).items():
        document.add(name, value)
    made_private(path.parent)
    write_text(path, tomlkit.dumps(document), private=True)


def _read(path: Path) -> dict[str, Any]:
    closed(path)
    try:
        return toml(read_bounded(path).decode("utf-8-sig"))
    except FileNotFoundError:
        return {}
    except OSError as fault:
        raise StorageError(
            say("services.settings_cannot_read", path=str(path), strerror=reason_of(fault))
        ) from fault
    except (ValueError, RecursionError) as fault:
        remedy = "Correct the line, or delete the file to return to the defaults"
        raise InputError(
            [Fault("", "", say("services.no_toml", fault=str(fault)), remedy)], str(path)
        ) from fault


def _overlay(values: dict[str, Any], environment: Mapping[str, str]) -> None:
    for name in Settings.__struct_fields__:
        default = getattr(Settings(), name)
        if isinstance(default, _Table):
            for field in default.__struct_fields__:
                text = environment.get(f"{PREFIX}{name}_{field}".upper())
                if text is not None:
                    values.setdefault(name, {})[field] = text
        elif (text := environment.get(f"{PREFIX}{name}".upper())) is not None:
            values[name] = text


def _differences(settings: _Table, defaults: _Table) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for name in settings.__struct_fields__:
        value, default = getattr(settings, name), getattr(defaults, name)
        if isinstance(value, _Table):
            if below := _differences(value, default):
                found[name] = below
        elif value != default:
            found[name] = value
    return found
