"""A folder of finished pieces of a long computation, so that an interruption loses nothing.

Each piece is one ``.npz`` file, written whole or not at all. A manifest says what the pieces belong to: a folder
begun with other inputs is refused, a damaged piece is worked out again.
"""

from __future__ import annotations

import hashlib
import io
import json
import re
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from pathlib import Path
from typing import Any

import numpy as np

from planner.errors import Fault, InputError
from planner.files import made, write_bytes, write_text

FORMAT = 1
MANIFEST = "manifest.json"
KEY = re.compile(r"[a-z0-9][a-z0-9-]{0,79}")

Arrays = Mapping[str, np.ndarray]


class ChunkStore:
    """Finished pieces by key, for one set of inputs.

    Raises InputError when the folder holds pieces of another computation, StorageError when it cannot be used.
    """

    def __init__(self, folder: Path, fingerprint: str, title: str) -> None:
        self._folder = folder
        made(folder)
        mine = {"format": FORMAT, "fingerprint": fingerprint, "title": title}
        manifest = folder / MANIFEST
        if not manifest.exists():
            write_text(manifest, json.dumps(mine, indent=1) + "\n")
        elif self._known(manifest) != (FORMAT, fingerprint):
            problem = "this folder holds the results of other inputs"
            raise InputError(
                [Fault("folder", str(folder), problem, "Choose another folder, or empty this one")]
            )

    @staticmethod
    def _known(manifest: Path) -> tuple[Any, Any]:
        try:
            found = json.loads(manifest.read_text("utf-8"))
            return found["format"], found["fingerprint"]
        except (OSError, ValueError, KeyError, TypeError, RecursionError):
            return None, None

    def load(self, key: str) -> dict[str, np.ndarray] | None:
        """A finished piece, None when there is none or it is damaged."""
        try:
            with np.load(io.BytesIO(self._path(key).read_bytes()), allow_pickle=False) as piece:
                return {name: piece[name] for name in piece.files}
        except Exception:  # whatever a damaged piece makes numpy, zip and zlib raise: it is worked out again
            return None

    def save(self, key: str, arrays: Arrays) -> None:
        """Write a piece in one step. Raises StorageError."""
        stream = io.BytesIO()
        np.savez_compressed(stream, allow_pickle=False, **arrays)
        write_bytes(self._path(key), stream.getvalue())

    def _path(self, key: str) -> Path:
        if not KEY.fullmatch(key):
            raise ValueError(f"not a key: {key}")
        return self._folder / f"{key}.npz"


def fingerprint(*parts: object) -> str:
    """A short text that differs when any of the records, arrays, tables or plain values does."""
    digest = hashlib.sha256()
    for part in parts:
        _feed(digest, part)
    return digest.hexdigest()[:32]


def _feed(digest: Any, part: object) -> None:
    if isinstance(part, np.ndarray):
        digest.update(f"{part.dtype.str}{part.shape}".encode())
        digest.update(np.ascontiguousarray(part).tobytes())
    elif is_dataclass(part) and not isinstance(part, type):
        digest.update(type(part).__name__.encode())
        for field in fields(part):
            digest.update(field.name.encode())
            _feed(digest, getattr(part, field.name))
    elif isinstance(part, Mapping):
        for key in sorted(part, key=str):
            digest.update(str(key).encode())
            _feed(digest, part[key])
    elif isinstance(part, tuple | list):
        digest.update(f"({len(part)}".encode())
        for inner in part:
            _feed(digest, inner)
    else:
        digest.update(repr(part).encode())
