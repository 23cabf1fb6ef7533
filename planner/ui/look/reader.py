"""A sheet that shows a page of ``app/explain`` beside the window, its figures in the palette in use."""

from __future__ import annotations

from PySide6.QtCore import Qt, QUrl
from PySide6.QtGui import QImage, QPainter, QTextDocument
from PySide6.QtWidgets import QDialog, QPushButton, QTextBrowser, QVBoxLayout, QWidget

from planner.app.common.chart import Box
from planner.app.explain.page import Figure, Page, page_body
from planner.ui.look import strings as s
from planner.ui.look import theme
from planner.ui.look.chart_view import ScreenCanvas, shade

WIDTH, HEIGHT = 900, 720
FIGURE_WIDTH = 840
SHARP = 2
"""Pixels of a figure for each of the page: sharp on fine screens and when printed."""


class Reader(QDialog):
    """Scrolls through one page; never blocks the window."""

    def __init__(self, parent: QWidget, page: Page) -> None:
        super().__init__(parent)
        self.setWindowTitle(page.title)
        self.resize(WIDTH, HEIGHT)
        self.text = QTextBrowser()
        self.text.setOpenLinks(False)
        self.text.document().setDefaultFont(theme.font())
        self.text.document().setDefaultStyleSheet(_style())
        self.text.setHtml(page_body(page, self._shown))
        close = QPushButton(s.say(s.CLOSE))
        close.clicked.connect(self.accept)
        column = QVBoxLayout(self)
        column.addWidget(self.text, 1)
        column.addWidget(close, 0, Qt.AlignmentFlag.AlignRight)

    def _shown(self, number: int, figure: Figure) -> str:
        name = f"figure:{number}"
        self.text.document().addResource(QTextDocument.ResourceType.ImageResource, QUrl(name), _image(figure))
        return f'<img src="{name}" width="{FIGURE_WIDTH}" height="{figure.height:.0f}">'


def _image(figure: Figure) -> QImage:
    """A figure painted in the palette in use."""
    image = QImage(
        FIGURE_WIDTH * SHARP, round(figure.height * SHARP), QImage.Format.Format_ARGB32_Premultiplied
    )
    image.fill(shade("panel"))
    paint = QPainter(image)
    paint.scale(SHARP, SHARP)
    figure.paint(ScreenCanvas(paint), Box(0.0, 0.0, float(FIGURE_WIDTH), figure.height))
    paint.end()
    return image


def _style() -> str:
    ink, soft, harm = (shade(use).name() for use in ("ink", "ink_soft", "harm"))
    return (
        f"h1, h2, p, td {{ color: {ink} }} th {{ color: {soft}; text-align: left }} "
        f"th, td {{ padding: 3px 10px 3px 0 }} tr.fails td {{ color: {harm} }}"
    )
