"""The road between places: from the service the user chose, or an honest estimate where none can answer."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import msgspec

from planner.errors import ServiceError
from planner.folders import cache_dir, data_dir
from planner.model.records import Road
from planner.services.http import Client, RefusedError
from planner.services.roads import engine, estimate, openrouteservice, osrm, valhalla
from planner.services.roads.heights import with_heights
from planner.services.roads.request import RouteRequest
from planner.services.settings import Settings

SERVICES = {"osrm": osrm.find, "valhalla": valhalla.find, "openrouteservice": openrouteservice.find}


def find_roads(client: Client, settings: Settings, request: RouteRequest) -> tuple[Road, ...]:
    """Roads through ``request.sites``, best first, with heights where they can be had.

    Where the service cannot be reached and has no earlier answer, one estimated road whose source line says
    why. A service that refuses the question itself (no road, place off the network) is not covered up.
    """
    return tuple(with_heights(client, settings, road) for road in _roads(client, settings, request))


def _roads(client: Client, settings: Settings, request: RouteRequest) -> tuple[Road, ...]:
    service = settings.roads.service
    if service == "estimate":
        return (estimate.find(request),)
    if service == "engine":
        return _from_own_engine(settings, request)
    try:
        return SERVICES[service](client, settings, request)
    except RefusedError:
        raise
    except ServiceError as fault:
        guess = estimate.find(request)
        return (replace(guess, source=f"{guess.source}; {fault.service}: {fault.happened}"),)


def _from_own_engine(settings: Settings, request: RouteRequest) -> tuple[Road, ...]:
    """Asked afresh each time, also offline: it is this machine, and its port changes."""
    found = engine.find_engine(Path(settings.roads.engine_dir))
    with engine.running_engine(found, tiles_dir(settings)) as url:
        here = msgspec.structs.replace(
            settings, roads=msgspec.structs.replace(settings.roads, valhalla_url=url)
        )
        client = Client.open(None)
        try:
            return valhalla.find(client, here, request, own_engine=True)
        finally:
            client.close()


def tiles_dir(settings: Settings) -> Path:
    """Where the user's own road network lies."""
    if settings.roads.tiles_dir:
        return Path(settings.roads.tiles_dir)
    usual, once = (
        data_dir() / "roads",
        cache_dir() / "roads",
    )  # networks were once built among what may be deleted
    return once if once.is_dir() and not usual.is_dir() else usual
