"""What every test may ask for, and what none may touch: the user's own folders, the network, a real screen."""

from __future__ import annotations

import gc
import os
import socket
import tempfile
import time
from pathlib import Path
from typing import Any

import hypothesis
import pytest

from planner.bundled import resource_path
from planner.model.catalogue import Catalogue
from planner.model.parameters import Parameters
from planner.store.catalogue import load_catalogue
from planner.store.tripfile import TripFile, load_trip

os.environ["QT_QPA_PLATFORM"] = "offscreen"
os.environ.pop(
    "PYTHONDONTWRITEBYTECODE", None
)  # programs that tests start would compile all of it anew, half a second
os.environ.setdefault("PYTHONPYCACHEPREFIX", str(Path(tempfile.gettempdir()) / "skepway-tests-bytecode"))
hypothesis.settings.register_profile("house", hypothesis.settings(), deadline=None)  # clocks are shared here
hypothesis.settings.load_profile("house")

BEFORE = Path(__file__).parent / "fixtures" / "demo-before"
"""Two demo trips as they once were: tests that state labels and figures read these, so that a new story is free."""


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--budget",
        type=float,
        default=float("inf"),
        metavar="SECONDS",
        help="begin no further test after so many seconds; those left are skipped and say so",
    )


def pytest_sessionstart(session: pytest.Session) -> None:
    session.stash[STARTED] = time.monotonic()


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """The window first: its tests share windows and answers, which two processes would each make for themselves.

    Each process begins with its share from the front and takes over what the other has left at the end.
    """
    items.sort(key=lambda item: "ui" not in item.path.parts)


def pytest_collection_finish(session: pytest.Session) -> None:
    """What was loaded to collect the tests stays: the collector of garbage need not go through it after every test."""
    gc.collect()
    gc.freeze()


def pytest_runtest_setup(item: pytest.Item) -> None:
    budget = float(item.config.getoption("--budget"))
    if time.monotonic() - item.session.stash[STARTED] > budget:
        pytest.skip(f"the budget of {budget:.0f} s is spent")


STARTED = pytest.StashKey[float]()
DEMOS = sorted(path.stem for path in resource_path("demo").glob("*.toml"))


@pytest.fixture(autouse=True)
def home(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty home for this test alone: settings, caches, saved places and window state land in it."""
    folder = tmp_path_factory.mktemp("home")
    for name in [name for name in os.environ if name.startswith("SKEPWAY_")]:
        monkeypatch.delenv(name)
    monkeypatch.setenv("SKEPWAY_HOME", str(folder))
    for name in ("HOME", "XDG_CONFIG_HOME", "XDG_CACHE_HOME", "XDG_DATA_HOME", "XDG_STATE_HOME"):
        monkeypatch.setenv(name, str(folder))
    return folder


@pytest.fixture(autouse=True)
def _no_network(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Only tests marked ``network`` reach beyond this machine; any other that tries fails at once."""
    if "network" in request.keywords:
        return
    connect = socket.socket.connect

    def connect_here(self: socket.socket, address: Any) -> None:
        if self.family in (socket.AF_INET, socket.AF_INET6) and not _is_here(str(address[0])):
            pytest.fail(f"this test tried to reach {address}; use a server on 127.0.0.1")
        connect(self, address)

    monkeypatch.setattr(socket.socket, "connect", connect_here)


def _is_here(host: str) -> bool:
    return host.startswith("127.") or host in ("localhost", "::1")


@pytest.fixture(scope="session")
def catalogue() -> Catalogue:
    """The bundled box types, comb sizes, loading places and parameters."""
    return load_catalogue()


@pytest.fixture(scope="session")
def typical(catalogue: Catalogue) -> Parameters:
    """Every parameter of the heat model at its typical value."""
    return catalogue.parameters.typical()


@pytest.fixture(scope="session", params=DEMOS)
def demo(request: pytest.FixtureRequest, catalogue: Catalogue) -> TripFile:
    """Each bundled demo trip in turn, with its road and weather."""
    return load_trip(resource_path("demo", f"{request.param}.toml"), catalogue)


@pytest.fixture(scope="session")
def nuc_pickup(catalogue: Catalogue) -> TripFile:
    """The demo trip of a buyer who fetches nucs."""
    return load_trip(resource_path("demo", "nuc-pickup.toml"), catalogue)


@pytest.fixture(scope="session")
def pickup_before(catalogue: Catalogue) -> TripFile:
    """The buyer's trip as it once was: four nucs, seven loading places, one stop, known to the minute."""
    return load_trip(BEFORE / "nuc-pickup.toml", catalogue)
