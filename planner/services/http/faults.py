"""What can go wrong with a request, put into words: which service, what happened, what to do now."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlsplit

import msgspec
import requests
from requests.exceptions import InvalidSchema, InvalidURL, SSLError, Timeout, TooManyRedirects
from urllib3.exceptions import (
    HTTPError,
    InvalidHeader,
    NameResolutionError,
    NewConnectionError,
    ReadTimeoutError,
)
from urllib3.util import Retry

from planner.errors import Cancelled, ServiceError, SkepwayError
from planner.reading import log_file, printable
from planner.services.http.limits import Limits
from planner.words import say


class UnreadableError(Exception):
    """A reader found the answer broken, of the wrong shape, or about something else."""


class StoppedError(Exception):
    """The call was cancelled or ran out of time."""


class TooLargeError(Exception):
    """The body, as sent or unpacked, is larger than any honest answer."""


class RefusedError(ServiceError):
    """The service understood and refused: asking again, or an older answer, would only hide the fault."""


def explained(
    service: str, request: requests.PreparedRequest, fault: BaseException, limits: Limits
) -> SkepwayError | None:
    """The explained error for what is known to go wrong below; None for what nobody foresaw."""
    if isinstance(fault, SkepwayError):
        return fault
    if isinstance(fault, StoppedError) and str(fault) == "cancelled":
        return Cancelled()
    if isinstance(fault, UnreadableError | msgspec.MsgspecError):
        return unreadable(service, fault)
    host = urlsplit(request.url or "").hostname or "the server"
    said = _broken_connection(fault, host, limits)
    if said is None and isinstance(fault, ValueError):
        return unreadable(service, fault)
    return None if said is None else ServiceError(service, *said)


def unforeseen(service: str, fault: Exception) -> ServiceError:
    """The error for an answer that broke whatever read it; the log tells where."""
    happened = say("services.other_form_see", name=str(type(fault).__name__), value=str(log_file()))
    return ServiceError(service, happened, "Check the address in settings.toml, or use another source")


def _broken_connection(fault: BaseException, host: str, limits: Limits) -> tuple[str, str] | None:
    """What happened and what to do, for faults between here and the service's answer."""
    if isinstance(fault, StoppedError):
        return say("services.no_complete_answer", total_s=f"{limits.total_s:.0f}"), "Try again later"
    if isinstance(fault, TooLargeError):
        size = limits.body_bytes // (1024 * 1024)
        return say("services.answer_larger_than", size=str(size)), "Check the address in settings.toml"
    if isinstance(fault, TooManyRedirects):
        return "the address redirects in a circle", "Check the address in settings.toml"
    if isinstance(fault, InvalidSchema | InvalidURL):
        return "the address is not a web address", "Correct it in settings.toml"
    if isinstance(fault, SSLError):
        return say(
            "services.no_secure_connection", host=str(host)
        ), "Check this computer's date and any proxy, then try again"
    if caused_by(fault, NameResolutionError):
        return say("services.name_cannot_found", host=str(host)), "Check that you are online, and the address"
    if isinstance(fault, Timeout) or caused_by(fault, ReadTimeoutError):
        return say("services.no_answer_in_time", host=str(host)), "Try again later"
    if is_unreachable(fault):
        return say("services.refuses_connection", host=str(host)), "Check the address, or try again later"
    if isinstance(fault, requests.RequestException | HTTPError | OSError):
        return "the connection broke off", "Try again in a minute"
    return None


def unreadable(service: str, fault: Exception) -> ServiceError:
    """The error for an answer that arrived whole but cannot be used."""
    if isinstance(fault, UnreadableError):
        return ServiceError(
            service, printable(str(fault))[:500], "Check the address in settings.toml, or use another source"
        )
    if not isinstance(fault, ValueError):
        return unforeseen(service, fault)
    if isinstance(fault, msgspec.ValidationError):
        happened = say("services.other_form", value=str(printable(str(fault))[:300]))
        return ServiceError(service, happened, "Check the address in settings.toml, or use another source")
    return ServiceError(
        service,
        "the answer is not data but something else, perhaps a log-in page",
        "Check the address, and whether this network wants a log-in first",
    )


def is_unreachable(fault: BaseException | None) -> bool:
    """True for an unknown host name or a refused connection: trying again at once cannot help."""
    return caused_by(fault, NameResolutionError) or caused_by(fault, NewConnectionError)


def caused_by(fault: BaseException | None, kind: type[BaseException]) -> bool:
    """True where ``kind`` is anywhere among the faults that the libraries wrapped into one another."""
    seen: list[object] = [fault]
    for item in seen:
        if isinstance(item, kind):
            return True
        if isinstance(item, BaseException) and len(seen) < 50:
            seen += [getattr(item, "reason", None), item.__cause__, item.__context__, *item.args]
    return False


MOST_REASON_BYTES = 100_000
_REMEDIES = {
    400: "Check the places and dates of the trip",
    401: "Check the key in settings.toml",
    403: "Check the key and the contact in settings.toml",
    404: "Check the address in settings.toml, and whether the service covers this place",
    429: "Wait, or use fewer points or another source",
}


def refused(service: str, response: Any) -> ServiceError:
    """The error for an HTTP status; where the request itself is at fault no old answer may stand in."""
    status = int(response.status_code)
    reason = _reason(response.content)
    happened = f"answered {status}" + (f": {reason}" if reason else "")
    usual = "Try again later" if status >= 500 else "Check the settings of this service"
    retry_after_s = wait_asked_s(response)
    lasting = 400 <= status < 500 and status not in (408, 425, 429)
    kind = RefusedError if lasting else ServiceError
    return kind(service, happened, _REMEDIES.get(status, usual), retry_after_s=retry_after_s)


def wait_asked_s(response: Any) -> float | None:
    """Seconds the service asks us to wait (Retry-After, as seconds or date), None where it does not say."""
    try:
        return Retry().get_retry_after(response.raw)
    except (InvalidHeader, ValueError, OverflowError):
        return None


def _reason(body: bytes) -> str:
    """The service's own words from an error body, in any of the documented forms, at most 300 characters."""
    if len(body) > MOST_REASON_BYTES:
        return ""
    try:
        said = msgspec.json.decode(body)
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError):
        return ""
    for name in ("reason", "message", "error", "detail", "title"):
        if isinstance(said, dict) and name in said:
            value = said[name]
            if isinstance(value, dict):
                value = value.get("message", "")
            if isinstance(value, str) and value:
                return printable(" ".join(value[:2000].split()))[:300].rstrip(".")
    return ""
