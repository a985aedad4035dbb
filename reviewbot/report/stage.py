"""Both versions of an asset on one stage: same frame, same cameras, same back end."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass

import numpy as np

from reviewbot.measure.examine import Examination
from reviewbot.mesh import FloatArray
from reviewbot.render.backends import Backend, RendererName, choose_renderer, open_backend
from reviewbot.render.camera import Camera, Frame, bottom_view, framing, top_view, turntable
from reviewbot.render.samples import Scene
from reviewbot.render.scene import build_scene
from reviewbot.settings import Settings


@dataclass(frozen=True, slots=True, kw_only=True)
class Actor:
    """One version, ready to be pictured.

    place  (4, 4) carries the version's own space into the stage's
    """

    examination: Examination
    scene: Scene
    backend: Backend
    place: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Stage:
    """What is pictured, and from where.

    before, after  None where there is no such version; the version before stands as it is, the
                   one after is carried onto it where the whole asset was sized, turned or shifted
    size           pixels along a side of each view
    """

    before: Actor | None
    after: Actor | None
    frame: Frame
    cameras: tuple[Camera, ...]
    size: int

    @property
    def actors(self) -> tuple[Actor, ...]:
        return tuple(actor for actor in (self.before, self.after) if actor is not None)


@contextmanager
def staged(
    before: Examination | None,
    after: Examination | None,
    *,
    undo: FloatArray,
    settings: Settings,
    renderer: RendererName,
) -> Iterator[Stage]:
    """A stage, open for as long as pictures are taken.

    undo  (4, 4) carries the version after onto the version before
    Raises RendererUnavailableError where no back end, or not the wanted one, is there.
    """
    scenes = [
        None if examination is None else _scene(examination, place)
        for examination, place in ((before, np.eye(4)), (after, undo))
    ]
    wanted = choose_renderer(renderer)
    frame = framing(*(s for s in scenes if s is not None), up=settings.placement.up)
    with ExitStack() as stack:

        def actor(
            examination: Examination | None, scene: Scene | None, place: FloatArray
        ) -> Actor | None:
            if examination is None or scene is None:
                return None
            backend = open_backend(wanted, scene)
            stack.callback(backend.close)
            return Actor(examination=examination, scene=scene, backend=backend, place=place)

        around = turntable(frame, settings.pictures.views)
        yield Stage(
            before=actor(before, scenes[0], np.eye(4)),
            after=actor(after, scenes[1], undo),
            frame=frame,
            cameras=(*around, top_view(frame), bottom_view(frame)),
            size=settings.pictures.size,
        )


def _scene(examination: Examination, place: FloatArray) -> Scene:
    charts = [one.shells.face_shell for one in examination.parts]
    return build_scene(examination.model, undo=place, charts=charts)
