"""Reading a stranger's file in a process of its own, with limits on memory and time.

The process is started once and reads one file after another; one that crashed, hung or ran out of
memory is replaced. It can open no file and no connection, and is given no environment: what a
mesh refers to is asked for over the pipe, and the asking side looks it up in git.
"""

from __future__ import annotations

import contextlib
import os
import signal
import subprocess
import sys
import threading
from pathlib import Path
from types import TracebackType
from typing import BinaryIO, Self, cast

import numpy as np

import reviewbot
from reviewbot.errors import MeshReadError
from reviewbot.mesh import Model
from reviewbot.readers.formats import is_mesh_path, read_model
from reviewbot.readers.references import ReferenceRefusedError, Siblings, inner_path, no_siblings
from reviewbot.readers.wire import Head, WireError, receive, send, unpack_model

_MEGABYTE = 1 << 20
# The current folder may be a stranger's repository: nothing is ever imported from there. The
# folders this process found its own modules in come last, for when they are nowhere else.
_LIBRARIES = [str(Path(init).resolve().parents[1]) for init in (reviewbot.__file__, np.__file__)]
_START = (
    f"import sys; sys.path += {_LIBRARIES!r}; from reviewbot.readers.worker import main; main()"
)
_GRACE_SECONDS = 1.0
_KILLED = 9
_KEPT_VARIABLES = ("SYSTEMROOT", "LD_LIBRARY_PATH", "DYLD_LIBRARY_PATH", "PYTHONHOME")


class IsolatedReader:
    """Reads files one at a time in a child process; use with `with`.

    memory_mb  what a file may take beyond the bare process
    seconds    what a file may take from the asking to the answer
    """

    def __init__(self, *, memory_mb: int, seconds: float) -> None:
        self._memory_mb, self._seconds = memory_mb, seconds
        self._worker: subprocess.Popen[bytes] | None = None
        self._lock = threading.Lock()

    def __enter__(self) -> Self:
        self._worker = self._worker or _start(self._memory_mb)
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._stop()

    def read(self, data: bytes, *, path: str, siblings: Siblings | None = None) -> Model:
        """As `read_model`; a crash, a hang and a want of memory are MeshReadErrors too."""
        if not is_mesh_path(path):
            return read_model(data, path=path)  # which refuses it
        with self._lock:
            head, blobs = self._ask(data, path, siblings or no_siblings)
        if head.get("kind") == "model":
            with contextlib.suppress(WireError):
                return unpack_model(head, blobs)
        line, reason = head.get("line"), head.get("reason", "the reader's answer is no sound mesh")
        raise MeshReadError(
            path=path, line=line if isinstance(line, int) else None, reason=str(reason)
        )

    def _ask(self, data: bytes, path: str, siblings: Siblings) -> tuple[Head, list[bytes]]:
        if self._worker is not None and self._worker.poll() is not None:
            self._stop()
        if self._worker is None:
            self._worker = _start(self._memory_mb)
        overdue = threading.Event()
        timer = threading.Timer(self._seconds, _end_overdue, [self._worker, overdue])
        timer.start()
        try:
            return _converse(self._worker, data, path, siblings, self._memory_mb * _MEGABYTE)
        except (WireError, OSError) as error:
            code = self._stop()
            late = f"takes more than the {self._seconds:g} seconds allowed to read"
            reason = late if overdue.is_set() else _ending(code)
            raise MeshReadError(path=path, line=None, reason=reason) from error
        except BaseException:
            self._stop()
            raise
        finally:
            timer.cancel()
            if overdue.is_set():
                self._stop()

    def _stop(self) -> int:
        """End the process, and say the exit status it ended with."""
        worker, self._worker = self._worker, None
        if worker is None:
            return 0
        for pipe in (worker.stdin, worker.stdout):
            with contextlib.suppress(OSError):
                cast(BinaryIO, pipe).close()
        try:
            return worker.wait(timeout=_GRACE_SECONDS)
        except subprocess.TimeoutExpired:
            worker.kill()
            return worker.wait()


def _start(memory_mb: int) -> subprocess.Popen[bytes]:
    environment = {name: os.environ[name] for name in _KEPT_VARIABLES if name in os.environ}
    return subprocess.Popen(
        [sys.executable, "-P", "-c", _START, str(memory_mb)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        env=environment | {"OPENBLAS_NUM_THREADS": "1"},
    )


def _end_overdue(worker: subprocess.Popen[bytes], overdue: threading.Event) -> None:
    overdue.set()
    worker.kill()


def _converse(
    worker: subprocess.Popen[bytes], data: bytes, path: str, siblings: Siblings, largest: int
) -> tuple[Head, list[bytes]]:
    """Send a file, hand over what it refers to, and receive the answer."""
    requests, answers = cast(BinaryIO, worker.stdin), cast(BinaryIO, worker.stdout)
    send(requests, {"path": path}, [data])
    while True:
        head, blobs = receive(answers, largest=largest)
        if head.get("kind") != "sibling":
            return head, blobs
        try:
            found = siblings(inner_path(str(head.get("name"))))
        except ReferenceRefusedError as error:
            raise WireError("the reader asks for what its rules forbid") from error
        send(requests, {"found": found is not None}, [found or b""])


def _ending(code: int) -> str:
    if code == -_KILLED:
        return "the reader was ended from outside, most likely for want of memory"
    if code < 0:
        return f"the reader crashed on it ({signal.Signals(-code).name})"
    return "the reader ended without an answer"
