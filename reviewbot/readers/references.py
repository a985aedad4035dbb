"""Files that a mesh file refers to: found in the same tree at the same commit, or refused.

A stranger's file must not make this tool open what the repository does not hold, so a reference
is a plain path below the mesh's own folder. Absolute paths, steps upwards and addresses are
refused, and nothing is ever looked up on the disk or the network. Only pictures, which are shown
and never followed, may lie further up in the same tree.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import TypeAlias

Siblings: TypeAlias = Callable[[str], bytes | None]
"""From a path relative to the mesh's folder, with "/" between names, to that file's bytes."""

_SCHEME = re.compile(r"[A-Za-z][A-Za-z0-9+.-]*:")


class ReferenceRefusedError(Exception):
    """The referred file is not to be had; the message says why, in words for a note."""


def no_siblings(_: str) -> bytes | None:
    """For a mesh file that stands alone."""
    return None


def fetch(reference: str, siblings: Siblings) -> bytes:
    """The referred file's bytes. Raises ReferenceRefusedError where it is refused or missing."""
    data = siblings(inner_path(reference))
    if data is None:
        raise ReferenceRefusedError("is not in the repository beside the mesh")
    return data


def inner_path(reference: str) -> str:
    """The reference as a clean path. Raises ReferenceRefusedError where it leads elsewhere."""
    path = relative_path(reference)
    if ".." in path.split("/"):
        raise ReferenceRefusedError("leads out of the mesh's folder")
    return path


def relative_path(reference: str) -> str:
    """The reference as a path from the mesh's folder, upwards too; for pictures, which may lie
    anywhere in the repository. Raises ReferenceRefusedError for what is no such path.
    """
    path = reference.strip().replace("\\", "/")
    if _SCHEME.match(path) or path.startswith("//"):
        raise ReferenceRefusedError(
            "is an address or a path on a drive, not a file beside the mesh"
        )
    if path.startswith("/"):
        raise ReferenceRefusedError("is an absolute path")
    steps = [step for step in path.split("/") if step not in ("", ".")]
    if not steps or any(not c.isprintable() for c in path):
        raise ReferenceRefusedError("is no file name")
    return "/".join(steps)
