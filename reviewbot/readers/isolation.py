"""Reading a stranger's file in a process of its own, with limits on memory and time.

The process is started once and reads one file after another; one that crashed, hung or ran out of
memory is replaced. It can open no file and no connection, and is given no environment: what a
mesh refers to is asked for over the pipe, and the asking side looks it up in git. Pictures that
materials ask for are decoded there too.
"""

from __future__ import annotations

import contextlib
import signal
import subprocess
import threading
from types import TracebackType
from typing import BinaryIO, Self, cast

import numpy as np

from reviewbot.errors import MeshReadError
from reviewbot.mesh import Model
from reviewbot.readers.known import require_format
from reviewbot.readers.pictures import PictureRefusedError, Pixels
from reviewbot.readers.process import started, taken
from reviewbot.readers.references import ReferenceRefusedError, Siblings, inner_path, no_siblings
from reviewbot.readers.wire import Head, Message, WireError, receive, send, unpack_model

_MEGABYTE = 1 << 20
_GRACE_SECONDS = 1.0
_KILLED = 9


class IsolatedReader:
    """Reads files one at a time in a child process; use with `with`.

    A native library gets a fresh process for every file; all other files share one, which starts
    with the first of them.

    memory_mb  what a file may take beyond the bare process
    seconds    what a file may take from the asking to the answer

    `unanswered` counts what it got no answer to, for want of time or memory or by a crash.
    """

    def __init__(self, *, memory_mb: int, seconds: float) -> None:
        self._memory_mb, self._seconds = memory_mb, seconds
        self.unanswered = 0
        self._shared: _Process | None = None
        self._lock = threading.Lock()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def close(self) -> None:
        """End the shared child, if one runs; the next file starts another."""
        if self._shared is not None:
            self._shared.stop()
        self._shared = None

    def read(self, data: bytes, *, path: str, siblings: Siblings | None = None) -> Model:
        """As `read_model`; a crash, a hang and a want of memory are MeshReadErrors too."""
        is_lone = require_format(path).library is not None
        ask = self._ask_lone if is_lone else self._ask_shared
        try:
            head, blobs = ask({"path": path}, data, siblings or no_siblings)
        except _NoAnswerError as error:
            self.unanswered += 1
            raise MeshReadError(path=path, line=None, reason=str(error)) from error
        return _answer(head, blobs, path)

    def picture(self, data: bytes, longest: int) -> Pixels:
        """As `decode_picture`; a crash, a hang and a want of memory are refusals too."""
        try:
            head, blobs = self._ask_shared(
                {"kind": "picture", "longest": longest}, data, no_siblings
            )
        except _NoAnswerError as error:
            self.unanswered += 1
            raise PictureRefusedError(str(error)) from error
        return _pixels(head, blobs, longest)

    def _ask_shared(self, request: Head, data: bytes, siblings: Siblings) -> Message:
        with self._lock:
            if self._shared is None or not self._shared.is_running():
                self._shared = _Process(self._memory_mb)
            return self._shared.ask(request, data, siblings, self._seconds)

    def _ask_lone(self, request: Head, data: bytes, siblings: Siblings) -> Message:
        process = _Process(self._memory_mb, lone_path=request["path"])
        try:
            return process.ask(request, data, siblings, self._seconds)
        finally:
            process.stop()


def _answer(head: Head, blobs: list[bytes], path: str) -> Model:
    if head.get("kind") == "model":
        with contextlib.suppress(WireError):
            return unpack_model(head, blobs)
    line, reason = head.get("line"), head.get("reason", "the reader's answer is no sound mesh")
    raise MeshReadError(path=path, line=line if isinstance(line, int) else None, reason=str(reason))


def _pixels(head: Head, blobs: list[bytes], longest: int) -> Pixels:
    if head.get("kind") == "pixels" and len(blobs) == 1:
        with contextlib.suppress(ValueError, TypeError):
            height, width, channels = head["shape"]
            if 0 < height <= longest and 0 < width <= longest and channels == 3:
                return np.frombuffer(blobs[0], dtype=np.uint8).reshape(height, width, 3)
    raise PictureRefusedError(str(head.get("reason", "the reader's answer is no sound picture")))


class _NoAnswerError(Exception):
    """The process is gone; the message says why."""


class _Process:
    """A reading process. `lone_path` names the one file it is for, where it is for one only."""

    def __init__(self, memory_mb: int, lone_path: str = "") -> None:
        self._largest = memory_mb * _MEGABYTE
        self._child = started(lone_path) if lone_path else taken()
        with contextlib.suppress(OSError):  # where it has ended already, the first file says so
            send(cast(BinaryIO, self._child.stdin), {"memory_mb": memory_mb})

    def is_running(self) -> bool:
        """Whether it takes files; one that does not is tidied away."""
        if self._child.poll() is None:
            return True
        self.stop()
        return False

    def ask(self, request: Head, data: bytes, siblings: Siblings, seconds: float) -> Message:
        """The answer to a request. Raises _NoAnswerError, the process ended, where none comes."""
        overdue = threading.Event()
        timer = threading.Timer(seconds, self._end_overdue, [overdue])
        timer.start()
        try:
            return self._converse(request, data, siblings)
        except (WireError, OSError) as error:
            code = self.stop()
            late = f"takes more than the {seconds:g} seconds allowed to read"
            raise _NoAnswerError(late if overdue.is_set() else _ending(code)) from error
        except BaseException:
            self.stop()
            raise
        finally:
            timer.cancel()
            if overdue.is_set():
                self.stop()

    def stop(self) -> int:
        """End it, and say the exit status it ended with."""
        for pipe in (self._child.stdin, self._child.stdout):
            with contextlib.suppress(OSError):
                cast(BinaryIO, pipe).close()
        try:
            return self._child.wait(timeout=_GRACE_SECONDS)
        except subprocess.TimeoutExpired:
            self._child.kill()
            return self._child.wait()

    def _end_overdue(self, overdue: threading.Event) -> None:
        overdue.set()
        self._child.kill()

    def _converse(self, request: Head, data: bytes, siblings: Siblings) -> Message:
        """Send a file, hand over what it refers to, and receive the answer."""
        requests, answers = cast(BinaryIO, self._child.stdin), cast(BinaryIO, self._child.stdout)
        send(requests, request, [data])
        while True:
            head, blobs = receive(answers, largest=self._largest)
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
