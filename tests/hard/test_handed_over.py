"""What a beekeeper is handed: menu entry, file type, bundle, and a page on privacy that says all of it."""

from __future__ import annotations

import re
import shlex
import subprocess
import sys
from pathlib import Path
from urllib.parse import urlsplit
from xml.etree import ElementTree

import msgspec
import pytest

from planner import __main__ as door
from planner import desktop
from planner.app.plan.inputs import MEMBER_POINTS
from planner.cli.main import main
from planner.errors import InputError
from planner.services.forecast.beside import MOST_PLACES
from planner.services.forecast.open_meteo import ELEVATIONS_AT_ONCE
from planner.services.settings import Settings

ROOT = Path(__file__).resolve().parents[2]


def test_every_address_we_may_ask_stands_on_the_privacy_page() -> None:
    page = (ROOT / "PRIVACY.md").read_text("utf-8")
    tables = msgspec.to_builtins(Settings())
    hosts = {
        urlsplit(value).netloc
        for table in tables.values() if isinstance(table, dict)
        for value in table.values() if isinstance(value, str) and value.startswith("http")
    }  # fmt: skip
    assert len(hosts) >= 8
    assert [host for host in sorted(hosts) if host not in page] == []


ASKED = {
    "services/roads/osrm.py": "origin, stops and destination",
    "services/roads/openrouteservice.py": "with openrouteservice size and weight of a lorry",
    "services/roads/valhalla.py": "the line of the road it answered with",
    "services/roads/engine.py": "your own engine",
    "services/roads/heights.py": "coordinates of up to 100 points along the road",
    "services/forecast/open_meteo.py": "coordinates of points along the road, some 30 km apart, and the days",
    "services/forecast/met_norway.py": "`api.met.no`",
    "services/forecast/nws.py": "`api.weather.gov`",
    "services/forecast/find.py": "or are past",
    "services/forecast/typical.py": "the same days of past years",
    "services/forecast/beside.py": "coordinates of up to 80 places to both sides of the road",
    "services/geocoding/geocode.py": "the words you typed",
    "app/plan/inputs.py": "at most 12 points",
    "ui/map/tiles.py": "the part of the map on the screen",
}
"""Where anything is asked of a network, and the words on the page that tell of it."""

ASKING = re.compile(
    r"client\.get\(|session\.(?:get|post|send)\(|_net\.get\(|QNetworkRequest\(|urlopen\("
    r"|open_meteo\.(?:forecast|archives?|ensemble)\(|elevations_m\(|archives\("
)


def test_whatever_is_asked_of_a_network_stands_on_the_privacy_page() -> None:
    """A module that begins to ask is told to say so; the weather beside the road was once asked for untold."""
    page = (ROOT / "PRIVACY.md").read_text("utf-8")
    code = ROOT / "planner"
    asking = {
        path.relative_to(code).as_posix()
        for path in code.rglob("*.py")
        if ASKING.search(path.read_text("utf-8")) and "services/http" not in path.as_posix()
    }
    assert asking == set(ASKED)
    assert [words for words in ASKED.values() if words not in page] == []
    assert f"up to {MOST_PLACES} places" in page
    assert f"at most {MEMBER_POINTS} points" in page
    assert f"up to {ELEVATIONS_AT_ONCE} points" in page


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="menu entries are Linux's")
def test_the_menu_gets_an_entry_a_type_and_an_icon(tmp_path: Path) -> None:
    entry, kind, icon = desktop.install(tmp_path, ('/opt/Öl 100 %/it\'s "here"/skepway',))
    lines = dict(line.split("=", 1) for line in entry.read_text("utf-8").splitlines()[1:])
    assert lines["Exec"].endswith(" %f")
    word = lines["Exec"].removesuffix(" %f").replace("\\\\", "\\").replace("%%", "%")
    assert shlex.split(word) == ['/opt/Öl 100 %/it\'s "here"/skepway']
    assert desktop.TRIP_TYPE in lines["MimeType"]
    assert ElementTree.parse(kind).getroot().tag.endswith("mime-info")
    assert ElementTree.parse(icon).getroot().tag.endswith("svg")
    assert entry.parent == tmp_path / "applications"


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="menu entries are Linux's")
def test_the_command_writes_them_for_this_user(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["install-desktop"]) == 0
    assert "skepway.desktop" in capsys.readouterr().out
    assert (home / "applications" / "skepway.desktop").exists()


def test_elsewhere_the_menu_is_the_installers(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(sys, "platform", "win32")
    with pytest.raises(InputError, match="on Linux only"):
        desktop.install(tmp_path)


def test_a_click_on_a_trip_file_opens_the_window_on_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    trip = tmp_path / "my.trip.toml"
    trip.write_text("version = 1\n")
    seen: list[list[str]] = []
    monkeypatch.setattr(door, "_window", lambda words: seen.append(words) or 0)
    for words, opened in (([str(trip)], True), ([], True), (["check", str(trip)], False)):
        monkeypatch.setattr(sys, "argv", ["skepway", *words])
        seen.clear()
        door.main()
        assert bool(seen) is opened


def test_the_recipe_of_the_bundle_is_for_every_command_and_every_file_we_bring() -> None:
    """Commands and forecast services are imported by name, which no packer sees."""
    recipe = (ROOT / "tools" / "bundle" / "skepway.spec").read_text("utf-8")
    assert 'collect_submodules("planner")' in recipe
    assert '"planner/resources"' in recipe
    compile(recipe, "skepway.spec", "exec")


def test_the_licences_of_all_parts_are_gathered(tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, str(ROOT / "tools" / "bundle" / "licences.py"), str(tmp_path)],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    named = (tmp_path / "licences" / "PARTS.txt").read_text("utf-8")
    for part in ("numpy", "scipy", "requests", "tomlkit"):
        assert re.search(rf"(?m)^{part} \d", named)


def test_everything_that_is_kept_stands_on_the_privacy_page() -> None:
    page = (ROOT / "PRIVACY.md").read_text("utf-8")
    for kept in (
        "logbook.sqlite",
        "trouble.log",
        "settings.toml",
        "keyring",
        "photo",
        "papers",
        "profiles",
        "places",
    ):
        assert kept in page, kept
