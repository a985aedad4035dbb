"""Reviews on many machines, by Dask `distributed`: an optional library, loaded here only.

A job takes its files' bytes along, so that the machines need no repository and no shared disk. A
job whose machine goes away is done again on another one; each comes back once, in its place.
"""

from __future__ import annotations

import warnings
from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import Future
from contextlib import contextmanager
from dataclasses import dataclass, replace

from reviewbot.cache.keys import program
from reviewbot.errors import UsageError
from reviewbot.history.parcels import Parcel, Question, UnansweredError, Unpacked, pack
from reviewbot.history.sources import Histories, Source
from reviewbot.jobs import AssetJob
from reviewbot.making import Made, make_review
from reviewbot.render.backends import choose_renderer
from reviewbot.spread import Crew, Executor

Questions = Mapping[Source, frozenset[Question]]
_PATIENCE = 15  # seconds until a scheduler must have answered
_AHEAD = 2  # jobs on their way to each thread, so that none waits
_ENDS = 3  # machines that may end over one job before it is taken for the cause


@dataclass(frozen=True, slots=True, kw_only=True)
class SealedJob:
    """A job with all it reads. program  that is to do it: another one would find something else"""

    job: AssetJob
    parcels: Mapping[Source, Parcel]
    program: str


def make_sealed(sealed: SealedJob) -> Made | Questions:
    """The review, or what must travel too. Raises UsageError on a machine with another program."""
    if sealed.program != program():
        raise UsageError(
            "the cluster's workers run another version of reviewbot or of its libraries: "
            "install the same there"
        )
    files = Unpacked(sealed.parcels)
    try:
        return make_review(sealed.job, files.opened)
    except UnansweredError:
        return {source: frozenset(missed) for source, missed in files.unanswered.items()}


class Sealing:
    """Hands reviews over as sealed jobs, again with more in them until nothing is missing."""

    def __init__(
        self, executor: Executor[SealedJob, Made | Questions], histories: Histories
    ) -> None:
        self._executor, self._histories = executor, histories

    def submit(self, _work: Callable[[AssetJob], Made], job: AssetJob, /) -> Future[Made]:
        """See `spread.Executor`; what is done elsewhere is `make_sealed`."""
        if job.pictures != "none":  # as here: pictures of one report are drawn alike
            job = replace(job, renderer=choose_renderer(job.renderer))
        whole: Future[Made] = Future()
        self._send(job, {}, whole)
        return whole

    def _send(self, job: AssetJob, asked: Questions, whole: Future[Made]) -> None:
        def came(future: Future[Made | Questions]) -> None:
            try:
                made = future.result()
                if isinstance(made, Made):
                    whole.set_result(made)
                else:
                    self._send(job, _joined(asked, made), whole)
            except BaseException as error:  # whoever waits for the whole gets to know
                whole.set_exception(error)

        sealed = SealedJob(job=job, parcels=self._parcels(job, asked), program=program())
        self._executor.submit(make_sealed, sealed).add_done_callback(came)

    def _parcels(self, job: AssetJob, asked: Questions) -> dict[Source, Parcel]:
        return {
            source: pack(source, self._histories.opened, asked.get(source, frozenset()))
            for source in (job.before, job.after)
            if source is not None
        }


def _joined(known: Questions, more: Questions) -> Questions:
    return {source: known.get(source, frozenset()) | more[source] for source in more}


@contextmanager
def cluster_crew(address: str) -> Iterator[Crew[AssetJob, Made]]:
    """The workers of a scheduler. Raises UsageError where there is none, or no library."""
    try:
        from distributed import Client  # noqa: PLC0415
        from distributed.scheduler import KilledWorker  # noqa: PLC0415
    except ImportError as error:
        raise UsageError(
            "--cluster needs the package 'distributed': pip install distributed"
        ) from error
    with warnings.catch_warnings(), Histories() as histories:
        warnings.filterwarnings("ignore", message="Sending large graph")
        try:
            client = Client(address, timeout=_PATIENCE, set_as_default=False)
        except (OSError, ValueError, TimeoutError) as error:
            raise UsageError(f"--cluster {address}: no scheduler answers there") from error
        with client:
            threads = sum(client.nthreads().values())
            executor = client.get_executor(pure=False, retries=0)
            try:
                yield Crew(
                    executor=Sealing(executor, histories),
                    most=max(1, threads) * _AHEAD,
                    memory_mb=float("inf"),
                )
            except KilledWorker as error:
                raise UsageError(
                    f"--cluster {address}: {_ENDS + 1} workers ended over the same asset; "
                    "review it by itself on one machine to see why"
                ) from error
            finally:
                executor.shutdown(wait=False)
