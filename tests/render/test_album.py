"""An album holds every picture that its versions can give, and no more."""

from __future__ import annotations

import io
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image
from render_shapes import bare, moved
from shapes import cube, grid, model, sphere

from reviewbot.measure.examine import examine
from reviewbot.mesh import Model
from reviewbot.render import looks
from reviewbot.render.album import Album, draw_album
from reviewbot.render.album_settings import AlbumSettings
from reviewbot.render.scene import build_scene
from reviewbot.render.seam_map import SeamLines
from reviewbot.render.spots import Spot
from reviewbot.render.uv_sheet import MovedShell
from reviewbot.render.version import Version, alike_coloured
from reviewbot.settings import Settings

pytestmark = pytest.mark.usefixtures("renderer")
SMALL = AlbumSettings(title="prop.obj", views=4, size=96, texture_size=256)


ALWAYS = {"strip", "turntable", "turntable-frames", "top-bottom"}


def version(of: Model, *, deviation: float | None = None) -> Version:
    examined = examine(of, Settings())
    return Version(
        scene=build_scene(of, charts=[part.shells.face_shell for part in examined.parts]),
        stretch=[part.stretch.face_l2 for part in examined.parts],
        density=[part.density.of_face for part in examined.parts],
        deviation=None
        if deviation is None
        else [np.full(len(part.points), deviation) for part in of.parts],
    )


def kinds(album: Album) -> set[str]:
    return {picture.kind for picture in album.pictures}


@pytest.fixture
def before() -> Model:
    return model(cube(name="body"), moved(sphere(16, 9, radius=0.3), by=(0, 0.7, 0), name="knob"))


@pytest.fixture
def after() -> Model:
    return model(cube(name="body"), moved(sphere(16, 9, radius=0.3), by=(0.3, 0.7, 0), name="knob"))


def test_two_versions_give_every_kind(before: Model, after: Model) -> None:
    edge = np.array([[[-0.5, 0.5, 0.5], [0.5, 0.5, 0.5]]])
    album = draw_album(
        version(before),
        version(after, deviation=0.3),
        SMALL,
        seams=SeamLines(kept=edge, cut=edge - [[[0, 1, 0]]], sewn=np.empty((0, 2, 3))),
        moved=[MovedShell(before=(0.2, 0.2), after=(0.7, 0.7))],
        spots=[Spot(at=(0.5, 0.5, 0.5), code="ngon", part="body", message="Look here.")],
    )
    assert kinds(album) == ALWAYS | {
        *("checker", "silhouette", "seams", "deviation", "stretch", "density", "uv-sheet", "spot"),
        *("clay-before", "clay-after", "clay-difference"),
    }
    assert album.differences[0].name == "view 01 (front)"
    assert len(album.differences) == 4
    assert min(d.ssim for d in album.differences) < 0.99
    assert len({picture.name for picture in album.pictures}) == len(album.pictures)


def test_every_picture_is_a_whole_file_with_words(before: Model, after: Model) -> None:
    for picture in draw_album(version(before), version(after), SMALL).pictures:
        opened = Image.open(io.BytesIO(picture.data))
        opened.load()
        assert opened.size == (picture.width, picture.height)
        assert opened.format == {".png": "PNG", ".webp": "WEBP"}[picture.suffix]
        assert picture.caption.endswith(".")
        assert picture.alt


def test_the_same_twice_differs_nowhere(before: Model) -> None:
    album = draw_album(version(before), version(before), SMALL)
    assert "silhouette" not in kinds(album)
    for difference in album.differences:
        assert (difference.ssim, difference.silhouette_iou, difference.outline_pixels) == (1, 1, 0)
    assert "no view differs" in album.pictures[0].caption


def test_reordered_parts_and_faces_look_the_same(before: Model) -> None:
    """A re-export that only lists things in another order is no change to be seen."""
    body, knob = before.parts
    faces = body.corner_point.reshape(-1, 4)[::-1]
    turned = type(body)(
        name="body",
        points=body.points,
        corner_point=np.roll(faces, 1, axis=1).reshape(-1),
        face_start=body.face_start,
    )
    old, new = alike_coloured(version(before), version(model(knob, turned)), {})
    album = draw_album(old, new, SMALL)
    for difference in album.differences:
        assert difference.ssim > 0.9999
        assert difference.silhouette_iou == 1


def test_pictures_are_the_same_bytes_each_time(before: Model, after: Model) -> None:
    one, other = (draw_album(version(before), version(after), SMALL) for _ in range(2))
    for first, second in zip(one.pictures, other.pictures, strict=True):
        assert first.data == second.data, first.name


@pytest.mark.parametrize("side", ["before", "after"])
def test_one_version_alone(before: Model, side: str) -> None:
    """An added or a removed asset: no comparison, everything else."""
    sides = {"before": None, "after": None} | {side: version(before)}
    album = draw_album(sides["before"], sides["after"], SMALL)
    assert kinds(album) >= ALWAYS
    assert not kinds(album) & {"silhouette", "clay-difference"}
    assert album.differences == ()
    assert "before" not in album.pictures[0].caption


@pytest.mark.parametrize("empty", [model(), model(bare(grid(0, 0)), bare(cube()))])
def test_next_to_nothing_is_pictured_too(empty: Model, before: Model) -> None:
    assert kinds(draw_album(version(empty), version(before), SMALL)) >= ALWAYS


def test_hostile_names_stay_words(before: Model) -> None:
    names = ["\x1b[31m\u202ered\n", "字" * 90]
    odd = model(*(replace(p, name=n) for p, n in zip(before.parts, names, strict=True)))
    spot = Spot(at=(0, 0, 0.5), code="ngon", part=names[0], message="m" * 900)
    album = draw_album(None, version(odd), replace(SMALL, title="a" * 300), spots=[spot])
    assert (
        max(picture.width for picture in album.pictures if picture.kind != "turntable-frames")
        <= 1700
    )


def test_nothing_at_all_is_pictured_too() -> None:
    assert kinds(draw_album(None, version(model(grid(0, 0))), SMALL)) >= ALWAYS


def test_no_version_is_an_error() -> None:
    with pytest.raises(ValueError, match="at least one"):
        draw_album(None, None, SMALL)


def test_a_change_of_uvs_alone_is_traced_once_and_drawn_for_both(
    before: Model, monkeypatch: pytest.MonkeyPatch
) -> None:
    body, knob = before.parts
    shifted = replace(body, uvs=body.uvs * 0.5)
    old, new = version(before), version(model(shifted, knob))
    together = draw_album(old, new, SMALL)
    monkeypatch.setattr(looks, "is_same_form", lambda *_: False)
    apart = draw_album(old, new, SMALL)
    for one, other in zip(together.pictures, apart.pictures, strict=True):
        assert one.data == other.data, one.name
    assert all(difference.ssim == 1 for difference in together.differences)


def test_in_brief_there_are_fewer_and_smaller_pictures(before: Model, after: Model) -> None:
    wide = replace(SMALL, views=12, size=400)
    brief = draw_album(version(before), version(after), replace(wide, detail="brief"))
    assert not kinds(brief) & {"stretch", "density", "top-bottom", "turntable-frames"}
    assert kinds(brief) >= {"strip", "turntable", "checker", "silhouette", "uv-sheet"}
    assert len(brief.differences) == 8
