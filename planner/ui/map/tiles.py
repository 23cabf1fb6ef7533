"""Street tiles under the road, if the user names a server: only what is in sight, kept on disk, credited.

Off until a server is set. Manners: an agent that names the program and the user's contact, the server's own
cache rules kept, few requests at once, no tile asked for that is not shown, a refused tile left alone a while.
"""

from __future__ import annotations

import math
import time
from collections import OrderedDict
from pathlib import Path

from PySide6.QtCore import QObject, QRectF, QSize, QUrl, Signal
from PySide6.QtGui import QPainter, QPixmap
from PySide6.QtNetwork import QNetworkAccessManager, QNetworkDiskCache, QNetworkReply, QNetworkRequest

SIDE_PX = 256
DEEPEST = 18
MOST_AT_ONCE = 6
MOST_IN_SIGHT = 80
KEPT = 300
DISK_BYTES = 200 * 1024 * 1024
LEAVE_ALONE_S = 60.0
Key = tuple[int, int, int]


class Tiles(QObject):
    """Paints the tiles it has and fetches the others; ``changed`` says that more have come."""

    changed = Signal()

    def __init__(self, url: str, agent: str, folder: Path) -> None:
        super().__init__()
        self.url, self.agent = url, agent
        self._net = QNetworkAccessManager(self)
        cache = QNetworkDiskCache(self._net)
        cache.setCacheDirectory(str(folder))
        cache.setMaximumCacheSize(DISK_BYTES)
        self._net.setCache(cache)
        self._have: OrderedDict[Key, QPixmap] = OrderedDict()
        self._asked: dict[Key, QNetworkReply] = {}
        self._refused: dict[Key, float] = {}
        self._wanted: list[Key] = []
        self._closed = False

    def paint(self, painter: QPainter, view: QRectF, size: QSize) -> None:
        """Paint what is known of ``view`` (Web Mercator, 0..1, y north) and ask for the rest."""
        depth = zoom_for(view.width(), size.width())
        self._wanted = []
        for key in in_sight(view, depth):
            picture = self._have.get(key)
            if picture is None:
                self._wanted.append(key)
            else:
                self._have.move_to_end(key)
                painter.drawPixmap(place(key, view, size), picture, QRectF(picture.rect()))
        self._ask()

    def close(self) -> None:
        """Give up whatever is still asked for, ask nothing more, and go when Qt has finished with the replies."""
        self._closed, self._wanted = True, []
        for reply in list(self._asked.values()):
            reply.abort()
        self.deleteLater()

    def _ask(self) -> None:
        now = time.monotonic()
        for key in self._wanted:
            if len(self._asked) >= MOST_AT_ONCE:
                return
            if key in self._asked or now - self._refused.get(key, -1e9) < LEAVE_ALONE_S:
                continue
            z, x, y = key
            address = self.url.replace("{z}", str(z)).replace("{x}", str(x)).replace("{y}", str(y))
            request = QNetworkRequest(QUrl(address))
            request.setHeader(QNetworkRequest.KnownHeaders.UserAgentHeader, self.agent)
            request.setAttribute(
                QNetworkRequest.Attribute.CacheLoadControlAttribute,
                QNetworkRequest.CacheLoadControl.PreferCache,
            )
            request.setTransferTimeout(15_000)
            reply = self._net.get(request)
            self._asked[key] = reply
            reply.finished.connect(lambda key=key, reply=reply: self._take(key, reply))

    def _take(self, key: Key, reply: QNetworkReply) -> None:
        self._asked.pop(key, None)
        reply.deleteLater()
        if self._closed:
            return
        picture = QPixmap()
        if reply.error() == QNetworkReply.NetworkError.NoError and picture.loadFromData(reply.readAll()):
            self._have[key] = picture
            while len(self._have) > KEPT:
                self._have.popitem(last=False)
            self.changed.emit()
        else:
            self._refused[key] = time.monotonic()
            self._ask()


def zoom_for(view_width: float, width_px: int) -> int:
    """The depth at which a tile is shown at about its own size."""
    whole = max(width_px, 1) / max(view_width, 1e-9)
    return min(max(round(math.log2(whole / SIDE_PX)), 0), DEEPEST)


def in_sight(view: QRectF, depth: int) -> list[Key]:
    """The tiles of ``depth`` that touch ``view``, from the middle outwards."""
    count = 2**depth
    first_x, last_x = (min(max(int(x * count), 0), count - 1) for x in (view.left(), view.right()))
    first_y, last_y = (min(max(int((1 - y) * count), 0), count - 1) for y in (view.bottom(), view.top()))
    keys = [(depth, x, y) for x in range(first_x, last_x + 1) for y in range(first_y, last_y + 1)]
    if len(keys) > MOST_IN_SIGHT:
        return []
    middle = ((first_x + last_x) / 2, (first_y + last_y) / 2)
    return sorted(keys, key=lambda key: abs(key[1] - middle[0]) + abs(key[2] - middle[1]))


def place(key: Key, view: QRectF, size: QSize) -> QRectF:
    """Where a tile stands on the widget, in pixels."""
    depth, x, y = key
    side = 1 / 2**depth
    by_x, by_y = size.width() / view.width(), size.height() / view.height()
    left = (x * side - view.left()) * by_x
    top = (view.bottom() - (1 - y * side)) * by_y
    return QRectF(left, top, side * by_x, side * by_y)
