"""The view on paper: title, answer and the pictures, one landscape page, in the light palette whatever the screen's."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

from PySide6.QtCore import QMarginsF, QPoint, QRectF, QSize, Qt
from PySide6.QtGui import QFontMetricsF, QPageLayout, QPageSize, QPainter, QPdfWriter, QRegion
from PySide6.QtWidgets import QApplication, QWidget

from planner.ui import theme

DOTS_PER_INCH = 192


def write_pdf(path: Path, title: str, lines: Sequence[str], pictures: Sequence[QWidget]) -> None:
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
    if before == "light":
        act()
        return
    theme.apply(app, "light", scale)
    try:
        act()
    finally:
        theme.apply(app, before, scale)


def paint_page(device, title: str, lines: Sequence[str], pictures: Sequence[QWidget]) -> None:
    """Paint onto any paged device (a PDF or a printer): words on top, four pictures below, two by two."""
    paint = QPainter(device)
    scale = device.logicalDpiX() / 96.0
    page = QRectF(0, 0, device.width() / scale, device.height() / scale)
    paint.scale(scale, scale)
    y = _words(paint, page, title, lines)
    shown = [picture for picture in pictures if picture.isVisible()]
    wide, high = page.width() / 2 - 6, (page.height() - y - 12) / 2
    for number, picture in enumerate(shown[:4]):
        row, column = divmod(number, 2)
        box = QRectF(column * (wide + 12), y + row * (high + 12), wide, high)
        _picture(paint, picture, box)
    paint.end()


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


def _picture(paint: QPainter, picture: QWidget, box: QRectF) -> None:
    size = QSize(picture.size())
    by = min(box.width() / size.width(), box.height() / size.height())
    paint.save()
    paint.translate(box.topLeft())
    paint.scale(by, by)
    picture.render(paint, QPoint(), QRegion(), QWidget.RenderFlag.DrawChildren)
    paint.restore()
