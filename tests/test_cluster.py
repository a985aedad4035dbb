"""Reviews on a real cluster of this machine: several worker processes, one of them killed."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from kept import LID, cache_in, job_on, write_prop

from reviewbot import cluster
from reviewbot.cluster import SealedJob, cluster_crew, make_sealed
from reviewbot.errors import UsageError
from reviewbot.history.parcels import pack
from reviewbot.history.sources import opened
from reviewbot.jobs import AssetJob
from reviewbot.making import Made, make_review
from reviewbot.reviews import kept_or_made

distributed = pytest.importorskip("distributed", reason="needs the package 'distributed'")


def prop(folder: Path, number: int) -> AssetJob:
    file = write_prop(folder / f"prop_{number:02}")
    text = LID.replace("v 1 1 0", f"v 1 1 0.{number:02}")
    file.write_text(text + "".join(f"v 0 0 {k}\n" for k in range(number)))
    return replace(job_on(None, file), path=f"props/prop_{number:02}.obj")


@pytest.fixture
def jobs(tmp_path: Path) -> list[AssetJob]:
    return [prop(tmp_path, number) for number in range(1, 25)]


def test_a_sealed_job_asks_until_it_has_all(tmp_path):
    """First the material file and the partner, then the picture; then it is the same review."""
    job = prop(tmp_path, 3)
    questions: frozenset = frozenset()
    asked = []
    while True:
        parcels = {job.after: pack(job.after, opened, questions)}
        came = make_sealed(SealedJob(job=job, parcels=parcels, program=cluster.program()))
        if isinstance(came, Made):
            break
        asked.append({name for _, name in came[job.after]})
        questions |= came[job.after]
    assert asked[0] == {"lid.mtl", "lid_high.obj"}
    assert asked[1] == {"brass.png"}
    assert len(asked) == 2
    assert came == make_review(job)


def test_a_file_without_bytes_is_unreadable_elsewhere_too(tmp_path):
    job = prop(tmp_path, 3)
    job.after.file.unlink()
    sealed = SealedJob(
        job=job,
        parcels={job.after: pack(job.after, opened, frozenset())},
        program=cluster.program(),
    )
    assert make_sealed(sealed) == make_review(job)


def test_a_worker_with_another_program_refuses(tmp_path):
    job = prop(tmp_path, 3)
    with pytest.raises(UsageError, match="another version"):
        make_sealed(SealedJob(job=job, parcels={}, program="other"))


def test_no_scheduler_is_one_line(monkeypatch):
    monkeypatch.setattr(cluster, "_PATIENCE", 1)
    with (
        pytest.raises(UsageError, match="no scheduler answers"),
        cluster_crew("tcp://127.0.0.1:9"),
    ):
        pass


@pytest.fixture
def address(tmp_path: Path) -> Iterator[str]:
    """A scheduler and three workers, each a process of its own with a nurse that replaces it."""
    script = tmp_path / "serve.py"
    script.write_text(
        "import sys\n"
        "from distributed import LocalCluster\n"
        "if __name__ == '__main__':\n"
        "    with LocalCluster(n_workers=3, threads_per_worker=1, dashboard_address=None,\n"
        "                      host='127.0.0.1') as cluster:\n"
        "        print(cluster.scheduler_address, flush=True)\n"
        "        sys.stdin.read()\n"
    )
    serving = subprocess.Popen(
        [sys.executable, str(script)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
        cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
    )
    yield serving.stdout.readline().strip()
    serving.communicate(timeout=60)


def workers(address: str) -> dict[str, int]:
    """Process ids of the workers, by address."""
    with distributed.Client(address, set_as_default=False) as client:
        return client.run(os.getpid)


@pytest.mark.slow
def test_nothing_is_lost_or_doubled_when_a_worker_is_killed(jobs, address, tmp_path):
    first = min(workers(address).values())
    cache, said = cache_in(tmp_path / "kept")
    came = []
    hire = lambda: cluster_crew(address)  # noqa: E731
    for review in kept_or_made(jobs, cache=cache, make=make_review, hire=hire):
        if len(came) == 1:
            os.kill(first, signal.SIGKILL)
        came.append(review)
    assert [one.entry.path for one in came] == [job.path for job in jobs]
    assert came == [make_review(job).review for job in jobs]
    assert first not in workers(address).values()
    again = list(kept_or_made(jobs, cache=cache, make=pytest.fail, hire=hire))
    assert again == came
    assert said == []
