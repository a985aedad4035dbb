"""What is taken over from the version before is what would have been traced after."""

from dataclasses import replace

import numpy as np
import pytest
from shapes import cube, model, sphere, torus

from reviewbot.errors import RendererUnavailableError
from reviewbot.mesh import BoolArray, FloatArray, IndexArray, Part
from reviewbot.render.backends import Backend, BackendName, open_backend
from reviewbot.render.camera import Camera, framing, projected, turntable
from reviewbot.render.samples import Scene
from reviewbot.render.scene import build_scene
from reviewbot.render.unchanged import changed_pixels, find_unchanged
from reviewbot.render.visibility import ViewBuffer, draw_view_pairs, draw_views

SIZE = 96


def placed(part: Part, name: str, x: float) -> Part:
    return replace(part, name=name, points=part.points + np.array([x, 0.0, 0.0]))


def scene_of(*parts: Part) -> Scene:
    return build_scene(model(*parts))


def a_pair() -> tuple[Scene, Scene]:
    """A ring that is dented, a ball that goes and a box that stays, listed in another order."""
    box, ball = placed(cube(), "box", -2.5), placed(sphere(24, 13), "ball", 2.5)
    ring = placed(torus(24, 10), "ring", 0.0)
    dented = ring.points.copy()
    dented[: len(dented) // 5] *= 0.9
    return scene_of(box, ball, ring), scene_of(replace(ring, points=dented), box)


class Counting:
    """A back end that counts the pixels it is asked for."""

    def __init__(self, inner: Backend) -> None:
        self.inner, self.name, self.close, self.pixels = inner, inner.name, inner.close, 0

    def middle_triangles(self, camera: Camera, wanted: BoolArray) -> IndexArray:
        self.pixels += int(wanted.sum())
        found = self.inner.middle_triangles(camera, wanted)
        return np.where(wanted.reshape(-1), found, np.int32(-1))  # nothing more than promised

    def quarter_triangles(self, camera: Camera, size: int, pixels: IndexArray) -> IndexArray:
        return self.inner.quarter_triangles(camera, size, pixels)


def kept(view: ViewBuffer) -> ViewBuffer:
    return view


@pytest.mark.parametrize("renderer", ["ray", "gl"])
def test_a_pair_is_seen_as_each_alone(renderer: BackendName) -> None:
    scenes = a_pair()
    cameras = turntable(framing(*scenes), 5)
    try:
        old, new = (open_backend(renderer, scene) for scene in scenes)
    except RendererUnavailableError as error:
        pytest.skip(str(error))
    counting = Counting(new)
    pairs = draw_view_pairs(scenes, cameras, (old, counting), SIZE, (kept, kept))
    for side, (scene, backend) in enumerate(zip(scenes, (old, new), strict=True)):
        for pair, alone in zip(pairs, draw_views(scene, cameras, backend, SIZE, kept), strict=True):
            for name in ("pixel", "weight", "triangle", "bary", "depth", "footprint"):
                seen, expected = getattr(pair[side].samples, name), getattr(alone.samples, name)
                np.testing.assert_array_equal(seen, expected)
            np.testing.assert_array_equal(pair[side].normals, alone.normals)
            np.testing.assert_array_equal(pair[side].is_back, alone.is_back)
    assert 0 < counting.pixels < 0.7 * len(cameras) * SIZE**2
    old.close()
    new.close()


def test_changed_triangles_lie_within_their_pixels() -> None:
    before, after = a_pair()
    unchanged = find_unchanged(before, after)
    for camera in turntable(framing(before, after), 4):
        marked = changed_pixels(unchanged, camera, SIZE)
        assert not marked.all()
        for middle in middles_of_changed(before, unchanged.number, camera):
            assert marked[int(middle[1]), int(middle[0])]


def middles_of_changed(scene: Scene, number: IndexArray, camera: Camera) -> FloatArray:
    return projected(camera, scene.corners[number < 0].mean(axis=1), SIZE)


def test_what_stays_keeps_its_corners() -> None:
    before, after = a_pair()
    number = find_unchanged(before, after).number
    stays = np.flatnonzero(number >= 0)
    np.testing.assert_array_equal(before.corners[stays], after.corners[number[stays]])
    names = np.array(before.part_names)[before.part]
    assert (number[names == "box"] >= 0).all()
    assert (number[names == "ball"] < 0).all()
    assert 0 < (number[names == "ring"] < 0).mean() < 1


def test_the_same_twice_has_nothing_changed() -> None:
    scene, _ = a_pair()
    unchanged = find_unchanged(scene, scene)
    np.testing.assert_array_equal(unchanged.number, np.arange(len(scene.triangles)))
    (camera,) = turntable(framing(scene), 1)
    assert not changed_pixels(unchanged, camera, SIZE).any()


def test_nothing_and_something_have_nothing_in_common() -> None:
    nothing, scene = scene_of(), a_pair()[0]
    assert len(find_unchanged(nothing, scene).number) == 0
    assert (find_unchanged(scene, nothing).number == -1).all()
