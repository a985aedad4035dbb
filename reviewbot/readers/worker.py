"""The reading process: takes files over standard input, answers with models, opens nothing.

Started by `reviewbot.readers.isolation` alone. Once its libraries are loaded it gives up memory
beyond a limit and the right to open any file or connection, and only then looks at a file.
"""

from __future__ import annotations

import importlib
import os
import signal
import sys
from collections.abc import Callable
from typing import BinaryIO

from reviewbot.errors import MeshReadError
from reviewbot.readers import pictures
from reviewbot.readers.formats import Lone, Seal, lone_reader, read_model
from reviewbot.readers.known import format_of
from reviewbot.readers.limits import limit_memory, open_nothing_more
from reviewbot.readers.wire import AnyArray, Head, WireError, pack_model, receive, send

_MEGABYTE = 1 << 20
# What the interpreter and numpy load on first use only: loaded before no file can be opened.
_LOADED_LATE = (
    "encodings.cp1252",
    "encodings.latin_1",
    "encodings.utf_16",
    "encodings.utf_8_sig",
    "numpy.ma",
)


def main() -> None:
    """Serve requests; the argument is a path for a lone reader, else empty.

    The first message is the memory limit in MB. A lone reader's process serves one request. Either
    kind ends at once, freeing nothing first.
    """
    lone = _lone_reader(sys.argv[1])
    requests, answers = sys.stdin.buffer, _private_stdout()
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    for name in _LOADED_LATE:
        importlib.import_module(name)
    pictures.prepare()
    if lone is not None:
        lone.prepare()
    _serve_all(requests, answers, is_lone=lone is not None)
    os._exit(0)


def _serve_all(requests: BinaryIO, answers: BinaryIO, *, is_lone: bool) -> None:
    try:
        head, _ = receive(requests, largest=0)
    except WireError:  # started ahead of files that never came
        return
    memory_mb: int = head["memory_mb"]
    limit_memory(memory_mb * _MEGABYTE)
    if is_lone:
        _serve(requests, answers, memory_mb, open_nothing_more)
        return
    open_nothing_more()
    while _serve(requests, answers, memory_mb, _nothing):
        pass


def _lone_reader(path: str) -> Lone | None:
    form = format_of(path)
    return lone_reader(form) if form is not None and form.library is not None else None


def _nothing() -> None:
    """The process was sealed before its first request."""


def _private_stdout() -> BinaryIO:
    """The pipe to the asking process, out of reach of a library that prints."""
    answers = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)
    return answers


def _serve(requests: BinaryIO, answers: BinaryIO, memory_mb: int, seal: Seal) -> bool:
    """Answer one request; False where no more will come."""
    try:
        head, blobs = receive(requests, largest=sys.maxsize)
    except WireError:
        return False

    def siblings(name: str) -> bytes | None:
        send(answers, {"kind": "sibling", "name": name})
        answer, data = receive(requests, largest=sys.maxsize)
        return data[0] if answer["found"] else None

    def answered() -> tuple[Head, list[AnyArray]]:
        if head.get("kind") == "picture":
            pixels = pictures.decode_picture(blobs.pop(), longest=head["longest"])
            return {"kind": "pixels", "shape": pixels.shape}, [pixels]
        model = read_model(blobs.pop(), path=head["path"], siblings=siblings, seal=seal)
        return pack_model(model)

    send(answers, *_answer(answered, memory_mb))
    return True


def _answer(
    answered: Callable[[], tuple[Head, list[AnyArray]]], memory_mb: int
) -> tuple[Head, list[AnyArray]]:
    """What a request gives, or why it gives nothing."""
    try:
        answer, arrays = answered()
        if sum(array.nbytes for array in arrays) > memory_mb * _MEGABYTE:  # copies of one mesh
            raise MemoryError
    except MeshReadError as error:
        return _refusal(error.reason, error.line), []
    except pictures.PictureRefusedError as error:
        return _refusal(str(error)), []
    except MemoryError:
        return _refusal(f"needs more than the {memory_mb} MB of memory allowed"), []
    except RecursionError:
        return _refusal("is nested too deeply"), []
    except Exception as error:  # a fault of the reader, found by a file: that file's finding
        return _refusal(f"the reader failed on it ({type(error).__name__}: {error})"), []
    return answer, arrays


def _refusal(reason: str, line: int | None = None) -> Head:
    return {"kind": "error", "line": line, "reason": reason}


if __name__ == "__main__":
    main()
