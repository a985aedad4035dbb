"""One process that carries out orders, replaced when it ends."""

from __future__ import annotations

import multiprocessing
import os
import signal
from collections.abc import Callable
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import suppress
from threading import Timer
from typing import Protocol

from reviewbot.spread import end_with_parent
from reviewbot.watch.work import Order, Outcome, carry_out_order

LONGEST_ORDER = 3600.0  # seconds
_ORDERS_EACH = 50  # then a fresh process: whatever a library piles up is gone with the old one
_ENDED = "its process ended before it was done, for want of memory or by a crash"


class Worker(Protocol):
    """Carries out one order at a time."""

    def start(self, order: Order, done: Callable[[Outcome], None]) -> None:
        """Begins; `done` is called with the outcome, from any thread."""

    def stop(self) -> None:
        """Drops what is being done."""


class ProcessWorker:
    """A `Worker` in a process that was started afresh, not forked."""

    def __init__(self, *, longest: float = LONGEST_ORDER) -> None:
        self._longest = longest
        self._pool: ProcessPoolExecutor | None = None

    def start(self, order: Order, done: Callable[[Outcome], None]) -> None:
        """See `Worker`."""
        if self._pool is None:
            self._pool = _new_pool()
        limit = Timer(self._longest, end_children)
        limit.daemon = True

        def finished(future: Future[Outcome]) -> None:
            limit.cancel()
            done(_outcome(future))

        try:
            future = self._pool.submit(carry_out_order, order)
        except BrokenProcessPool:  # it ended while it had nothing to do
            self._pool = _new_pool()
            future = self._pool.submit(carry_out_order, order)
        limit.start()
        future.add_done_callback(finished)

    def stop(self) -> None:
        """See `Worker`."""
        if self._pool is not None:
            end_children()
            self._pool.shutdown(wait=True, cancel_futures=True)
        self._pool = None


def _new_pool() -> ProcessPoolExecutor:
    return ProcessPoolExecutor(
        1,
        mp_context=multiprocessing.get_context("spawn"),
        initializer=_begin,
        max_tasks_per_child=_ORDERS_EACH,
    )


def _outcome(future: Future[Outcome]) -> Outcome:
    try:
        return future.result()
    except BaseException:  # cancelled, or the pool is broken: the process is gone either way
        return Outcome(result="failed", told=_ENDED)


def end_children() -> None:
    """Ends the processes that this one has started for its orders, with all that they started."""
    for child in multiprocessing.active_children():
        child.kill()
        if child.pid is not None:
            _end_group(child.pid)


def _begin() -> None:
    """In the new process, which leads a group: Ctrl-C is not for it, and it ends with its parent.

    One whose parent was killed would wait for its next order for ever.
    """
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    if hasattr(os, "setpgid"):
        os.setpgid(0, 0)
    end_with_parent(lambda: _end_group(os.getpid()))


def _end_group(leader: int) -> None:
    if hasattr(os, "killpg"):
        with suppress(OSError):  # it does not lead one yet, or all are gone
            os.killpg(leader, signal.SIGKILL)
