"""From findings to the places that are pictured."""

from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest
from examined import examined
from shapes import cube
from tubes import square_tube

from reviewbot.checks.rules import run_rules
from reviewbot.checks.subject import Subject
from reviewbot.geometry.rays import rays_available
from reviewbot.report.pictured import PictureSettings, begin_scenes, draw_asset
from reviewbot.settings import PictureSettings as Pictures
from reviewbot.settings import Settings

pytestmark = pytest.mark.skipif(
    not rays_available(), reason="embreex has no wheel for this machine"
)


def drawn_spots(*parts) -> set[str]:
    settings = Settings(pictures=Pictures(views=4, size=64))
    examination = examined(*parts)
    found = run_rules(Subject(path="a.obj", examination=examination, settings=settings))
    wish = PictureSettings(path="a.obj", settings=settings, renderer="ray", detail="brief")
    with ThreadPoolExecutor(1) as pool:
        scenes = begin_scenes(None, examination, pool)
    drawn = draw_asset(None, examination, None, found, wish, scenes=scenes)
    return {picture.code for picture in drawn.pictures if picture.kind == "spot"}


def test_open_seams_are_pictured_though_they_are_only_a_note() -> None:
    assert "seam-exposed" in drawn_spots(square_tube(0))
    assert "seam-exposed" not in drawn_spots(square_tube(1))


def test_other_notes_are_not() -> None:
    """Points that no face stands on are said and no more."""
    block = cube()
    loose = type(block)(
        name="cube",
        points=np.concatenate([block.points, [[0.1, 0.2, 0.3]]]),
        corner_point=block.corner_point,
        face_start=block.face_start,
        uvs=block.uvs,
        corner_uv=block.corner_uv,
    )
    assert "loose-vertex" not in drawn_spots(loose)
