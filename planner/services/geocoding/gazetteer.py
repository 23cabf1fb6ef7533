"""Towns and villages of the world without a network, found while typing.

A cut of GeoNames (235 000 places of more than 500 people, larger ones also by their names in other languages)
made by ``tools/make_gazetteer.py``. Accents and case do not matter; the largest places come first; a country
or region after a comma narrows the search: ``newcastle, au``.
"""

from __future__ import annotations

import io
import lzma
import re
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from heapq import merge
from itertools import chain, islice

import numpy as np

from planner.bundled import resource_path
from planner.model.geo import great_circle_km
from planner.model.records import Bools, Floats, Ints, Site
from planner.zones import zone_at

FILE_NAME = "gazetteer.npz.xz"
ATTRIBUTION = "Places from GeoNames (CC BY 4.0), https://www.geonames.org/"
NEAR_FROM_PEOPLE = 50_000
NEAR_WITHIN_KM = 60.0
LOOKED_AT = 400
"""Hits of a name looked at when a country or region narrows the search."""

_LETTERS = {"ß": "ss", "ø": "o", "ł": "l", "đ": "d", "ð": "d", "þ": "th", "æ": "ae", "œ": "oe", "ı": "i"}
_IN_USE = {"GB": "uk", "US": "usa"}
"""What people write for a country beside its name and its two letters of ISO 3166-1."""
OTHER_NAMES_FROM_LETTERS = 4
"""Below so many letters a beginning fits some name of almost every city in some language."""


@dataclass(frozen=True, slots=True)
class Town:
    """One town or village: ``name`` as written, its country's name, its region where known, people about."""

    name: str
    country: str
    country_code: str
    region: str
    near: str
    lat_deg: float
    lon_deg: float
    people: int

    @property
    def title(self) -> str:
        """The place as offered to the user: ``Newcastle, Australia, near Sydney``."""
        near = f"near {self.near}" if self.near else ""
        return ", ".join(part for part in (self.name, self.region, self.country, near) if part)

    def site(self) -> Site:
        """The place as a site of a trip, with its time zone."""
        return Site(self.name, self.lat_deg, self.lon_deg, zone_at(self.lat_deg, self.lon_deg))


@cache
def gazetteer() -> Gazetteer:
    """The bundled gazetteer; the first call reads it (well below a second), later ones are free."""
    return Gazetteer(resource_path(FILE_NAME).read_bytes())


class _Names:
    """Names one to a line, folded, in order of rank; ``rows`` says whose name each line is."""

    def __init__(self, lines: list[bytes], rows: Ints) -> None:
        self._text = folded(b"\n".join([b"", *lines, b""]).decode()).encode()
        self._starts: Ints = np.flatnonzero(np.frombuffer(self._text, dtype=np.uint8) == ord("\n"))[:-1] + 1
        self._rows = rows

    def having(self, text: str) -> Iterator[int]:
        """Rows of the lines that hold ``text``; a line break in it stands for a name's beginning or end."""
        wanted = text.encode(errors="surrogatepass")
        at = self._text.find(wanted)
        while at >= 0:
            yield int(self._rows[np.searchsorted(self._starts, at + 1, side="right") - 1])
            at = self._text.find(wanted, at + 1)


class Gazetteer:
    """Places in order of size, searched by all their names at once."""

    def __init__(self, packed: bytes) -> None:
        with np.load(io.BytesIO(lzma.decompress(packed))) as table:
            people = np.exp2(table["population_log2_8"] / 8.0)
            order = np.argsort(-people, kind="stable")
            names = table["names"].tobytes().split(b"\n")
            others = table["other_names"].tobytes().split(b"\n")
            counts = table["other_counts"].astype(np.int64)
            self._lat_deg = _numbers(table["lat_millideg"])[order] / 1000.0
            self._lon_deg = _numbers(table["lon_millideg"])[order] / 1000.0
            self._region = _numbers(table["region"])[order]
            self._regions: list[tuple[str, str, str]] = [
                text.partition("|") for text in table["regions"].tolist()
            ]
            self._countries: dict[str, str] = dict(text.split("|") for text in table["countries"].tolist())
        self._people = people[order]
        self._names: list[bytes] = [names[row] for row in order.tolist()]
        self._own = _Names(self._names, np.arange(order.size))
        rank = np.empty_like(order)
        rank[order] = np.arange(order.size)
        row_of_other = np.repeat(rank, counts)
        by_rank = np.argsort(row_of_other, kind="stable")
        self._other = _Names([others[index] for index in by_rank.tolist()], row_of_other[by_rank])

    def __len__(self) -> int:
        return len(self._names)

    def search(self, typed: str, most: int = 10) -> list[Town]:
        """Up to ``most`` places whose name begins with what is typed, then those with a later word that does."""
        name, _, rest = (part.strip() for part in folded(typed).partition(","))
        if not name or "\n" in name or "|" in name:
            return []
        wanted = self._rows(name)
        if not rest:
            return [self._place(row) for row in islice(wanted, most)]
        seen = (self._place(row) for row in islice(wanted, LOOKED_AT))
        return list(islice((place for place in seen if _lies_in(place, rest)), most))

    def nearest(self, lat_deg: float, lon_deg: float, people: int = 0) -> tuple[Town, float]:
        """The nearest place of at least so many people, and how far away it is in km."""
        large = int(np.searchsorted(-self._people, -people, side="right")) if people else len(self)
        km = great_circle_km(lat_deg, lon_deg, self._lat_deg[:large], self._lon_deg[:large])
        row = int(np.argmin(km))
        return self._place(row), float(km[row])

    def larger_than(self, people: float) -> tuple[list[str], Floats, Floats, Floats]:
        """Names, latitudes, longitudes and sizes of all places of at least so many people, largest first."""
        count = int(np.searchsorted(-self._people, -people, side="right"))
        names = [self._name(row) for row in range(count)]
        return names, self._lat_deg[:count], self._lon_deg[:count], self._people[:count]

    def _rows(self, name: str) -> Iterator[int]:
        """Rows by rank: just this name, then beginning so in any language, then a later word beginning so."""
        foreign = self._other.having(f"\n{name}") if len(name) >= OTHER_NAMES_FROM_LETTERS else iter(())
        ways = (
            self._own.having(f"\n{name}\n"),
            self._by_size(self._own.having(f"\n{name}"), foreign),
            merge(self._own.having(f" {name}"), self._own.having(f"-{name}")),
        )
        told: set[int] = set()
        for row in chain.from_iterable(ways):
            if row not in told:
                told.add(row)
                yield row

    def _by_size(self, own: Iterator[int], foreign: Iterator[int]) -> Iterator[int]:
        """Rows of both by size, where a name in another language counts for a tenth of its place."""
        ranked = ((-self._people[row], row) for row in own)
        ranked_foreign = ((-self._people[row] / 10.0, row) for row in foreign)
        return (row for _, row in merge(ranked, ranked_foreign))

    def _place(self, row: int) -> Town:
        code, _, region = self._regions[self._region[row]]
        country = code.partition(".")[0]
        lat, lon = float(self._lat_deg[row]), float(self._lon_deg[row])
        return Town(
            name=self._name(row),
            country=self._countries.get(country, country),
            country_code=country,
            region=region,
            near=self._near(row),
            lat_deg=lat,
            lon_deg=lon,
            people=round(float(self._people[row])),
        )

    def _near(self, row: int) -> str:
        """The largest town not far from a small place, by which people tell villages of one name apart."""
        if self._people[row] >= NEAR_FROM_PEOPLE:
            return ""
        count = int(np.searchsorted(-self._people, -NEAR_FROM_PEOPLE, side="right"))
        lat, lon = self._lat_deg[row], self._lon_deg[row]
        close: Bools = np.abs(self._lat_deg[:count] - lat) < 0.6
        rows = np.flatnonzero(close)
        km = great_circle_km(lat, lon, self._lat_deg[rows], self._lon_deg[rows])
        inside = rows[km < NEAR_WITHIN_KM]
        if not inside.size:
            return ""
        return self._name(int(inside[0]))

    def _name(self, row: int) -> str:
        return self._names[row].decode()


def folded(text: str) -> str:
    """Lower case without accents: what a name looks like to a typist's keyboard."""
    low = text.casefold()
    for letter, plain in _LETTERS.items():
        low = low.replace(letter, plain)
    return low if low.isascii() else re.sub("[\u0300-\u036f]", "", unicodedata.normalize("NFKD", low))


def _lies_in(place: Town, where: str) -> bool:
    in_use = _IN_USE.get(place.country_code, "")
    names = (place.country_code, in_use, place.country, place.region, place.near)
    return any(folded(name).startswith(where) for name in names if name)


def _numbers(planes: np.ndarray) -> Ints:
    """32-bit integers from their bytes laid out by significance."""
    return np.ascontiguousarray(planes.T).view("<i4")[:, 0].astype(np.int64)
