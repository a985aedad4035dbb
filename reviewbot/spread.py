"""Work spread over processes: as much at once as there are processes and memory for, in order.

Runs on anything that submits as an executor of `concurrent.futures` does.
"""

from __future__ import annotations

import os
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass
from multiprocessing import get_context, parent_process
from pathlib import Path
from threading import Thread
from typing import Any, Generic, Protocol, TypeVar

from reviewbot.cores import look_for_cycles_seldom, share_cores, use_one_heap
from reviewbot.errors import UsageError

J = TypeVar("J")
R = TypeVar("R")
_AHEAD = 1  # handed over beyond what runs, so that no process waits for the next
_MOST_FINISHED = 64  # results that wait for an earlier one, before no more work is handed over
_SHARE_OF_MEMORY = 0.75
_MEGABYTE = 1 << 20


class Executor(Protocol[J, R]):
    """What work is handed to."""

    def submit(self, work: Callable[[J], R], job: J, /) -> Future[R]: ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Crew(Generic[J, R]):
    """Where work is done. most  at once; memory_mb  for all that runs at once"""

    executor: Executor[J, R]
    most: int
    memory_mb: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Task(Generic[J, R]):
    """One job, plain enough to be sent elsewhere.

    done  what comes of it, where that is known already
    mb    the memory that doing it is likely to take
    """

    job: J
    done: R | None = None
    mb: float = 0.0


class Here:
    """Does the work where it is handed over, when it is."""

    def submit(self, work: Callable[[J], R], job: J, /) -> Future[R]:
        """See `Executor`."""
        return _finished(work(job))


class Processes:
    """A pool that starts with the first work it gets."""

    def __init__(self, workers: int) -> None:
        self._workers = workers
        self._pool: ProcessPoolExecutor | None = None

    def submit(self, work: Callable[[J], R], job: J, /) -> Future[R]:
        """See `Executor`."""
        if self._pool is None:
            # Not forked: back ends hold threads and a GL context that a fork would break.
            self._pool = ProcessPoolExecutor(
                self._workers,
                mp_context=get_context("spawn"),
                initializer=_begin,
                initargs=(self._workers,),
            )
        return self._pool.submit(work, job)

    def close(self) -> None:
        """Wait for what runs, drop what does not."""
        if self._pool is not None:
            self._pool.shutdown(cancel_futures=True)


def _begin(workers: int) -> None:
    use_one_heap()
    look_for_cycles_seldom()
    share_cores(workers)
    end_with_parent()


def end_with_parent(first: Callable[[], None] = lambda: None) -> None:
    """In a pool's process: it ends when its parent does, and does not wait for work for ever.

    first  what it does before it ends
    """

    def wait_and_end() -> None:
        parent = parent_process()
        if parent is not None:
            parent.join()
            first()
            os._exit(1)

    Thread(target=wait_and_end, daemon=True).start()


@contextmanager
def local_crew(workers: int, memory_mb: float) -> Iterator[Crew[Any, Any]]:
    """Processes of this machine; for one worker none but this one.

    Raises UsageError where one of them is ended from outside.
    """
    if workers <= 1:
        yield Crew(executor=Here(), most=1, memory_mb=memory_mb)
        return
    pool = Processes(workers)
    try:
        yield Crew(executor=pool, most=workers + _AHEAD, memory_mb=memory_mb)
    except BrokenProcessPool as error:
        raise UsageError(
            "a worker process was ended from outside, most likely for want of memory: "
            "give fewer --workers, or less --memory; what was finished is found again"
        ) from error
    finally:
        pool.close()


def results(
    work: Callable[[J], R],
    tasks: Iterable[Task[J, R]],
    hire: Callable[[], AbstractContextManager[Crew[J, R]]],
) -> Iterator[R]:
    """What comes of each task, in their order.

    Tasks are drawn as there is room for them. One alone may take more than the crew's memory.
    """
    with hire() as crew:
        running: dict[Future[R], float] = {}
        line: deque[Future[R]] = deque()
        for task in tasks:
            if task.done is None:
                _wait_for_room(running, crew, task.mb)
                future = crew.executor.submit(work, task.job)
                running[future] = task.mb
            else:
                future = _finished(task.done)
            line.append(future)
            while line and (line[0].done() or len(line) > _MOST_FINISHED):
                yield line.popleft().result()
        while line:
            yield line.popleft().result()


def _finished(done: R) -> Future[R]:
    future: Future[R] = Future()
    future.set_result(done)
    return future


def _wait_for_room(running: dict[Future[R], float], crew: Crew[J, R], mb: float) -> None:
    while running and (len(running) >= crew.most or sum(running.values()) + mb > crew.memory_mb):
        for future in wait(running, return_when=FIRST_COMPLETED).done:
            del running[future]


def memory_budget_mb() -> float:
    """Three quarters of the memory that is free now, for this process's group where it has one."""
    free = [_free_on_this_machine(), _free_in_this_group()]
    known = [size for size in free if size is not None]
    return _SHARE_OF_MEMORY * min(known, default=4096.0 * _MEGABYTE) / _MEGABYTE


def _free_on_this_machine() -> float | None:
    """In bytes; on systems that do not tell what is free, all there is."""
    for line in _lines(Path("/proc/meminfo")):
        if line.startswith("MemAvailable:"):
            return float(line.split()[1]) * 1024
    try:
        return float(os.sysconf("SC_PHYS_PAGES") * os.sysconf("SC_PAGE_SIZE"))
    except (AttributeError, ValueError, OSError):
        return None


def _free_in_this_group() -> float | None:
    """In bytes, by the limit of a container (control groups, version 2); None without one."""
    group = Path("/sys/fs/cgroup")
    limit, used = (
        next(iter(_lines(group / name)), "") for name in ("memory.max", "memory.current")
    )
    return float(limit) - float(used) if limit.isdigit() and used.isdigit() else None


def _lines(file: Path) -> list[str]:
    try:
        return file.read_text(encoding="ascii").splitlines()
    except (OSError, ValueError):
        return []
