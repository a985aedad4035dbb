"""Both versions of an asset measured side by side, each as soon as it is read.

Needs nothing of what compares, judges and draws: versions are being measured while that loads.
"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

from reviewbot.cache.versions import KeptVersion, keep_version, unpacked
from reviewbot.cores import thread_count
from reviewbot.errors import MeshReadError
from reviewbot.intake import SIDES, Intake, ReadVersion, Side
from reviewbot.jobs import AssetJob
from reviewbot.measure.examine import Examination, examine
from reviewbot.measure.memory import Memory
from reviewbot.settings import settings_at

Measured = Examination | MeshReadError | None


class Measuring:
    """Measures what an intake takes in, from the moment it is made; to be closed."""

    def __init__(self, intake: Intake) -> None:
        self._intake = intake
        self._memory = Memory()  # most of its parts each version shares with the other
        self._pool = ThreadPoolExecutor(thread_count())
        self._begun = {side: self._pool.submit(self._measured, side) for side in SIDES}

    def close(self) -> None:
        """Wait for what runs, drop what does not."""
        self._pool.shutdown(cancel_futures=True)

    @property
    def job(self) -> AssetJob:
        return self._intake.job

    @property
    def is_lasting(self) -> bool:
        """See `Intake.is_lasting`."""
        return self._intake.is_lasting

    def measured(self, side: Side) -> Measured:
        """A version's measures, kept or new, or why it cannot be read; None where there is none."""
        return self._begun[side].result()

    def _measured(self, side: Side) -> Measured:
        taken = self._intake.taken(side)
        if isinstance(taken.what, KeptVersion):
            known = unpacked(taken.what, Examination)
            if known is not None:
                return known
            taken = self._intake.read_after_all(side)
        if isinstance(taken.what, ReadVersion):
            return self._examined(taken.what, may_be_kept=taken.is_lasting)
        assert not isinstance(taken.what, KeptVersion), "nothing kept was asked for"
        return taken.what

    def _examined(self, version: ReadVersion, *, may_be_kept: bool) -> Examination:
        examination = examine(
            version.model,
            settings_at(version.source.path, self.job.settings),
            partner=version.partner,
            textures=version.textures,
            memory=self._memory,
        )
        kept, reading = self._intake.kept, self._intake.notes.reading(version.source)
        if kept is not None and reading is not None and may_be_kept:
            keep_version(kept, self.job, reading, examination, Examination)
        return examination
