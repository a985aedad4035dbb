"""Work in order, no more at once than there are processes and memory for."""

from __future__ import annotations

import os
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import contextmanager
from pathlib import Path

import pytest

from reviewbot import spread
from reviewbot.cores import core_count, thread_count
from reviewbot.errors import UsageError
from reviewbot.spread import Crew, Task, local_crew, memory_budget_mb, results


class Watched:
    """A pool of threads that knows how much ran at once."""

    def __init__(self) -> None:
        self._pool = ThreadPoolExecutor(8)
        self._lock = threading.Lock()
        self.now, self.most, self.begun = 0, 0, 0

    def submit(self, work: Callable[[int], int], job: int, /) -> Future[int]:
        return self._pool.submit(self._counted, work, job)

    def _counted(self, work: Callable[[int], int], job: int) -> int:
        with self._lock:
            self.now, self.begun = self.now + 1, self.begun + 1
            self.most = max(self.most, self.now)
        try:
            return work(job)
        finally:
            with self._lock:
                self.now -= 1


def squared(number: int) -> int:
    time.sleep(0.02 if number % 3 == 0 else 0.001)
    return number * number


def ran(watched: Watched, *, most: int, memory_mb: float, mb: float) -> list[int]:
    @contextmanager
    def hire() -> Iterator[Crew[int, int]]:
        yield Crew(executor=watched, most=most, memory_mb=memory_mb)

    tasks: Iterator[Task[int, int]] = (Task(job=number, mb=mb) for number in range(20))
    return list(results(squared, tasks, hire))


@pytest.mark.parametrize(
    ("most", "memory_mb", "mb", "at_once"),
    [(4, 1000, 1, 4), (8, 300, 100, 3), (8, 100, 100, 1), (8, 50, 100, 1), (1, 1000, 1, 1)],
)
def test_no_more_at_once_than_there_is_room_for(most, memory_mb, mb, at_once):
    watched = Watched()
    assert ran(watched, most=most, memory_mb=memory_mb, mb=mb) == [n * n for n in range(20)]
    assert watched.most <= at_once
    assert watched.most == at_once or most > 1


def test_what_is_known_needs_no_work():
    tasks = [Task(job=1, done=10), Task(job=2), Task(job=3, done=30)]

    @contextmanager
    def hire() -> Iterator[Crew[int, int]]:
        yield Crew(executor=Watched(), most=2, memory_mb=1)

    assert list(results(squared, tasks, hire)) == [10, 4, 30]


def test_work_is_drawn_as_it_is_wanted():
    """Results that nobody takes hold up the rest: they would pile up in memory."""
    watched = Watched()

    @contextmanager
    def hire() -> Iterator[Crew[int, int]]:
        yield Crew(executor=watched, most=8, memory_mb=1000)

    came = results(lambda n: n, (Task(job=n) for n in range(5000)), hire)
    assert next(came) == 0
    time.sleep(0.2)
    assert watched.begun < 200
    assert sum(1 for _ in came) == 4999


def test_an_error_reaches_whoever_takes_the_result():
    def hire() -> object:
        return local_crew(1, 1000)

    came = results(int, [Task(job="1"), Task(job="x"), Task(job="3")], hire)
    assert next(came) == 1
    with pytest.raises(ValueError, match="invalid literal"):
        next(came)


def test_one_worker_is_this_process_and_several_are_others():
    tasks = [Task(job=0) for _ in range(3)]
    here = set(results(process_id, tasks, lambda: local_crew(1, 1000)))
    there = set(results(process_id, tasks, lambda: local_crew(2, 1000)))
    assert here == {os.getpid()}
    assert os.getpid() not in there


def process_id(_job: int) -> int:
    return os.getpid()


def test_a_worker_that_is_ended_is_one_line():
    tasks: Iterator[Task[int, int]] = (Task(job=9) for _ in range(3))
    with pytest.raises(UsageError, match="fewer --workers"):
        list(results(end, tasks, lambda: local_crew(2, 1000)))


def end(signal: int) -> int:
    os.kill(os.getpid(), signal)
    return signal


def test_the_budget_is_a_share_of_what_is_free(tmp_path, monkeypatch):
    """As /proc/meminfo (proc(5)) and memory.max (cgroups v2) state it."""
    (tmp_path / "meminfo").write_text("MemTotal: 16000 kB\nMemAvailable:    8192000 kB\n")
    (tmp_path / "memory.max").write_text("4194304000\n")
    (tmp_path / "memory.current").write_text("2097152000\n")
    lines = spread._lines
    monkeypatch.setattr(spread, "_lines", lambda file: lines(tmp_path / Path(file).name))
    assert memory_budget_mb() == pytest.approx(0.75 * 2000)
    (tmp_path / "memory.max").write_text("max\n")
    assert memory_budget_mb() == pytest.approx(0.75 * 8000)


_PARENT = """
import time
from reviewbot.spread import Processes
if __name__ == "__main__":
    pool = Processes(2)
    print(pool.submit(int, 7).result(), flush=True)
    print(*pool._pool._processes, flush=True)
    time.sleep(60)
"""


@pytest.mark.skipif(not Path("/proc").is_dir(), reason="looks for processes under /proc")
def test_processes_end_when_their_parent_is_killed(tmp_path: Path) -> None:
    script = tmp_path / "parent.py"
    script.write_text(_PARENT)
    command = [sys.executable, str(script)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as parent:
        assert parent.stdout is not None
        assert parent.stdout.readline() == "7\n"
        children = [Path("/proc", pid) for pid in parent.stdout.readline().split()]
        parent.kill()
    assert children
    until = time.monotonic() + 30
    while any(map(_runs, children)) and time.monotonic() < until:
        time.sleep(0.05)
    assert not any(map(_runs, children))


def _runs(process: Path) -> bool:
    try:
        return process.joinpath("stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False


def threads(_job: int) -> int:
    return thread_count()


def test_processes_that_work_side_by_side_share_the_cores():
    with local_crew(2, 1000) as crew:
        assert crew.executor.submit(threads, 0).result() == max(1, min(core_count() // 2, 4))
    assert thread_count() == min(core_count(), 4)
