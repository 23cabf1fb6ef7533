"""The one room for HTTP: manners, limits, cache, and every fault turned into words."""

from planner.services.http.client import OLD_NOTE, CachedResponse, Client, Reader, age_text, json_as
from planner.services.http.faults import RefusedError, UnreadableError, unreadable
from planner.services.http.limits import Limits

__all__ = [
    "OLD_NOTE",
    "CachedResponse",
    "Client",
    "Limits",
    "Reader",
    "RefusedError",
    "UnreadableError",
    "age_text",
    "json_as",
    "unreadable",
]
