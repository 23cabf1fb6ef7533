"""Pictures of one sheet of each kind, for the README and for looking at.

    python -m tests.paper.pictures [FOLDER]

writes ``sheets.png`` (paper) into the folder, by default that of the README's pictures; where Chromium is at hand
``phone.png`` too.
"""

from __future__ import annotations

import io
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from PIL import Image

from planner.app.sheets.drive import buyer_sheet, driver_sheet
from planner.app.sheets.stay import receipt_sheet, receiver_sheet, yard_sheet
from planner.bundled import resource_path
from planner.paper.pdf import sheet_png
from planner.paper.phone import sheet_html
from tests.paper.made import BUYER, facts, people, without_figures

PPI, GAP = 84.0, 14
FLAGS = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--hide-scrollbars",
)


def paper() -> Image.Image:
    """Six sheets side by side."""
    trip = facts()
    sheets = (
        driver_sheet(trip, "en"),
        buyer_sheet(trip, BUYER, "de"),
        receiver_sheet(trip, "en"),
        yard_sheet(trip, people(24), "en"),
        receipt_sheet(trip, BUYER, "en"),
        driver_sheet(without_figures(), "en"),
    )
    pages = [Image.open(io.BytesIO(sheet_png(sheet, ppi=PPI))).convert("L") for sheet in sheets]
    width, height = pages[0].size
    whole = Image.new("L", (3 * width + 4 * GAP, 2 * height + 3 * GAP), 190)
    for number, page in enumerate(pages):
        column, row = number % 3, number // 3
        whole.paste(page, (GAP + column * (width + GAP), GAP + row * (height + GAP)))
    return whole


def phone(folder: Path) -> None:
    """The driver's page on a phone, 360 px wide."""
    browser = shutil.which("chromium")
    if browser is None:
        print("no Chromium: phone.png is left as it is", file=sys.stderr)
        return
    with tempfile.TemporaryDirectory() as held:
        page = Path(held) / "driver.html"
        page.write_text(sheet_html(driver_sheet(facts(), "en")), encoding="utf-8")
        shot = Path(held) / "shot.png"
        command = [
            browser,
            *FLAGS,
            f"--user-data-dir={held}/user",
            f"--screenshot={shot}",
            "--window-size=500,1500",
        ]
        subprocess.run([*command, page.as_uri()], check=True, capture_output=True, timeout=120)
        Image.open(shot).convert("L").save(folder / "phone.png", optimize=True)


def main() -> None:
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else resource_path("pictures")
    paper().quantize(16).save(folder / "sheets.png", optimize=True)
    phone(folder)


if __name__ == "__main__":
    main()
