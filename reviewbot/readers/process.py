"""The reading process as it is started: with no environment, before or when a file is there.

Needs nothing but the standard library, so that one can be started first of all. It loads its own
libraries while this process loads others.
"""

from __future__ import annotations

import importlib.util
import os
import subprocess
import sys
from pathlib import Path

import reviewbot

_KEPT_VARIABLES = ("SYSTEMROOT", "LD_LIBRARY_PATH", "DYLD_LIBRARY_PATH", "PYTHONHOME")
_ONE_THREAD = {"OPENBLAS_NUM_THREADS": "1", "PXR_WORK_THREAD_LIMIT": "1"}
_PIPE_BYTES = 1 << 20  # the most that Linux grants anybody: meshes go through with fewer turns
_ready: list[subprocess.Popen[bytes]] = []


def start_ahead() -> None:
    """Start one that will take files of any format that needs no process of its own.

    One that is never asked for ends with this process.
    """
    _ready.append(started())


def taken() -> subprocess.Popen[bytes]:
    """One that was started ahead, else a new one."""
    try:
        return _ready.pop()  # by one thread, whichever is first
    except IndexError:
        return started()


def started(lone_path: str = "") -> subprocess.Popen[bytes]:
    """A new one; `lone_path` names the one file it is for, where it is for one only."""
    environment = {name: os.environ[name] for name in _KEPT_VARIABLES if name in os.environ}
    return subprocess.Popen(
        [sys.executable, "-P", "-c", start_code(), lone_path],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        pipesize=_PIPE_BYTES,
        env=environment | _ONE_THREAD,
    )


def start_code() -> str:
    """What it runs.

    The current folder may be a stranger's repository: nothing is ever imported from there. The
    folders this process finds its own modules in come last, for when they are nowhere else.
    """
    numpy = importlib.util.find_spec("numpy")
    inits = [reviewbot.__file__, *([numpy.origin] if numpy and numpy.origin else [])]
    libraries = [str(Path(init).resolve().parents[1]) for init in inits]
    start = "from reviewbot.readers.worker import main; main()"
    return f"import sys; sys.path += {libraries!r}; {start}"
