"""What was measured already: the two versions of an asset share most of their parts."""

from __future__ import annotations

import dataclasses
import hashlib
from collections.abc import Callable, Sequence
from concurrent.futures import Future
from threading import Lock
from typing import Any, TypeVar

import numpy as np

T = TypeVar("T")


class Memory:
    """Answers by what was asked, for as long as one asset is looked at; threads may share it."""

    def __init__(self) -> None:
        self._answers: dict[bytes, Future[Any]] = {}
        self._changing = Lock()

    def answer(self, key: bytes, work: Callable[[], T]) -> T:
        """What the work gives, done once for all that ask with this key."""
        return self.answers([(key, work)])[0]

    def answers(self, questions: Sequence[tuple[bytes, Callable[[], T]]]) -> list[T]:
        """The same of many.

        What another thread works on is waited for last, so that threads that ask the same share
        the work. What a piece of work raises is raised to all that ask for it.
        """
        asked: list[Future[T]] = []
        for key, work in questions:
            future, is_new = self._future(key)
            if is_new:
                _fulfil(future, work)
            asked.append(future)
        return [future.result() for future in asked]

    def _future(self, key: bytes) -> tuple[Future[Any], bool]:
        with self._changing:
            is_new = key not in self._answers
            return self._answers.setdefault(key, Future()), is_new


def _fulfil(future: Future[T], work: Callable[[], T]) -> None:
    try:
        future.set_result(work())
    except BaseException as error:
        future.set_exception(error)
        raise


def mark_of(*values: object) -> bytes:
    """A key, equal for values of equal content: arrays, records, tuples, text, bytes and None."""
    mark = hashlib.sha256()  # of those at hand the fastest: most processors have a unit for it
    for value in values:
        _note(mark, value)
    return mark.digest()


def _note(mark: Any, value: object) -> None:
    if isinstance(value, np.ndarray):
        mark.update(f"{value.dtype.str}{value.shape}".encode())
        mark.update(np.ascontiguousarray(value).data)
    elif isinstance(value, tuple):
        mark.update(f"tuple {len(value)}".encode())
        for one in value:
            _note(mark, one)
    elif dataclasses.is_dataclass(value):
        for field in dataclasses.fields(value):
            _note(mark, getattr(value, field.name))
    elif value is None or isinstance(value, str | bytes):
        mark.update(f"{value!r}".encode("utf-8", "surrogatepass"))
    else:
        raise TypeError(f"no key is made of a {type(value).__name__}")
