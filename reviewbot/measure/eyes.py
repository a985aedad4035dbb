"""Looking from a few given places: the settings' cameras."""

from __future__ import annotations

import numpy as np

from reviewbot.geometry.rays import RayScene
from reviewbot.measure.exposure import CHUNK, INNER, OUTER, Sight
from reviewbot.measure.face_samples import FaceSamples
from reviewbot.mesh import BoolArray, FloatArray, IndexArray, Model
from reviewbot.settings import Settings


def eyes_of(model: Model, settings: Settings) -> FloatArray:
    """(N, 3) where the settings' cameras stand, in the units of the model; empty without any."""
    places = np.array([camera.eye for camera in settings.cameras]).reshape(-1, 3)
    return np.asarray(places / (model.metres_per_unit or 1.0))


def look_from(
    eyes: FloatArray, scene: RayScene, samples: FaceSamples, *, lift: float, two_sided: BoolArray
) -> Sight:
    """Look at each sample from each eye; shares are of the eyes, however few.

    eyes             (N, 3) at least one
    lift, two_sided  as in `look_at_samples`
    """
    tally = _Tally(eyes, scene, samples, lift)
    everything = np.arange(len(samples.face), dtype=np.int32)
    tally.look(everything, OUTER)
    tally.look(everything[two_sided], INNER)
    tally.look(everything[(tally.seen == 0) & ~two_sided], INNER)
    return Sight(
        seen=tally.seen / len(eyes),
        openness=tally.seen / np.maximum(tally.looked, 1),
        facing=tally.facing / len(eyes),
    )


class _Tally:
    """Counts of the eyes that look at samples, and that see them."""

    def __init__(
        self, eyes: FloatArray, scene: RayScene, samples: FaceSamples, lift: float
    ) -> None:
        self._eyes, self._scene, self._samples, self._lift = eyes, scene, samples, lift
        self._middle = samples.point.mean(axis=0) if len(samples.point) else np.zeros(3)
        self.seen, self.looked, self.facing = np.zeros((3, len(samples.face)))

    def look(self, rows: IndexArray, side: int) -> None:
        """Look at one side of some samples from all eyes that it faces."""
        for first in range(0, len(rows), CHUNK):
            self._look(rows[first : first + CHUNK], 1.0 if side == OUTER else -1.0)

    def _look(self, rows: IndexArray, sign: float) -> None:
        normal = sign * self._samples.normal[rows]
        start = self._samples.point[rows] + self._lift * normal
        for eye in self._eyes:
            away = np.maximum(np.linalg.norm(eye - start, axis=1), self._lift)
            along = (eye - start) / away[:, None]
            turn = np.einsum("ij,ij->i", normal, along)
            looks = np.flatnonzero(turn > 0)
            is_free = ~self._scene.is_blocked(start[looks], along[looks], away[looks])
            size = turn[looks] * (np.linalg.norm(eye - self._middle) / away[looks]) ** 2
            self.looked[rows[looks]] += 1
            self.seen[rows[looks]] += is_free
            self.facing[rows[looks]] += is_free * size
