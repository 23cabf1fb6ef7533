"""The command line within this process, with the answers it gave already at hand."""

from __future__ import annotations

import pytest

from tests.remembered import remember


@pytest.fixture
def anew() -> None:
    """Asked for by a test that looks at the working out itself: nothing is remembered."""


@pytest.fixture(autouse=True)
def _remembered(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    if "anew" not in request.fixturenames:
        remember(monkeypatch)
