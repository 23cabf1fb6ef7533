"""The view on paper: title, answer and the pictures, one landscape page, in the light palette whatever the screen's."""

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
GAP = 12.0


def write_pdf(path: Path, title: str, lines: Sequence[str], pictures: Sequence[Panel]) -> None:
    """Write one page to ``path``; ``lines`` are the answer and what belongs to it."""
    writer = QPdfWriter(str(path))
    writer.setTitle(title)
    writer.setResolution(DOTS_PER_INCH)
    writer.setPageLayout(page_layout())
    in_light(lambda: paint_page(writer, title, lines, pictures))


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


def paint_page(
    device: QPagedPaintDevice, title: str, lines: Sequence[str], pictures: Sequence[Panel]
) -> None:
    """Paint onto any paged device (a PDF or a printer): words on top, the pictures below, two to a row."""
    paint = QPainter(device)
    scale = device.logicalDpiX() / 96.0
    page = QRectF(0, 0, device.width() / scale, device.height() / scale)
    paint.scale(scale, scale)
    y = _words(paint, page, title, lines)
    shown = [picture for picture in pictures if picture.isVisible()]
    rows = [shown[at : at + 2] for at in range(0, len(shown), 2)]
    heights = [(page.width() - GAP * (len(row) - 1)) / sum(_aspect(p) for p in row) for row in rows]
    room = page.height() - y - GAP * (len(rows) - 1)
    by = min(1.0, room / max(sum(heights), 1.0))
    for row, height in zip(rows, heights, strict=True):
        x = 0.0
        for picture in row:
            box = QRectF(x, y, _aspect(picture) * height * by, height * by)
            _picture(paint, picture, box)
            x = box.right() + GAP
        y += height * by + GAP
    paint.end()


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
