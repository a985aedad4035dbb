"""What a page turns freely, read back byte by byte."""

import gzip
import json
from dataclasses import replace

import numpy as np
import pytest
from shapes import cube, grid, model, sphere

from reviewbot.render.scene import build_scene
from reviewbot.render.version import Version
from reviewbot.report.solid import MOST_TRIANGLES, common_frame, solid_bytes
from reviewbot.report.tints import TINTS


def read_back(data: bytes) -> dict:
    raw = gzip.decompress(data)
    at = 0

    def take(kind: str, *shape: int) -> np.ndarray:
        nonlocal at
        count = int(np.prod(shape))
        array = np.frombuffer(raw, kind, count, at).reshape(shape)
        at += -(-array.nbytes // 4) * 4
        return array

    head = json.loads(take("u1", int(take("<u4", 1)[0])).tobytes())
    count = head["triangles"]
    solid = {
        **head,
        "places": take("<i2", count, 3, 3),
        "normals": take("i1", count, 3, 3),
        "uvs": take("<f4", count, 3, 2),
        "faces": take("u1", count, 4),
        "ends": take("<i2", head["seams"], 2, 3),
    }
    assert at == len(raw)
    return solid


def solid_of(*parts, **figures) -> dict:
    scene = build_scene(model(*parts))
    return read_back(solid_bytes(Version(scene=scene, **figures), common_frame([scene])))


def test_places_and_normals_of_a_cube():
    solid = solid_of(cube(side=2.0))
    assert solid["triangles"] == 12
    assert solid["parts"] == ["cube"]
    assert set(np.unique(solid["places"])) == {-32767, 32767}
    lengths = np.linalg.norm(solid["normals"].astype(float), axis=2)
    assert lengths == pytest.approx(127, abs=1)


def test_parts_have_the_tints_of_pictures():
    """Those of the clay, in whatever order the file lists its parts; plain where there is one."""
    scene = build_scene(model(cube(name="cap"), sphere(8, 5, name="globe")))
    scene = replace(scene, part_colour=np.array([3, 30], dtype=np.int32))
    solid = read_back(solid_bytes(Version(scene=scene), common_frame([scene])))
    number = solid["faces"][:, 2] + 256 * solid["faces"][:, 3].astype(int)
    assert sorted(set(number.tolist())) == [3, 30 - 21]
    assert set(solid_of(cube())["faces"][:, 2].tolist()) == {len(TINTS) - 1}
    red, green, blue = TINTS[2]  # Okabe & Ito's bluish green, a breath of it
    assert green > red
    assert green > blue


def test_diagonals_are_no_edges_of_the_polygon():
    flags = solid_of(cube())["faces"][:, 0] & 7
    # Two triangles a quad: each keeps two of its three sides.
    assert {int(flag).bit_count() for flag in flags} == {2}


def test_mirrored_and_unmapped_faces_are_flagged():
    plain = grid(2, 2, name="plain")
    mirrored = replace(plain, uvs=plain.uvs * np.array([-1, 1]))
    bare = replace(plain, uvs=np.empty((0, 2)), corner_uv=np.full_like(plain.corner_uv, -1))
    assert not (solid_of(plain)["faces"][:, 0] & 24).any()
    assert (solid_of(mirrored)["faces"][:, 0] & 16).all()
    assert (solid_of(bare)["faces"][:, 0] & 8).all()


def test_uvs_keep_their_size_and_lose_whole_tiles():
    near = grid(2, 2)
    far = replace(near, uvs=near.uvs + np.array([1000, -7]))
    assert solid_of(far)["uvs"] == pytest.approx(solid_of(near)["uvs"], abs=1e-4)


def test_stretch_runs_from_none_to_four_times():
    figures = np.array([1.0, 2.0, 4.0, np.inf])
    stretch = solid_of(grid(2, 2), stretch=[figures])["faces"][:, 1]
    assert sorted(set(stretch.tolist())) == [0, 128, 255]
    assert not solid_of(grid(2, 2), stretch=[np.full(4, np.nan)])["faces"][:, 1].any()


def test_seams_lie_on_the_form():
    seams = np.array([[[-1.0, -1, -1], [1, 1, 1]]])
    assert solid_of(cube(side=2.0), seams=seams)["ends"].tolist() == [[[-32767] * 3, [32767] * 3]]


def test_both_versions_share_one_frame():
    small, large = build_scene(model(cube(side=1.0))), build_scene(model(cube(side=2.0)))
    frame = common_frame([small, large])
    half = read_back(solid_bytes(Version(scene=small), frame))["places"]
    assert np.abs(half).max() == pytest.approx(32767 / 2, abs=1)


def test_nothing_and_too_much_are_left_out():
    empty = build_scene(model())
    assert solid_bytes(Version(scene=empty), common_frame([empty])) is None
    huge = build_scene(model(grid(300, 300)))
    assert len(huge.triangles) > MOST_TRIANGLES
    assert solid_bytes(Version(scene=huge), common_frame([huge])) is None


def test_the_same_version_gives_the_same_bytes():
    scene = build_scene(model(sphere(8, 6)))
    frame = common_frame([scene])
    assert solid_bytes(Version(scene=scene), frame) == solid_bytes(Version(scene=scene), frame)
