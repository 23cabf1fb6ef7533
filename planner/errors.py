"""The errors Skepway explains to its users; everything else is our bug and is left to fly.

Every :class:`SkepwayError` says what happened and what the user can do now. Faults are data, so a
window can show each one beside the field it concerns.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


def reason_of(error: BaseException) -> str:
    """Why a file could not be used, as the system says it; as Python does where the system was not asked."""
    return getattr(error, "strerror", None) or str(error) or type(error).__name__


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong with a user's input: the field, the value found, and the remedy in plain words."""

    field: str
    value: str
    problem: str
    remedy: str

    def __str__(self) -> str:
        shown = f" = {self.value}" if self.value else ""
        return f"{self.field or 'file'}{shown}: {self.problem}. {self.remedy}"


class SkepwayError(Exception):
    """Base of all explained errors; ``str(error)`` is fit to be shown to the user."""


class InputError(SkepwayError):
    """The user's input cannot be used; carries every fault found, not only the first."""

    def __init__(self, faults: Sequence[Fault], where: str = "") -> None:
        self.faults = tuple(faults)
        self.where = where
        head = f"{where}: " if where else ""
        super().__init__(head + "; ".join(str(fault) for fault in self.faults))


class ServiceError(SkepwayError):
    """An outside service did not answer usefully; names the service, what happened and what to do."""

    def __init__(
        self, service: str, happened: str, remedy: str, *, retry_after_s: float | None = None
    ) -> None:
        self.service, self.happened, self.remedy = service, happened, remedy
        self.retry_after_s = retry_after_s
        super().__init__(f"{service}: {happened}. {remedy}")


class StorageError(SkepwayError):
    """A file could not be read or written; names the path and what to do."""


class Cancelled(SkepwayError):
    """The user stopped a piece of work; nothing was changed."""

    def __init__(self) -> None:
        super().__init__("Stopped; nothing was changed.")
