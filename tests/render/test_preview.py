"""The cage stands beside what subdivision makes of it; bake distances lie on the low parts."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image
from shapes import cube, model, sphere

from reviewbot.geometry.catmull_clark import refine, step
from reviewbot.mesh import Part
from reviewbot.render.album_settings import AlbumSettings
from reviewbot.render.bake_map import bake_picture
from reviewbot.render.preview import preview_picture

pytestmark = pytest.mark.usefixtures("renderer")
SMALL = AlbumSettings(title="prop.obj", size=128)


def opened(data: bytes) -> np.ndarray:
    return np.asarray(Image.open(io.BytesIO(data)).convert("RGB")).astype(int)


def smooth(part: Part) -> Part:
    points, corners, start = refine(step(part.points, part.corner_point, part.face_start))
    return Part(name=part.name, points=points, corner_point=corners, face_start=start)


def test_the_subdivided_form_is_rounder_than_its_cage() -> None:
    cage = cube()
    made = preview_picture(model(cage), model(smooth(smooth(smooth(cage)))), SMALL)
    image = opened(made.data)
    backdrop = np.abs(image - [238, 239, 240]).max(axis=2) < 8
    width = image.shape[1]
    left, right = backdrop[:, 20 : width // 5], backdrop[:, width // 5 : 2 * width // 5]
    assert right.sum() > 1.2 * left.sum()
    assert made.kind == "subdivision"
    assert (made.width, made.height) == image.shape[1::-1]


def test_bake_distances_are_coloured_and_misses_grey() -> None:
    part = sphere(16, 9)
    near, far, missed = (np.full(part.face_count, value) for value in (0.0, 0.1, np.nan))
    touching, apart, unmet = (
        opened(bake_picture(model(part), [gaps], reach=0.1, settings=SMALL).data)
        for gaps in (near, far, missed)
    )
    yellow = [int(((p[..., 0] > 180) & (p[..., 2] < 110)).sum()) for p in (touching, apart, unmet)]
    assert yellow[1] > 4 * max(yellow[0], yellow[2])  # what is left is the scale's upper end
    form = np.abs(touching - apart).max(axis=2) > 40
    assert unmet[form].mean() < touching[form].mean() - 30  # grey; what touches is pale
