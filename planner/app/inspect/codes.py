"""What stands in a box's QR code: one text, on every label and list we print, read back from every photo."""

from __future__ import annotations

from planner.model.box_names import fault_of

PREFIX = "SKEPWAY/"
"""In front of a box's name in its code, so that no other code in a yard is taken for one."""


def code_text(box: str) -> str:
    """What the code of a box says: its name, and nobody's; short, so that the code is coarse and reads from afar."""
    return PREFIX + box


def box_in(text: str) -> str | None:
    """The name of the box a code says; None for any other code, and for a name whose last letter is wrong."""
    name = text.strip().removeprefix(PREFIX)
    return name if text.strip().startswith(PREFIX) and fault_of(name) is None else None
