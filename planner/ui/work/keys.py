"""Keys of services: in the keyring of this computer where there is one, else in the settings file of mode 600."""

from __future__ import annotations

from contextlib import suppress

import msgspec

from planner.services.settings import Settings, load_settings, save_settings

SERVICE = "skepway"
NAMES = ("forecast", "roads")
"""The tables of the settings that hold a key."""


def in_keyring() -> bool:
    """Whether this computer has a keyring that can be used."""
    try:
        import keyring
        from keyring.backends.fail import Keyring as Nothing
    except ImportError:
        return False
    try:
        return not isinstance(keyring.get_keyring(), Nothing)
    except Exception:  # a desktop's own library may fail in any way; the file then serves
        return False


def read(name: str) -> str:
    """The key of a service; empty where none is kept."""
    if in_keyring():
        import keyring

        with suppress(Exception):
            return keyring.get_password(SERVICE, name) or ""
    held: str = getattr(load_settings(), name).key
    return held


def write(name: str, key: str) -> None:
    """Keep a key, or forget it where it is empty. Raises StorageError where the file cannot be written."""
    if in_keyring() and _into_keyring(name, key):
        key = ""  # the file holds nothing that the keyring holds
    settings = load_settings()
    table = getattr(settings, name)
    if table.key != key:
        save_settings(msgspec.structs.replace(settings, **{name: msgspec.structs.replace(table, key=key)}))


def _into_keyring(name: str, key: str) -> bool:
    import keyring

    with suppress(Exception):
        if key:
            keyring.set_password(SERVICE, name, key)
        elif keyring.get_password(SERVICE, name):
            keyring.delete_password(SERVICE, name)
        return True
    return False


def with_keys(settings: Settings) -> Settings:
    """Settings with the keys the keyring holds put in, where the settings have none."""
    if not in_keyring():
        return settings
    changes = {}
    for name in NAMES:
        table = getattr(settings, name)
        key = "" if table.key else read(name)
        if key:
            changes[name] = msgspec.structs.replace(table, key=key)
    return msgspec.structs.replace(settings, **changes) if changes else settings
