"""QR codes: dark modules as rows of 0 and 1, drawn by whoever lays out."""

from __future__ import annotations

MEDIUM = "m"
"""Reads back with 15 % of it damaged (ISO/IEC 18004), which a wet label needs."""


def modules(text: str) -> list[str]:
    """The rows of a QR code without its quiet border, ``1`` dark."""
    import segno

    code = segno.make_qr(text, error=MEDIUM)
    return ["".join("1" if dark else "0" for dark in row) for row in code.matrix]
