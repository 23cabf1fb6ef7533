"""The command line within this process, with the answers it gave already at hand."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from tests.remembered import forgetful, remember
from tests.small import small_swarm_run


@pytest.fixture(scope="session")
def trip(tmp_path_factory: pytest.TempPathFactory) -> str:
    """A trip file that is planned in no time."""
    return str(small_swarm_run(tmp_path_factory.mktemp("small")))


@pytest.fixture
def anew() -> Iterator[None]:
    """Asked for by a test that looks at the working out itself: nothing is remembered."""
    with forgetful():
        yield


@pytest.fixture(autouse=True)
def _remembered(monkeypatch: pytest.MonkeyPatch) -> None:
    remember(monkeypatch)
