"""Photos: turned upright as the camera says, taken in though what it wrote beside them is damaged."""

from __future__ import annotations

import io
import struct

import numpy as np
import pytest
from PIL import Image, ImageOps

from planner.errors import InputError
from planner.store import photofile
from planner.store.photofile import ORIENTATION, grey, taken_in, taken_s

FORMATS = ("JPEG", "PNG", "WEBP")
STAMPED = {0x9003: "2027:05:15 06:00:00", 0x9011: "+02:00"}


def photo(kind: str, turned: int | None) -> bytes:
    """A picture with another grey in every corner, larger than a compressing camera's blocks, and its metadata."""
    quarter = np.full((32, 48), 1, np.uint8)
    shown = np.block([[quarter * 20, quarter * 90], [quarter * 160, quarter * 230]])
    exif = Image.Exif()
    if turned is not None:
        exif[ORIENTATION] = turned
    exif.get_ifd(0x8769).update(STAMPED)
    stream = io.BytesIO()
    Image.fromarray(shown).convert("RGB").save(stream, kind, exif=exif, quality=95)
    return stream.getvalue()


def corners(shown: np.ndarray) -> list[int]:
    """Of which of the four greys each corner is, row by row."""
    return [round((int(shown[y, x]) - 20) / 70) for y in (5, -6) for x in (5, -6)]


@pytest.mark.parametrize("kind", FORMATS)
@pytest.mark.parametrize("turned", [None, 0, 1, 2, 3, 4, 5, 6, 7, 8, 9])
def test_a_picture_is_looked_at_upright(kind: str, turned: int | None) -> None:
    """As the library that decodes it turns it; another number than 1 to 8 turns nothing."""
    content = photo(kind, turned)
    wanted = np.asarray(ImageOps.exif_transpose(Image.open(io.BytesIO(content))).convert("L"))
    found = grey(content, "p")
    assert found.shape == wanted.shape
    assert corners(found) == corners(wanted)


def test_upright_is_another_way_for_each_number() -> None:
    """By the standard (EXIF 2.32, tag 274): 6 is a camera turned by a quarter, whose left column is above."""
    assert corners(grey(photo("PNG", 6), "p")) == [2, 0, 3, 1]
    assert len({tuple(corners(grey(photo("PNG", turned), "p"))) for turned in range(1, 9)}) == 8


@pytest.mark.parametrize("kind", FORMATS)
@pytest.mark.parametrize("turned", [None, 1, 6, 8])
def test_a_picture_that_is_kept_still_says_which_way_is_up(kind: str, turned: int | None) -> None:
    kept = taken_in(photo(kind, turned), "p").content
    assert Image.open(io.BytesIO(kept)).getexif().get(ORIENTATION, 1) == (turned or 1)
    assert corners(grey(kept, "p")) == corners(grey(photo(kind, turned), "p"))


@pytest.mark.parametrize("kind", FORMATS)
@pytest.mark.parametrize("wrong", [0, 9, 255])
def test_a_way_up_that_is_none_is_not_kept(kind: str, wrong: int) -> None:
    kept = taken_in(photo(kind, wrong), "p").content
    assert ORIENTATION not in Image.open(io.BytesIO(kept)).getexif()


@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize("kind", ["JPEG", "WEBP"])  # a PNG bears a sum of each part, and is damaged itself
@pytest.mark.parametrize("how", ["byte order", "a tag's length", "a tag's kind"])
def test_a_picture_beside_damaged_metadata_is_taken_in(kind: str, how: str) -> None:
    """It was refused as no picture, by a word only programmers know; or the library's warning stood on the screen."""
    content = photo(kind, 1)
    begin = content.index(b"MM\0\x2a")
    damage = {
        "byte order": (begin, b"a"),
        "a tag's length": (begin + 14, struct.pack(">I", 70_000)),
        "a tag's kind": (begin + 12, struct.pack(">H", 12)),
    }
    at, put = damage[how]
    broken = content[:at] + put + content[at + len(put) :]
    kept = taken_in(broken, "p")
    assert (kept.width, kept.height) == (96, 64)
    assert grey(broken, "p").shape == (64, 96)
    assert grey(kept.content, "p").shape == (64, 96)


def test_a_file_of_just_the_most_bytes_is_taken_in_and_of_one_more_refused(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    content = photo("PNG", None)
    monkeypatch.setattr(photofile, "MOST_BYTES", len(content))
    assert taken_in(content, "p").kind == "png"
    monkeypatch.setattr(photofile, "MOST_BYTES", len(content) - 1)
    with pytest.raises(InputError, match="longer than"):
        taken_in(content, "p")


@pytest.mark.parametrize(
    ("offset", "hour_utc"),
    [("+02:00", 4.0), ("-03:00", 9.0), ("-03:30", 9.5), ("+05:45", 0.25), ("+00:00", 6.0), ("-00:00", 6.0)],
)
def test_a_camera_says_by_which_clock_its_stamp_is(offset: str, hour_utc: float) -> None:
    """West of Greenwich clocks are behind."""
    midnight_s = 1_810_339_200.0  # 15 May 2027, 00:00 UTC
    assert taken_s("2027:05:15 06:00:00", offset, "Asia/Tokyo") == midnight_s + hour_utc * 3600.0


@pytest.mark.parametrize("offset", ["", "02:00", "*02:00", "+0200", "+02-00", "+2:00"])
def test_where_no_offset_is_told_the_yards_clock_is_taken(offset: str) -> None:
    assert taken_s("2027:05:15 06:00:00", offset, "Etc/UTC") == 1_810_339_200.0 + 6 * 3600.0


def test_an_offset_of_no_figures_leaves_the_time_open() -> None:
    assert taken_s("2027:05:15 06:00:00", "+aa:00", "Etc/UTC") is None
