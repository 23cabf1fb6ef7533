"""What a plan takes from outside when the trip file leaves it open."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.app.plan.inputs import Sources, ready
from planner.errors import InputError
from planner.services.http import Client
from planner.services.settings import Settings
from planner.store.tripfile import TripFile, WeatherRequest


@pytest.mark.parametrize("source", ["acme", "file"])
def test_a_source_nobody_knows_is_told_and_no_other_service_is_asked_in_its_place(
    nuc_pickup: TripFile, source: str
) -> None:
    sources = Sources(Client.open(None, offline=True), Settings())
    with pytest.raises(InputError, match=rf"weather\.source = {source}: no forecast service has this name"):
        ready(replace(nuc_pickup, weather=WeatherRequest(source)), sources)
    sources.close()
