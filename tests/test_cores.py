"""What one process may use of the machine."""

from __future__ import annotations

import ctypes
import os
import subprocess
import sys

import pytest

from reviewbot.cores import core_count, thread_count

# Four threads hold memory at once, then glibc tells of its heaps.
HEAPS = """
import ctypes, threading
from reviewbot.cores import use_one_heap
{first}
together = threading.Barrier(4)
def work():
    kept = [bytearray(50_000) for _ in range(100)]
    together.wait()
threads = [threading.Thread(target=work) for _ in range(4)]
[one.start() for one in threads], [one.join() for one in threads]
ctypes.CDLL(None).malloc_stats()
"""


def heaps(first: str) -> int:
    found = subprocess.run(
        [sys.executable, "-c", HEAPS.format(first=first)],
        check=True,
        capture_output=True,
        text=True,
        env={**os.environ, "MALLOC_ARENA_MAX": ""},
    )
    return found.stderr.count("Arena ")


@pytest.mark.skipif(
    sys.platform != "linux" or not hasattr(ctypes.CDLL(None), "mallopt"),
    reason="another C library than glibc",
)
def test_threads_share_one_heap_where_each_had_its_own():
    assert heaps("") > 1
    assert heaps("use_one_heap()") == 1


def test_no_more_threads_than_cores_and_four():
    assert 1 <= thread_count() <= min(core_count(), 4)


@pytest.mark.skipif(sys.platform != "linux", reason="threads are counted in /proc")
def test_loading_numpy_starts_no_thread():
    counted = (
        "import os; from reviewbot.cores import start_no_idle_threads; start_no_idle_threads();"
        "import numpy, scipy.linalg; print(len(os.listdir('/proc/self/task')))"
    )
    environment = {k: v for k, v in os.environ.items() if k != "OPENBLAS_NUM_THREADS"}
    found = subprocess.run(
        [sys.executable, "-c", counted], check=True, capture_output=True, text=True, env=environment
    )
    assert found.stdout == "1\n"


def test_cycles_are_looked_for_seldom_but_not_never():
    found = subprocess.run(
        [
            sys.executable,
            "-c",
            "import gc; from reviewbot.cores import look_for_cycles_seldom;"
            "look_for_cycles_seldom(); kept = [[] for _ in range(50_000)];"
            "print(gc.isenabled(), gc.get_stats()[0]['collections'])",
        ],
        check=True,
        capture_output=True,
        text=True,
    )
    enabled, collections = found.stdout.split()
    assert enabled == "True"
    assert 3 <= int(collections) <= 30  # about 70 with Python's own threshold of 700
