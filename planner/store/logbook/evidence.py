"""Pictures and logs beside the logbook, each named by the hash of what it holds, whole or not there at all."""

from __future__ import annotations

import hashlib
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import BinaryIO

from planner.errors import StorageError, reason_of
from planner.files import made_private, write_bytes, writing
from planner.words import say

FOLDER = "evidence"
CHUNK = 1 << 20


class Evidence:
    """The folder of pictures beside a logbook: ``evidence/ab/abcd...``."""

    def __init__(self, logbook: Path) -> None:
        self.folder = logbook.with_name(FOLDER)

    def path(self, mark: str) -> Path:
        """Where the file of a hash lies, there or not."""
        return self.folder / mark[:2] / mark

    def keep(self, content: bytes) -> str:
        """Write a file down and give its hash; the same content is one file. Raises StorageError."""
        mark = hashlib.sha256(content).hexdigest()
        path = self.path(mark)
        if not (path.is_file() and path.stat().st_size == len(content)):
            self._made(path.parent)
            write_bytes(path, content, private=True)
        return mark

    def take_in(self, stream: BinaryIO, mark: str) -> None:
        """Copy a file from elsewhere piece by piece; refused where it does not hold what its name says."""
        path = self.path(mark)
        if path.is_file() and file_hash(path) == mark:
            return
        self._made(path.parent)
        digest = hashlib.sha256()
        with writing(path, private=True) as target:
            while piece := stream.read(CHUNK):
                digest.update(piece)
                target.write(piece)
            if digest.hexdigest() != mark:
                raise StorageError(say("logbook.picture_changed", mark=mark))

    def read(self, mark: str) -> bytes:
        """What a file holds. Raises StorageError where it is missing or unreadable."""
        try:
            return self.path(mark).read_bytes()
        except OSError as error:
            reason = reason_of(error)
            raise StorageError(say("logbook.picture_not_read", mark=mark, reason=reason)) from error

    def copy_to(self, mark: str, target: BinaryIO) -> None:
        """Copy a file out piece by piece. Raises StorageError."""
        try:
            with self.path(mark).open("rb") as source:
                shutil.copyfileobj(source, target, CHUNK)
        except OSError as error:
            reason = reason_of(error)
            raise StorageError(say("logbook.picture_not_read", mark=mark, reason=reason)) from error

    def marks(self) -> Iterator[str]:
        """The hashes of all files that lie in the folder."""
        for path in sorted(self.folder.glob("[0-9a-f][0-9a-f]/*")):
            if len(path.name) == 64:
                yield path.name

    def _made(self, folder: Path) -> None:
        made_private(self.folder)
        made_private(folder)


def file_hash(path: Path) -> str | None:
    """The SHA-256 of a file, read piece by piece; None where it cannot be read."""
    digest = hashlib.sha256()
    try:
        with path.open("rb") as stream:
            while piece := stream.read(CHUNK):
                digest.update(piece)
    except OSError:
        return None
    return digest.hexdigest()
