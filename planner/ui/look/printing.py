"""The view on paper: title, answer and the pictures, landscape, in the light palette whatever the screen's."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

from PySide6.QtCore import QMarginsF, QPoint, QRectF, QSize, Qt
from PySide6.QtGui import (
    QFontMetricsF,
    QPagedPaintDevice,
    QPageLayout,
    QPageSize,
    QPainter,
    QPdfWriter,
    QRegion,
)
from PySide6.QtWidgets import QApplication, QWidget

from planner.ui.look import theme
from planner.ui.look.panel import Panel

DOTS_PER_INCH = 192
PRINTER_DOTS_PER_INCH = 300
"""For a printer Qt paints the panels as pictures: at its own 1200 dots each takes 250 MB and reads no better."""
GAP = 12.0
SHARES = {1: (1.0,), 2: (0.38, 0.62)}
"""Of a page's width, for the pictures of a row."""
PAGE_PX = 1030
"""About the width of a page, in the pixels in which pictures are laid out."""

Rows = Sequence[Sequence[Panel]]
"""The pictures of one page, row by row."""


def write_pdf(path: Path, title: str, lines: Sequence[str], pages: Sequence[Rows]) -> None:
    """Write to ``path``; ``lines`` are the answer and what belongs to it, above the pictures of the first page."""
    writer = QPdfWriter(str(path))
    writer.setTitle(title)
    writer.setResolution(DOTS_PER_INCH)
    writer.setPageLayout(page_layout())
    in_light(lambda: paint_pages(writer, title, lines, pages))


def page_layout() -> QPageLayout:
    return QPageLayout(
        QPageSize(QPageSize.PageSizeId.A4),
        QPageLayout.Orientation.Landscape,
        QMarginsF(12, 12, 12, 12),
        QPageLayout.Unit.Millimeter,
    )


def in_light(act: Callable[[], None]) -> None:
    """Do ``act`` in the light palette and put the user's own back."""
    app, before, scale = QApplication.instance(), theme.current().name, theme.stage.scale
    if before == "light" or not isinstance(app, QApplication):
        act()
        return
    theme.apply(app, "light", scale)
    try:
        act()
    finally:
        theme.apply(app, before, scale)


def paint_pages(device: QPagedPaintDevice, title: str, lines: Sequence[str], pages: Sequence[Rows]) -> None:
    """Paint onto any paged device (a PDF or a printer): words on top, the pictures below; the title on every page."""
    paint = QPainter(device)
    scale = device.logicalDpiX() / 96.0
    page = QRectF(0, 0, device.width() / scale, device.height() / scale)
    paint.scale(scale, scale)
    for number, rows in enumerate(pages):
        if number:
            device.newPage()
        _paint_rows(paint, page, _words(paint, page, title, () if number else lines), rows)
    paint.end()


def _paint_rows(paint: QPainter, page: QRectF, top: float, rows: Rows) -> None:
    """Every picture as wide as its share of the page, all of them smaller where they would not fit on it."""
    wides = [[share * (page.width() - GAP * (len(row) - 1)) for share in SHARES[len(row)]] for row in rows]
    heights = [
        max(wide / _aspect(picture) for wide, picture in zip(share, row, strict=True))
        for share, row in zip(wides, rows, strict=True)
    ]
    by = min(1.0, (page.height() - top - GAP * (len(rows) - 1)) / max(sum(heights), 1.0))
    for row, share, height in zip(rows, wides, heights, strict=True):
        x = 0.0
        for picture, wide in zip(row, share, strict=True):
            _picture(paint, picture, QRectF(x, top, wide * by, wide * by / _aspect(picture)))
            x += wide * by + GAP
        top += height * by + GAP


def _aspect(picture: Panel) -> float:
    return picture.width() / max(picture.height(), 1)


def _words(paint: QPainter, page: QRectF, title: str, lines: Sequence[str]) -> float:
    y = 0.0
    for number, text in enumerate((title, *lines)):
        face = theme.font((-0.5, 2.2)[number] if number < 2 else -0.5, bold=number == 1)
        face.setPixelSize(round(face.pointSizeF() * 96 / 72))
        paint.setFont(face)
        paint.setPen(theme.colour(theme.current().ink if number == 1 else theme.current().ink_soft))
        room = QRectF(0, y, page.width(), page.height())
        flags = Qt.AlignmentFlag.AlignLeft | Qt.TextFlag.TextWordWrap
        used = QFontMetricsF(face).boundingRect(room, flags, text)
        paint.drawText(room, flags, text)
        y += used.height() + 5
    return y + 8


def _picture(paint: QPainter, picture: Panel, box: QRectF) -> None:
    size = QSize(picture.size())
    by = min(box.width() / size.width(), box.height() / size.height())
    paint.save()
    paint.translate(box.topLeft())
    paint.scale(by, by)
    with picture.bare():
        picture.render(paint, QPoint(), QRegion(), QWidget.RenderFlag.DrawChildren)
    paint.restore()
