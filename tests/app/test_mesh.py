"""Photos: the mesh against the light within ten points, no answer without bare light beside it, labels read right."""

from __future__ import annotations

import io
import random
import struct
import zlib

import numpy as np
import pytest
from PIL import Image

from planner.app.inspect.codes import code_text
from planner.app.inspect.mesh import read_mesh
from planner.app.inspect.photos import boxes_seen
from planner.model.box_names import box_name
from planner.store.photofile import grey, taken_in, taken_s
from tests import peak
from tests.app.label_pictures import label_photo
from tests.app.mesh_pictures import Scene, rendered, scene

HELD_OUT = 50_000
"""Pictures from here on were not looked at while the reader was made."""


@pytest.mark.parametrize("pictures", [10, pytest.param(500, marks=pytest.mark.slow)])
def test_the_blocked_share_is_within_ten_points_in_95_of_100(pictures: int) -> None:
    off = []
    for seed in range(HELD_OUT, HELD_OUT + pictures):
        shown = rendered(scene(seed))
        found = read_mesh(grey(shown.content, "x")).blocked
        off.append(1.0 if found is None else abs(found - shown.blocked))
    print(
        f"within 10 points: {np.mean(np.array(off) <= 0.1):.3f}; mean error {np.mean([o for o in off if o < 1]):.3f}"
    )
    assert np.mean(np.array(off) <= 0.1) >= 0.95


@pytest.mark.parametrize("pictures", [5, pytest.param(500, marks=pytest.mark.slow)])
def test_there_is_no_answer_without_bare_light_on_both_sides(pictures: int) -> None:
    answered = [
        seed
        for seed in range(HELD_OUT, HELD_OUT + pictures)
        if read_mesh(grey(rendered(scene(seed, strips=False)).content, "x")).blocked is not None
    ]
    assert answered == []


@pytest.mark.parametrize("blocked", [0.0, 0.3, 0.95])
def test_a_clear_picture_is_read_closely(blocked: float) -> None:
    shown = rendered(Scene(1, blocked, 10.0, quality=90, noise=0.005))
    found = read_mesh(grey(shown.content, "x"))
    assert found.blocked == pytest.approx(shown.blocked, abs=0.03)
    assert found.pitch_px == pytest.approx(10.0, rel=0.02)
    assert found.at_least_percent is not None
    assert abs(found.at_least_percent - 100 * shown.blocked) <= 4


@pytest.mark.parametrize("pitch_px", [8.0, 14.0, 25.0])
def test_a_photo_of_more_pixels_says_the_same(pitch_px: float) -> None:
    shown = rendered(Scene(2, 0.4, pitch_px, quality=85))
    assert read_mesh(grey(shown.content, "x")).blocked == pytest.approx(shown.blocked, abs=0.06)


@pytest.mark.parametrize(
    "picture",
    [
        np.zeros((400, 600), np.uint8),
        np.full((400, 600), 255, np.uint8),
        np.random.default_rng(1).integers(0, 255, (400, 600)).astype(np.uint8),
        np.tile(np.linspace(0, 255, 600).astype(np.uint8), (400, 1)),
        np.zeros((3, 3), np.uint8),
        np.full((400, 90), 200, np.uint8),
    ],
)
def test_what_is_no_mesh_gets_no_answer(picture: np.ndarray) -> None:
    found = read_mesh(picture)
    assert found.blocked is None
    assert found.why
    assert found.at_least_percent is None


@pytest.mark.parametrize("pictures", [4, pytest.param(200, marks=pytest.mark.slow)])
def test_labels_are_read_and_never_wrongly(pictures: int) -> None:
    """Six megapixels, blur to 2.2 pixels, tilt to 25 degrees: nine of ten read, no wrong name."""
    read = 0
    for seed in range(pictures):
        name = box_name(seed + 1)
        found = boxes_seen(grey(label_photo(code_text(name), seed), "x"))
        assert set(found) <= {name}
        read += found == (name,)
    print(f"read {read} of {pictures}")
    assert read >= 0.9 * pictures


def test_a_code_that_is_not_ours_names_no_box() -> None:
    assert boxes_seen(grey(label_photo("https://example.org/B023B", 3), "x")) == ()


# -- what comes with a photo -----------------------------------------------------------------------


def tagged(kind: str, *, offset: str = "+02:00") -> bytes:
    """A small photo that says when and where it was taken, and has a remark of the phone's."""
    image = Image.new("RGB", (64, 48), (200, 120, 40))
    exif = Image.Exif()
    exif[0x010F], exif[0x0112] = "SecretPhone", 6
    inner = exif.get_ifd(0x8769)
    inner[0x9003] = "2027:05:01 21:30:00"
    if offset:
        inner[0x9011] = offset
    gps = exif.get_ifd(0x8825)
    gps[1], gps[2], gps[3], gps[4] = "N", (48.0, 7.0, 30.0), "E", (8.0, 1.0, 2.0)
    out = io.BytesIO()
    more = {"comment": b"SecretPlace"} if kind == "JPEG" else {}
    image.save(out, kind, exif=exif, **more)
    return out.getvalue()


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_where_a_photo_was_taken_is_taken_out_and_when_is_kept(kind: str) -> None:
    content = tagged(kind)
    kept = taken_in(content, "a.jpg")
    assert kept.taken_s == 1809199800.0
    for secret in (b"SecretPhone", b"SecretPlace", b"GPS"):
        assert secret not in kept.content
    with Image.open(io.BytesIO(kept.content)) as bare, Image.open(io.BytesIO(content)) as before:
        assert dict(bare.getexif().get_ifd(0x8825)) == {}
        assert (bare.getexif().get(0x0112), bare.getexif().get_ifd(0x8769).get(0x9003)) == (
            6,
            "2027:05:01 21:30:00",
        )
        np.testing.assert_array_equal(np.asarray(bare.convert("RGB")), np.asarray(before.convert("RGB")))
    assert taken_in(kept.content, "a").content == kept.content


def test_a_photo_without_an_offset_shows_the_clock_of_the_yard() -> None:
    content = tagged("JPEG", offset="")
    assert taken_in(content, "a").taken_s is None
    assert taken_in(content, "a", "Europe/Berlin").taken_s == 1809199800.0


@pytest.mark.parametrize("stamp", ["", "yesterday", "2027:13:01 00:00:00", "0000:00:00 00:00:00"])
def test_a_stamp_that_is_none_leaves_the_time_open(stamp: str) -> None:
    assert taken_s(stamp, "+02:00", "") is None


def test_a_photo_is_looked_at_upright() -> None:
    assert grey(tagged("JPEG"), "a").shape == (64, 48)


# -- hostile ---------------------------------------------------------------------------------------


def png(width: int, height: int, body: bytes) -> bytes:
    def chunk(name: bytes, content: bytes) -> bytes:
        return (
            struct.pack(">I", len(content)) + name + content + struct.pack(">I", zlib.crc32(name + content))
        )

    head = struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", body) + chunk(b"IEND", b"")


def hostile(count: int) -> list[bytes]:
    """Truncated, with bytes changed, of two hundred megapixels, of the wrong kind, bombs."""
    dice = random.Random(5)
    whole = [tagged("JPEG"), tagged("PNG"), tagged("WEBP"), rendered(scene(7)).content]
    out = [
        b"",
        b"\xff\xd8",
        b"GIF89a" + bytes(100),
        b"%PDF-1.7",
        b"RIFF\xff\xff\xff\xffWEBP",
        png(20_000, 10_000, zlib.compress(bytes(1_000_000))),
        png(65_000, 65_000, b""),
        png(8_000, 7_000, zlib.compress(bytes(8_001 * 7_000), 9)),
        png(1, 1_000_000, zlib.compress(bytes(2_000_000), 9)),
    ]
    while len(out) < count:
        content = bytearray(dice.choice(whole))
        if dice.random() < 0.4:
            content = content[: dice.randrange(len(content))]
        for _ in range(dice.randint(1, 40)):
            if content:
                content[dice.randrange(min(len(content), dice.choice((64, 1024, 10**9))))] = dice.randrange(
                    256
                )
        out.append(bytes(content))
    return out


ALONE = """
import sys
from planner.app.inspect.photos import looked_at
from planner.errors import InputError
from tests.app.test_mesh import hostile
from tests.peak import held_mb
for content in hostile(int(sys.argv[1])):
    try:
        looked_at(content, "x")
    except InputError:
        continue
print(held_mb())
"""


@pytest.mark.parametrize("files", [25, pytest.param(500, marks=pytest.mark.slow)])
@pytest.mark.skipif(not peak.TOLD, reason="the peak is told by Linux only")
def test_hostile_pictures_end_in_words_within_400_mb(files: int) -> None:
    assert peak.alone(ALONE, str(files)) < 400.0
