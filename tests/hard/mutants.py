"""Damaged files: drawn from whole ones with a fixed seed, as disks, mail, editors and ill will damage them."""

from __future__ import annotations

import os
import random
import re
from collections.abc import Callable, Iterator, Sequence

FRESH = os.environ.get("SKEPWAY_FUZZ_SEED", "")
"""Read while tests are gathered: each test has an environment of its own, in which nothing of ours is set."""

NUMBERS = re.compile(rb"-?\d+(?:\.\d+)?")
TEXTS = re.compile(rb'"[^"\n]{0,80}"')
WORDS = re.compile(rb"[A-Za-z_][A-Za-z_0-9-]{1,40}")

EXTREME = (
    b"0", b"-1", b"1e300", b"-1e300", b"1e-300", b"nan", b"inf", b"-inf", b"9" * 400, b"9" * 5000, b"1e400",
    b"2147483648", b"9223372036854775808", b"-9223372036854775809", b"0.1", b"360", b"90.0001", b"true", b"null",
    b'"text"', b"[]", b"{}", b"0001-01-01", b"9999-12-31T23:59", b"25:61", b"2027-02-30", b"NaN", b"-0", b"",
)  # fmt: skip
HOSTILE = (
    b"", b"\x00", b"\x1b[2J\x1b]0;x\x07", "\u202egnp.exe".encode(), b"a" * 70_000, b"../../../etc/passwd", b"/dev/zero",
    b"<script>alert(1)</script>", b"{{7*7}}", b"%s%n", "\U0001f41d".encode(), b"\xff\xfe", b"\xed\xa0\x80", b"CON",
    b"Europe/Nowhere", b"../Etc/UTC", b"UTC+99:99", b"'; drop table plans; --", b"\r\n\r\n", b"file:///etc/passwd",
)  # fmt: skip


def mutants(seeds: Sequence[bytes], count: int, seed: int) -> Iterator[bytes]:
    """So many damaged copies, the same ones for the same seed; SKEPWAY_FUZZ_SEED in the environment draws others."""
    chance = random.Random(f"{seed} {FRESH}" if FRESH else seed)
    for _ in range(count):
        text = chance.choice(seeds)
        for _ in range(chance.choice((1, 1, 1, 2, 3))):
            text = chance.choice(_WAYS)(text, chance)
        yield text


def _spot(text: bytes, chance: random.Random) -> tuple[int, int]:
    start = chance.randrange(len(text) + 1)
    return start, min(len(text), start + chance.choice((1, 1, 2, 8, 40, 400)))


def _flip(text: bytes, chance: random.Random) -> bytes:
    start, _ = _spot(text, chance)
    return text[:start] + bytes([chance.randrange(256)]) + text[start + 1 :]


def _cut(text: bytes, chance: random.Random) -> bytes:
    start, end = _spot(text, chance)
    return text[:start] + text[end:]


def _end(text: bytes, chance: random.Random) -> bytes:
    return text[: chance.randrange(len(text) + 1)]


def _twice(text: bytes, chance: random.Random) -> bytes:
    start, end = _spot(text, chance)
    return text[:end] + text[start:end] * chance.choice((1, 1, 3)) + text[end:]


def _noise(text: bytes, chance: random.Random) -> bytes:
    start, _ = _spot(text, chance)
    return text[:start] + chance.randbytes(chance.choice((1, 4, 60))) + text[start:]


def _replaced(pattern: re.Pattern[bytes], by: Callable[[random.Random], bytes]) -> Callable[..., bytes]:
    def change(text: bytes, chance: random.Random) -> bytes:
        found = list(pattern.finditer(text))
        if not found:
            return text
        one = chance.choice(found)
        return text[: one.start()] + by(chance) + text[one.end() :]

    return change


def _lines(text: bytes, chance: random.Random) -> bytes:
    lines = text.split(b"\n")
    here, there = chance.randrange(len(lines)), chance.randrange(len(lines))
    lines[here], lines[there] = lines[there], lines[here]
    if chance.random() < 0.3:
        del lines[chance.randrange(len(lines))]
    return b"\n".join(lines)


def _nested(text: bytes, chance: random.Random) -> bytes:
    start, _ = _spot(text, chance)
    depth = chance.choice((3, 30, 300, 3000))
    opening, closing = chance.choice(((b"[", b"]"), (b'{"a":', b"}"), (b"<a>", b"</a>"), (b"(", b")")))
    return text[:start] + opening * depth + b"1" + closing * depth + text[start:]


def _encoded(text: bytes, chance: random.Random) -> bytes:
    way = chance.choice(("utf-16", "utf-32", "utf-8-sig", "cp1252", "utf-7"))
    return text.decode("utf-8", "replace").encode(way, "replace")


_WAYS: tuple[Callable[[bytes, random.Random], bytes], ...] = (
    _flip,
    _cut,
    _end,
    _twice,
    _noise,
    _replaced(NUMBERS, lambda chance: chance.choice(EXTREME)),
    _replaced(NUMBERS, lambda chance: str(chance.uniform(-1e4, 1e4)).encode()),
    _replaced(TEXTS, lambda chance: b'"' + chance.choice(HOSTILE) + b'"'),
    _replaced(WORDS, lambda chance: chance.choice((b"a", b"version", b"count", b"lat", b"x" * 300))),
    _lines,
    _nested,
    _encoded,
)
