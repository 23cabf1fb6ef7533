"""What the command line hands back to the shell."""

from __future__ import annotations

from enum import IntEnum

from planner.errors import InputError, ServiceError, SkepwayError, StorageError


class Exit(IntEnum):
    """Exit codes; 1 is left to our own bugs, which end with a traceback."""

    FINE = 0
    BUG = 1
    INPUT = 2
    SERVICE = 3
    STORAGE = 4
    DO_NOT_GO = 10
    CANNOT_TELL = 11
    GO_IF = 12
    STOPPED = 130


EXIT_HELP = (
    "exit codes: 0 fine; 2 faults in what you gave; 3 an outside service failed, or weather or road "
    "do not suffice to tell; "
    "4 a file could not be read or written; with --fail-if-unsafe 10 do not go, "
    "11 cannot tell, 12 go if; 130 stopped by you, 143 or 129 by the system; 1 a bug of ours"
)


def exit_of(error: SkepwayError) -> Exit:
    """The exit code of an explained error."""
    for kind, code in ((InputError, Exit.INPUT), (ServiceError, Exit.SERVICE), (StorageError, Exit.STORAGE)):
        if isinstance(error, kind):
            return code
    return Exit.STOPPED
