"""A sheet as plain text, to be copied into a message, and the address that opens one; nothing is sent by itself."""

from __future__ import annotations

from urllib.parse import quote

from planner.app.sheets.records import Sheet
from planner.paper.spoken import spoken
from planner.units import METRIC, UnitSystem

MOST_MAIL = 1800
"""Characters of an address that all mail programs take."""


def sheet_text(sheet: Sheet, units: UnitSystem = METRIC) -> str:
    """The words of a sheet, line by line."""
    told = spoken(sheet, units, on_paper=False)
    lines = [told["title"], *told["void"], ""]
    lines += [f"{label}: {value}" for label, value in told["pairs"]]
    lines += [f"{one['label']}: {one['value']} {one['note']}".rstrip() for one in told["figures"]]
    for block in told["blocks"]:
        lines += ["", block["title"].upper()]
        if block["heads"] and block["shape"] == "table":
            lines.append(" | ".join(block["heads"]))
        for row in block["rows"]:
            lines.append("- " + " | ".join(row["cells"]))
            if row["english"]:
                lines.append("  " + " | ".join(row["english"]))
    return "\n".join([*lines, "", *told["proof"]]) + "\n"


def mail_address(sheet: Sheet, units: UnitSystem = METRIC) -> str:
    """A ``mailto:`` address with the head of a sheet; the files are for the user to attach."""
    text = sheet_text(sheet, units)
    subject, body = text.split("\n", 1)
    address = f"mailto:?subject={quote(subject)}&body="
    while len(address + quote(body)) > MOST_MAIL and "\n" in body.strip():
        body = body.rstrip().rsplit("\n", 1)[0]
    return address + quote(body)
