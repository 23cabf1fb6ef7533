"""The outside world on 127.0.0.1 for the attacks."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from tests.services.standin import StandIn


@pytest.fixture
def world() -> Iterator[StandIn]:
    with StandIn() as server:
        yield server
