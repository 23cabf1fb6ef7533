"""Photos as they come from phones: bounded, told apart by what they hold, their place taken out and their time kept.

Metadata is cut out byte by byte and the picture itself is left as it is: nothing is decoded to be kept, and what was
photographed stays what was photographed.
"""

from __future__ import annotations

import io
import struct
import warnings
import zlib
from collections.abc import Callable, Iterator
from contextlib import suppress
from datetime import datetime, timedelta, timezone
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from planner.errors import Fault, InputError
from planner.reading import net
from planner.store.logbook.records import Picture
from planner.words import say

if TYPE_CHECKING:
    from PIL import Image

Grey = NDArray[np.uint8]

FORMATS = ("JPEG", "PNG", "WEBP")
MOST_PIXELS = 60_000_000
"""Pixels of a picture that has to be unpacked whole; a JPEG is unpacked smaller where it is larger."""
MOST_JPEG_PIXELS = 400_000_000
MOST_BYTES = 100_000_000
USED_PIXELS = 13_000_000
"""What is looked at: a picture of more pixels is taken smaller."""

ORIENTATION, EXIF_PART, TAKEN, TAKEN_OFFSET = 0x0112, 0x8769, 0x9003, 0x9011
UPRIGHT = 1
DAMAGED = (SyntaxError, struct.error, ValueError, TypeError, LookupError, ArithmeticError, OSError)
"""What reading metadata raises that somebody cut or wrote over."""


def taken_in(content: bytes, name: str, zone: str = "") -> Picture:
    """A picture fit to be kept: where it was taken is out of it, when it was taken is known.

    Parameters
    ----------
    content : JPEG, PNG or WebP
    name : for what is said of it
    zone : IANA zone whose clock an undated camera is taken to show; "" leaves the time open then

    Raises
    ------
    InputError : it is no picture of these kinds, or cannot be read as one
    """
    with net(_unreadable(name)):
        return _taken_in(content, name, zone)


def _taken_in(content: bytes, name: str, zone: str) -> Picture:
    with _opened(content, name) as image:
        kind, (width, height) = str(image.format), image.size
        turned, stamp, offset = _metadata(image)
    kept = {"JPEG": _bare_jpeg, "PNG": _bare_png, "WEBP": _bare_webp}[kind](
        content, _exif(turned, stamp, offset)
    )
    return Picture(kept, kind.lower(), taken_s(stamp, offset, zone), width, height)


def grey(content: bytes, name: str, most: int = USED_PIXELS) -> Grey:
    """A picture as brightness 0..255, (row, column), upright, of at most ``most`` pixels. Raises InputError."""
    with net(_unreadable(name)), _opened(content, name) as image:
        if image.width * image.height > most:
            shrink = (most / (image.width * image.height)) ** 0.5
            image.draft("L", (int(image.width * shrink), int(image.height * shrink)))
        turned, *_ = _metadata(image)
        if image.width * image.height > MOST_PIXELS:
            raise _refused(name, say("checks.too_many_pixels"))
        plain = image.convert("L")
        if plain.width * plain.height > most:
            plain = plain.reduce(int(np.ceil((plain.width * plain.height / most) ** 0.5)))
        return _upright(np.asarray(plain, dtype=np.uint8), turned)


def _metadata(image: Image.Image) -> tuple[int, str, str]:
    """Which way is up, 1 to 8, and when the camera says it was taken; as if untold where metadata are damaged.

    The picture beside them is not.
    """
    with warnings.catch_warnings(), suppress(*DAMAGED):
        warnings.simplefilter("ignore")
        exif = image.getexif()
        stamp = exif.get_ifd(EXIF_PART) if exif else {}
        turned = int(exif.get(ORIENTATION, UPRIGHT)) if exif else UPRIGHT
        return turned, str(stamp.get(TAKEN, "")), str(stamp.get(TAKEN_OFFSET, ""))
    return UPRIGHT, "", ""


def _upright(shown: Grey, turned: int) -> Grey:
    """A picture as it stood before the camera: by EXIF the way the first row and the first column lie."""
    if 5 <= turned <= 8:
        shown = shown.T
    if turned in (3, 4, 7, 8):
        shown = shown[::-1]
    if turned in (2, 3, 6, 7):
        shown = shown[:, ::-1]
    return np.ascontiguousarray(shown)


def _opened(content: bytes, name: str) -> Image.Image:
    from PIL import Image, ImageFile

    if len(content) > MOST_BYTES:
        raise _refused(name, say("checks.too_many_bytes", most=MOST_BYTES // 1_000_000))
    ImageFile.LOAD_TRUNCATED_IMAGES = False
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # sizes are looked at here, and odd metadata is cut out
        limit, Image.MAX_IMAGE_PIXELS = Image.MAX_IMAGE_PIXELS, None
        try:
            image = Image.open(io.BytesIO(content), formats=FORMATS)
        finally:
            Image.MAX_IMAGE_PIXELS = limit
    most = MOST_JPEG_PIXELS if image.format == "JPEG" else MOST_PIXELS
    if image.width * image.height > most:
        raise _refused(name, say("checks.too_many_pixels"))
    return image


def _refused(name: str, problem: str) -> InputError:
    return InputError([Fault("picture", "", problem, say("checks.choose_picture"))], name)


def _unreadable(name: str) -> Callable[[Exception], InputError]:
    return lambda fault: _refused(name, say("checks.no_picture", reason=type(fault).__name__))


def taken_s(stamp: str, offset: str, zone: str) -> float | None:
    """When a picture was taken, POSIX seconds, from the camera's stamp; None where it cannot be told."""
    try:
        clock = datetime.strptime(stamp.strip("\0 "), "%Y:%m:%d %H:%M:%S")
        ahead = _ahead(offset)
        if ahead is not None:
            return clock.replace(tzinfo=timezone(ahead)).timestamp()
        return clock.replace(tzinfo=ZoneInfo(zone)).timestamp() if zone else None
    except (ValueError, KeyError, OverflowError, OSError):
        return None


def _ahead(offset: str) -> timedelta | None:
    text = offset.strip("\0 ")
    if len(text) != 6 or text[0] not in "+-" or text[3] != ":":
        return None
    ahead = timedelta(hours=int(text[1:3]), minutes=int(text[4:]))
    return -ahead if text[0] == "-" else ahead


# -- metadata cut out ------------------------------------------------------------------------------


def _exif(turned: int, stamp: str, offset: str) -> bytes:
    """EXIF that says which way is up and when, and nothing else."""
    from PIL import Image

    exif = Image.Exif()
    if 1 <= turned <= 8:
        exif[ORIENTATION] = turned
    inner = {TAKEN: stamp, TAKEN_OFFSET: offset}
    exif.get_ifd(EXIF_PART).update({tag: text for tag, text in inner.items() if text and text.isascii()})
    return exif.tobytes()


LENGTHLESS = {0x01, *range(0xD0, 0xD9)}
KEPT_APP = {0xE0, 0xE2, 0xEE}
"""JFIF, colour profile and Adobe's colour mark: what a picture needs to look right."""


def _bare_jpeg(content: bytes, exif: bytes) -> bytes:
    out = [b"\xff\xd8"]
    if exif:
        out.append(b"\xff\xe1" + struct.pack(">H", len(exif) + 2) + exif)
    at = 2
    while at < len(content):
        if content[at] != 0xFF:
            raise ValueError("a marker is missing")
        marker = content[at + 1]
        if marker == 0xFF:
            at += 1
        elif marker == 0xD9:
            out.append(b"\xff\xd9")
            return b"".join(out)
        elif marker in LENGTHLESS:
            out.append(content[at : at + 2])
            at += 2
        else:
            (length,) = struct.unpack(">H", content[at + 2 : at + 4])
            end = at + 2 + length
            if marker == 0xDA:
                end = _end_of_scan(content, end)
            if not (0xE0 <= marker <= 0xEF or marker == 0xFE) or (
                marker in KEPT_APP and not _is_foreign(content, at)
            ):
                out.append(content[at:end])
            at = end
    raise ValueError("the picture breaks off")


def _is_foreign(content: bytes, at: int) -> bool:
    """Whether an APP2 is no colour profile: some cameras keep further pictures there."""
    return content[at + 1] == 0xE2 and content[at + 4 : at + 15] != b"ICC_PROFILE"


def _end_of_scan(content: bytes, at: int) -> int:
    while True:
        at = content.find(b"\xff", at)
        if at < 0 or at + 1 >= len(content):
            raise ValueError("the picture breaks off")
        if content[at + 1] != 0 and not 0xD0 <= content[at + 1] <= 0xD7:
            return at
        at += 2


KEPT_PNG = (b"IHDR", b"PLTE", b"IDAT", b"IEND", b"tRNS", b"gAMA", b"cHRM", b"sRGB", b"iCCP", b"sBIT", b"pHYs")


def _bare_png(content: bytes, exif: bytes) -> bytes:
    out = [content[:8]]
    for name, body in _png_chunks(content):
        if name in KEPT_PNG:
            out.append(_png_chunk(name, body))
        if name == b"IHDR" and exif:
            out.append(_png_chunk(b"eXIf", exif.removeprefix(b"Exif\0\0")))
    return b"".join(out)


def _png_chunks(content: bytes) -> Iterator[tuple[bytes, bytes]]:
    at = 8
    while at < len(content):
        length, name = struct.unpack(">I4s", content[at : at + 8])
        yield name, content[at + 8 : at + 8 + length]
        if name == b"IEND":
            return
        at += length + 12
    raise ValueError("the picture breaks off")


def _png_chunk(name: bytes, body: bytes) -> bytes:
    return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))


KEPT_WEBP = (b"VP8 ", b"VP8L", b"ALPH", b"ICCP", b"ANIM", b"ANMF")
EXIF_FLAG, XMP_FLAG = 0x08, 0x04


def _bare_webp(content: bytes, exif: bytes) -> bytes:
    body, at = b"WEBP", 12
    extended = False
    while at + 8 <= len(content):
        name, length = struct.unpack("<4sI", content[at : at + 8])
        chunk = content[at + 8 : at + 8 + length]
        if len(chunk) != length:
            raise ValueError("the picture breaks off")
        if name == b"VP8X":
            extended = True
            flags = chunk[0] & ~(EXIF_FLAG | XMP_FLAG) | (EXIF_FLAG if exif else 0)
            body += _riff(name, bytes([flags]) + chunk[1:])
        elif name in KEPT_WEBP:
            body += _riff(name, chunk)
        at += 8 + length + length % 2
    if extended and exif:
        body += _riff(b"EXIF", exif.removeprefix(b"Exif\0\0"))
    return b"RIFF" + struct.pack("<I", len(body)) + body


def _riff(name: bytes, chunk: bytes) -> bytes:
    return name + struct.pack("<I", len(chunk)) + chunk + b"\0" * (len(chunk) % 2)
