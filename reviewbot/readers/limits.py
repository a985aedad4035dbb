"""Limits a process sets on itself before it looks at a stranger's file.

The one module that knows of `resource`, which systems other than Unix lack; there, only the time
limit of the asking process holds.
"""

from __future__ import annotations

import contextlib
from pathlib import Path

try:
    import resource
except ImportError:  # no such limits on this system
    HAS_LIMITS = False
else:
    HAS_LIMITS = True

_PROC_MEMORY = Path("/proc/self/statm")


def limit_memory(extra_bytes: int) -> None:
    """Allow so much address space beyond what the process takes already."""
    if HAS_LIMITS:
        _limit(resource.RLIMIT_AS, _address_space() + extra_bytes)


def open_nothing_more() -> None:
    """From here on no file, connection or child process can be opened, by native code neither."""
    if HAS_LIMITS:
        _limit(resource.RLIMIT_CORE, 0)
        _limit(resource.RLIMIT_FSIZE, 0)
        _limit(resource.RLIMIT_NOFILE, 0)


def _limit(which: int, value: int) -> None:
    # A system may refuse a limit it does not support, or one above what it grants already.
    with contextlib.suppress(OSError, ValueError):
        resource.setrlimit(which, (value, value))


def _address_space() -> int:
    """Bytes of address space in use; 0 where the system does not say."""
    try:
        pages = int(_PROC_MEMORY.read_text(encoding="ascii").split()[0])
    except OSError:
        return 0
    return pages * resource.getpagesize()
