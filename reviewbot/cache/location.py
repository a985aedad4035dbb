"""Where the cache lies, by what the operator says and the customs of the system."""

from __future__ import annotations

import sys
from collections.abc import Mapping
from pathlib import Path

from reviewbot.cache.disk import DEFAULT_MB, Place
from reviewbot.errors import UsageError

FOLDER_VARIABLE = "REVIEWBOT_CACHE"
SIZE_VARIABLE = "REVIEWBOT_CACHE_MB"
_NAME = "reviewbot"


def cache_place(environment: Mapping[str, str], folder: Path | None = None) -> Place | None:
    """The folder asked for, else the environment's, else the user's own; None where an empty
    variable says that nothing is to be kept.

    Raises UsageError for a size that is no number of megabytes above 0.
    """
    named = environment.get(FOLDER_VARIABLE)
    most_mb = _most_mb(environment.get(SIZE_VARIABLE, str(DEFAULT_MB)))
    if folder is not None:
        return Place(folder=folder, most_mb=most_mb)
    if named == "":
        return None
    default = Path(named) if named else _user_folder(environment) / _NAME
    return Place(folder=default, most_mb=most_mb)


def _user_folder(environment: Mapping[str, str]) -> Path:
    """XDG Base Directory Specification 0.8; the systems' own places elsewhere."""
    home = Path.home()
    if sys.platform == "darwin":
        return home / "Library" / "Caches"
    if sys.platform == "win32":
        return Path(environment.get("LOCALAPPDATA") or home / "AppData" / "Local")
    named = environment.get("XDG_CACHE_HOME", "")
    # "All paths set in these environment variables must be absolute"; others are to be ignored.
    return Path(named) if Path(named).is_absolute() else home / ".cache"


def _most_mb(text: str) -> int:
    if not (text.isascii() and text.isdigit() and int(text) > 0):
        raise UsageError(f"{SIZE_VARIABLE}={text}: give a number of megabytes above 0")
    return int(text)
