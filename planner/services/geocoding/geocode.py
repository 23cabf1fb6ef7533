"""Searching places online through Nominatim or Photon: off until the user names a server and a contact.

geopy knows both formats; its requests go through our own HTTP client, which keeps answers, waits its turn (one
request a second) and explains faults. Not for searching while typing: the public Nominatim forbids it.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any
from urllib.parse import urlsplit

from planner.errors import ServiceError
from planner.model.records import Site
from planner.reading import printable
from planner.services.http import Client, Reader, UnreadableError, json_as
from planner.services.settings import Settings
from planner.zones import zone_at

ATTRIBUTION = "Places © OpenStreetMap contributors (ODbL), https://www.openstreetmap.org/copyright"
GAP_S = 1.0
MOST_BYTES = 4_000_000
MOST_LETTERS = 300
"""Of the title of a place; what is longer is none."""
KEEP_S = 30 * 86_400.0
TITLES = {"nominatim": "Nominatim", "photon": "Photon"}


def _read_nominatim(body: bytes) -> Any:
    found = json_as(list[dict[str, Any]])(_short(body))
    _check([(place["lat"], place["lon"]) for place in found])
    return found


def _read_photon(body: bytes) -> Any:
    found = json_as(dict[str, Any])(_short(body))
    _check([feature["geometry"]["coordinates"][1::-1] for feature in found["features"]])
    return found


def _short(body: bytes) -> bytes:
    if len(body) > MOST_BYTES:
        raise UnreadableError("the answer is longer than any list of places")
    return body


def _check(places: Sequence[Any]) -> None:
    if not all(abs(float(lat)) <= 90.0 and abs(float(lon)) <= 180.0 for lat, lon in places):
        raise UnreadableError("the answer holds places outside the earth")


READERS: dict[str, Reader[Any]] = {"nominatim": _read_nominatim, "photon": _read_photon}


def geocoding_is_on(settings: Settings) -> bool:
    """True once the user has chosen a service, its address and a contact."""
    return bool(settings.geocoding.service and settings.geocoding.url and settings.contact)


def geocode(client: Client, settings: Settings, text: str, most: int = 5) -> list[tuple[str, Site]]:
    """Places found for ``text`` as (title, site), best first; an empty list where nothing fits.

    Raises ServiceError where geocoding is off, fails, or answers in another form.
    """
    service = settings.geocoding.service
    if not service or not geocoding_is_on(settings):
        raise ServiceError(
            "Place search",
            "searching places online is off",
            "Choose a service, its address and your contact in settings.toml, or use the bundled places",
        )
    from geopy.exc import GeopyError  # late: nobody should wait for it at start-up

    geocoder = _geocoder(client, settings)
    try:
        found = geocoder.geocode(text.strip(), exactly_one=False, limit=most)
        return [_place(location) for location in found or ()]
    except (GeopyError, LookupError, TypeError, ValueError, AttributeError) as fault:
        raise ServiceError(
            TITLES[service],
            "the answer has another form than documented",
            "Check the address in settings.toml",
        ) from fault


def _geocoder(client: Client, settings: Settings) -> Any:
    """geopy's geocoder for the chosen server, asking through ``client``."""
    from geopy.adapters import BaseSyncAdapter
    from geopy.geocoders import Nominatim, Photon

    service = settings.geocoding.service
    parts = urlsplit(settings.geocoding.url.rstrip("/"))
    kind = Nominatim if service == "nominatim" else Photon

    class Adapter(BaseSyncAdapter):  # type: ignore[misc]
        def get_json(self, url: str, *, timeout: float, headers: dict[str, str]) -> Any:
            del timeout, headers  # the client has its own patience and names us itself
            return client.get(TITLES[service], url, READERS[service], gap_s=GAP_S, keep_s=KEEP_S).value

        def get_text(self, url: str, *, timeout: float, headers: dict[str, str]) -> str:
            raise NotImplementedError

    return kind(
        domain=parts.netloc + parts.path,
        scheme=parts.scheme or "https",
        user_agent=client.transport.agent,
        adapter_factory=lambda **_: Adapter(proxies=None, ssl_context=None),
    )


def _place(location: Any) -> tuple[str, Site]:
    lat, lon = float(location.latitude), float(location.longitude)
    title = printable(str(location.address))[:MOST_LETTERS]
    return title, Site(title.partition(",")[0], lat, lon, zone_at(lat, lon))
