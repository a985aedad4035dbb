"""How much of this machine one process, and its threads, may use."""

from __future__ import annotations

import ctypes
import gc
import os
import sys

_M_ARENA_MAX = -8  # of mallopt(3), from glibc's malloc.h
_MOST_THREADS = 4
_NEW_OBJECTS = 10_000  # net, before a look for cycles; Python says 700
_sharing = 1  # processes of one pool that use the same cores, this one among them


def core_count() -> int:
    """Processor cores this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def thread_count() -> int:
    """How many threads are worth starting: one a core, and four at most.

    More only wait for each other and for memory: of a review of 100k quads on 16 cores, four
    threads took 9 s and sixteen 13 s. Many assets are spread over processes instead, each of which
    has its share of the cores (see `share_cores`).
    """
    return max(1, min(core_count() // _sharing, _MOST_THREADS))


def share_cores(processes: int) -> None:
    """Say to this process that it is one of so many, all at work at the same time."""
    global _sharing  # noqa: PLW0603 - of the whole process, said once as it begins
    _sharing = processes


def start_no_idle_threads() -> None:
    """Keep the linear algebra library single-threaded; to be called before numpy is loaded.

    It starts a thread a core as it loads, for products far larger than any here: a tenth of a
    second of processor for nothing. Processes started from this one do the same.
    """
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")


def use_one_heap() -> None:
    """Let all threads of this process share one heap; to be called before there are any.

    The C library gives each thread a heap of its own, and what was freed in one lies idle there: a
    quarter of all memory for two versions of a million quads. Arrays are few and large, so threads
    hardly wait for each other. Does nothing where the C library is another one than glibc.
    """
    if sys.platform == "linux":
        mallopt = getattr(ctypes.CDLL(None), "mallopt", None)
        if mallopt is not None:
            mallopt(_M_ARENA_MAX, 1)


def look_for_cycles_seldom() -> None:
    """Let many objects be made before Python looks which of them only refer to each other.

    Loading libraries makes half a million that stay, and arrays do not count: looking cost a
    fiftieth of a review of 100k quads.
    """
    gc.set_threshold(_NEW_OBJECTS)
