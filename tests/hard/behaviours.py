# ruff: noqa: E501
"""A service that misbehaves in some hundred and sixty ways: status, headers, length, packing, speed, content, age."""

from __future__ import annotations

import gzip
import json
import zlib
from collections.abc import Callable
from email.utils import formatdate
from time import time
from typing import Any

from tests.services import standin
from tests.services.standin import Behaviour

DAY_S = 86_400.0


def _headers(**headers: str) -> Behaviour:
    return standin.with_headers(**headers)


def _body(body: bytes, **headers: str) -> Behaviour:
    return standin.status(200, body, **headers)


def _deep(opening: str, closing: str, depth: int) -> bytes:
    return (opening * depth + "1" + closing * depth).encode()


def everywhere(change: Callable[[Any], Any]) -> Behaviour:
    """The ordinary answer with ``change`` done to every number, text and null in it."""

    def walk(value: Any) -> Any:
        if isinstance(value, dict):
            return {key: walk(inner) for key, inner in value.items()}
        if isinstance(value, list):
            return [walk(inner) for inner in value]
        return change(value)

    return standin.mangled(walk)


def _numbers(to: Any) -> Behaviour:
    return everywhere(
        lambda value: to if isinstance(value, int | float) and not isinstance(value, bool) else value
    )


def _texts(to: Any) -> Behaviour:
    return everywhere(lambda value: to if isinstance(value, str) else value)


def _raw(change: Callable[[bytes], bytes], **headers: str) -> Behaviour:
    def act(handler: Any, usual: Callable[[], Any]) -> None:
        handler.reply(
            200,
            change(json.dumps(usual()).encode()),
            {k.replace("_", "-").title(): v for k, v in headers.items()},
        )

    return act


def _without(*names: str) -> Behaviour:
    def walk(value: Any) -> Any:
        if isinstance(value, dict):
            return {key: walk(inner) for key, inner in value.items() if key not in names}
        return [walk(inner) for inner in value] if isinstance(value, list) else value

    return standin.mangled(walk)


def _renamed(by: Callable[[str], str]) -> Behaviour:
    def walk(value: Any) -> Any:
        if isinstance(value, dict):
            return {by(key): walk(inner) for key, inner in value.items()}
        return [walk(inner) for inner in value] if isinstance(value, list) else value

    return standin.mangled(walk)


def _lists(change: Callable[[list[Any]], list[Any]]) -> Behaviour:
    def walk(value: Any) -> Any:
        if isinstance(value, dict):
            return {key: walk(inner) for key, inner in value.items()}
        return change([walk(inner) for inner in value]) if isinstance(value, list) else value

    return standin.mangled(walk)


def _moved(by_s: float) -> Behaviour:
    """Every time in the answer moved: another week, another century."""

    def change(value: Any) -> Any:
        from datetime import datetime, timedelta

        if isinstance(value, int | float) and not isinstance(value, bool) and 1e9 < value < 4e9:
            return value + by_s
        if isinstance(value, str) and len(value) > 15 and value[4:5] == "-":
            stamp, slash, rest = value.partition("/")
            try:
                return (datetime.fromisoformat(stamp) + timedelta(seconds=by_s)).isoformat() + slash + rest
            except (ValueError, OverflowError):
                return value
        return value

    return everywhere(change)


def _zoneless(value: Any) -> Any:
    return value.replace("+00:00", "").removesuffix("Z") if isinstance(value, str) else value


STATUS = {f"status {code}": standin.status(code) for code in (
    100, 199, 201, 202, 204, 205, 206, 208, 226, 300, 301, 302, 303, 304, 305, 307, 308, 399, 400, 401, 402, 403, 404,
    405, 406, 407, 408, 409, 410, 411, 412, 413, 414, 415, 416, 417, 418, 421, 422, 423, 424, 425, 426, 428, 429, 431,
    451, 499, 500, 501, 502, 503, 504, 505, 507, 508, 511, 520, 522, 530, 599, 999)}  # fmt: skip

HEADERS = {
    "max-age without end": _headers(cache_control="max-age=" + "9" * 400),
    "max-age of ages": _headers(cache_control="max-age=99999999999"),
    "max-age below nothing": _headers(cache_control="max-age=-1"),
    "max-age of words": _headers(cache_control="max-age=soon, private=\x0b"),
    "no-store": _headers(cache_control="no-store"),
    "no-cache": _headers(cache_control="no-cache"),
    "every directive": _headers(cache_control="public, immutable, s-maxage=0, stale-while-revalidate=99, max-stale, " * 30),
    "expires never": _headers(expires="Fri, 31 Dec 9999 23:59:59 GMT"),
    "expires in the year nought": _headers(expires="Mon, 01 Jan 0000 00:00:00 GMT"),
    "expires nought": _headers(expires="0"),
    "expires nonsense": _headers(expires="when it is done"),
    "date of the future": _headers(date=formatdate(time() + 400 * DAY_S, usegmt=True), expires=formatdate(time(), usegmt=True)),
    "date nonsense": _headers(date="yesterday"),
    "vary on everything": _headers(vary="*"),
    "vary on much": _headers(vary="Accept, Cookie, User-Agent, X-Nothing"),
    "etag alone": _headers(etag='"x"'),
    "etag hostile": _headers(etag="\"'); drop table responses; --\""),
    "last-modified nonsense": _headers(last_modified="long ago"),
    "type of pictures": _headers(content_type="image/png"),
    "charset of nobody": _headers(content_type="application/json; charset=klingon"),
    "cookies": _headers(set_cookie="a=b; Domain=example.org"),
    "long header": _headers(x_long="y" * 60_000),
    "link": _headers(link='</next>; rel="next"'),
}  # fmt: skip

REDIRECTS = {
    "in a circle": standin.redirect_loop(),
    "to nowhere": standin.redirect_to("http://127.0.0.1:1/"),
    "to a file": standin.redirect_to("file:///etc/passwd"),
    "to no address": standin.redirect_to("http://"),
    "to a hostile address": standin.redirect_to("http://[::1"),
    "without a place": standin.status(302),
    "to a port of nobody": standin.redirect_to("http://127.0.0.1:99999/"),
    "to another scheme": standin.redirect_to("gopher://127.0.0.1/"),
}

LENGTH = {
    "empty": _body(b""),
    "cut": standin.cut(),
    "reset": standin.reset(),
    "huge": standin.huge(80 * 1024 * 1024),
    "huge without saying": standin.huge(80 * 1024 * 1024, announced=False),
    "stalled": standin.silent(5.0),
    "dripping": standin.drip(),
    "dripping headers": standin.drip_headers(),
}

PACKING = {
    "gzip bomb": standin.bomb(),
    "gzip that is none": _body(b'{"a": 1}', content_encoding="gzip"),
    "gzip cut": _raw(lambda body: gzip.compress(body)[:-10], content_encoding="gzip"),
    "gzip twice": _raw(lambda body: gzip.compress(gzip.compress(body)), content_encoding="gzip"),
    "gzip with a tail": _raw(lambda body: gzip.compress(body) + b"tail", content_encoding="gzip"),
    "deflate": _raw(zlib.compress, content_encoding="deflate"),
    "deflate broken": _raw(lambda body: zlib.compress(body)[2:50], content_encoding="deflate"),
    "brotli that is none": _raw(lambda body: body, content_encoding="br"),
    "packing of nobody": _raw(lambda body: body, content_encoding="pigz"),
    "utf-16": _raw(lambda body: body.decode().encode("utf-16")),
    "byte order mark": _raw(lambda body: b"\xef\xbb\xbf" + body),
    "latin-1 in utf-8": _raw(lambda body: body.replace(b'"', b'"\xe9', 3)),
    "nul bytes": _raw(lambda body: body.replace(b":", b":\x00", 2)),
    "half surrogates": _raw(lambda body: body.replace(b'": "', b'": "\\ud800', 5)),
    "twice": _raw(lambda body: body + body),
    "streaming failed late": _raw(lambda body: body[: len(body) * 2 // 3] + b"Unexpected error while streaming data: x"),
    "comments": _raw(lambda body: b"/* hello */" + body),
    "script": _raw(lambda body: b"callback(" + body + b")"),
    "log-in page": standin.html(),
}  # fmt: skip

DOCUMENTS = {
    f"document {text[:24].decode('latin-1')}": _body(text)
    for text in (
        b"null", b"true", b"0", b"-1e999", b"NaN", b'""', b'"text"', b"[]", b"{}", b"[[]]", b"[{}]", b"[null]", b'{"":{}}',
        b'{"error":true,"reason":"tired"}', b'{"error":{"message":["x"]}}', b'{"features":[]}', b'{"routes":[],"code":"Ok"}',
        b'{"trip":{"legs":[]}}', b'{"hourly":{}}', b'{"properties":null}', b'{"elevation":[]}', b"9" * 5000, b'{"a":' + b"9" * 5000 + b"}",
    )
}  # fmt: skip

DEPTH = {
    "deep lists": _body(_deep("[", "]", 100_000)),
    "deep tables": _body(_deep('{"a":', "}", 100_000)),
    "deep in hourly": _body(b'{"latitude":1,"longitude":1,"hourly_units":{},"hourly":' + _deep('{"time":[', "]}", 20_000) + b"}"),
    "deep and cut": _body(b"[" * 1_000_000),
    "deep in a fault": standin.status(500, _deep('{"error":', "}", 100_000)),
}  # fmt: skip

CONTENT = {
    "all null": everywhere(lambda _: None),
    "all numbers null": _numbers(None),
    "all numbers nought": _numbers(0),
    "all numbers negative": _numbers(-5),
    "all numbers vast": _numbers(1e300),
    "all numbers integers without end": _numbers(10**400),
    "all numbers not numbers": _numbers(float("nan")),
    "all numbers infinite": _numbers(float("inf")),
    "all numbers minus infinite": _numbers(float("-inf")),
    "all numbers texts": _numbers("12"),
    "all numbers true": _numbers(True),
    "all numbers lists": _numbers([1]),
    "all texts null": _texts(None),
    "all texts numbers": _texts(7),
    "all texts empty": _texts(""),
    "all texts long": _texts("x" * 100_000),
    "all texts hostile": _texts("\x1b[2J<script>\u202e'\";--"),
    "all texts lists": _texts([]),
    "no units": _without("hourly_units", "units", "uom"),
    "no times": _without("time", "validTime", "updated_at", "updateTime", "duration"),
    "no places": _without("latitude", "longitude", "coordinates", "lat", "lon", "location"),
    "no shapes": _without("geometry", "shape"),
    "no column of air": _without("temperature_2m", "air_temperature", "temperature"),
    "names in capitals": _renamed(str.upper),
    "names with blanks": _renamed(lambda name: name + " "),
    "lists empty": _lists(lambda _: []),
    "lists cut": _lists(lambda values: values[: len(values) // 2]),
    "lists longer": _lists(lambda values: values + values[-1:]),
    "lists backwards": _lists(lambda values: values[::-1]),
    "lists of null": _lists(lambda values: [None] * len(values)),
    "another week": _moved(7 * DAY_S),
    "last week": _moved(-7 * DAY_S),
    "half an hour off": _moved(1800.0),
    "a thousand years off": _moved(1000 * 365 * DAY_S),
    "times without a zone": everywhere(_zoneless),
    "units of nobody": everywhere(lambda value: "furlong" if value in ("°C", "celsius", "wmoUnit:degC", "kilometers") else value),
    "degrees for metres": everywhere(lambda value: "°C" if value == "m/s" else value),
    "another place": everywhere(lambda value: -value if isinstance(value, float) else value),
    "no time at all": _without("time", "duration", "durations"),
    "seconds nought": standin.mangled(lambda document: _seconds(document, 0)),
    "seconds negative": standin.mangled(lambda document: _seconds(document, -60)),
    "seconds without end": standin.mangled(lambda document: _seconds(document, 1e300)),
}  # fmt: skip


def _seconds(value: Any, to: float) -> Any:
    if isinstance(value, dict):
        return {
            key: [to] * len(inner) if key == "duration" and isinstance(inner, list)
            else to if key in ("duration", "time") and isinstance(inner, int | float)
            else to if key == "speed" and to else _seconds(inner, to)
            for key, inner in value.items()
        }  # fmt: skip
    return [_seconds(inner, to) for inner in value] if isinstance(value, list) else value


WAITS = {
    f"{code}, come back {after[:20]}": standin.status(code, retry_after=after)
    for code in (429, 503)
    for after in ("0", "-5", "99999", "9" * 400, "soon", "Fri, 31 Dec 9999 23:59:59 GMT", "1e3")
}

FAULTS: dict[str, Behaviour] = {
    **STATUS, **HEADERS, **REDIRECTS, **LENGTH, **PACKING, **DOCUMENTS, **DEPTH, **CONTENT, **WAITS,
}  # fmt: skip
