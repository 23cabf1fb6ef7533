"""Cuts the fonts of the sheets out of Noto Sans: Latin, Greek and Cyrillic, regular and bold.

    python tools/make_fonts.py FOLDER

FOLDER holds ``NotoSans-Regular.ttf`` and ``NotoSans-Bold.ttf`` (Debian's package ``fonts-noto-core`` carries them);
needs fontTools. ``coverage.txt`` lists the characters both have. The licence, SIL Open Font License 1.1, lies beside
the fonts.
"""

from __future__ import annotations

import argparse
from pathlib import Path

from fontTools import subset

RANGES = (
    (0x20, 0x7E),  # Latin
    (0xA0, 0x24F),
    (0x259, 0x259),
    (0x2B0, 0x2DD),  # letters that modify, and marks that stand alone
    (0x300, 0x345),  # marks that are put on letters
    (0x370, 0x3FF),  # Greek
    (0x400, 0x52F),  # Cyrillic
    (0x1E00, 0x1EFF),  # Latin with more marks, Vietnamese too
    (0x1F00, 0x1FFF),  # Greek with breathings
    (0x2010, 0x2015),
    (0x2018, 0x2022),
    (0x2026, 0x2026),
    (0x202F, 0x202F),
    (0x2030, 0x2044),
    (0x20A0, 0x20BF),  # currencies
    (0x2116, 0x2122),
)
OUT = Path(__file__).resolve().parent.parent / "resources" / "fonts"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", type=Path)
    folder: Path = parser.parse_args().folder
    wanted = [code for first, last in RANGES for code in range(first, last + 1)]
    covered = set(wanted)
    OUT.mkdir(exist_ok=True)
    for name in ("NotoSans-Regular.ttf", "NotoSans-Bold.ttf"):
        options = subset.Options(
            hinting=False, layout_features=["kern", "mark", "mkmk", "ccmp", "locl", "tnum"]
        )
        options.name_IDs = ["*"]
        font = subset.load_font(str(folder / name), options)
        cut = subset.Subsetter(options)
        cut.populate(unicodes=wanted)
        cut.subset(font)
        subset.save_font(font, str(OUT / name), options)
        covered &= set(font.getBestCmap())
        print(name, (OUT / name).stat().st_size, "bytes")
    (OUT / "coverage.txt").write_text("\n".join(_ranges(sorted(covered))) + "\n", encoding="ascii")


def _ranges(codes: list[int]) -> list[str]:
    """Runs of code points as ``20-7e``, in hexadecimal."""
    starts = [code for code in codes if code - 1 not in set(codes)]
    ends = [code for code in codes if code + 1 not in set(codes)]
    return [f"{first:x}-{last:x}" for first, last in zip(starts, ends, strict=True)]


if __name__ == "__main__":
    main()
