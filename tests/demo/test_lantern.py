"""The lantern is a good prop, by checks that share no code with the review itself.

What a good prop is: common practice, no source.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from plain_obj import PlainObj, read_plain_obj
from scipy.spatial import cKDTree
from shapely import Polygon, STRtree, union_all

from reviewbot.demo.detail import HIGH, LOW
from reviewbot.demo.lantern import blocked_out, dented, lantern
from reviewbot.demo.oil_can import oil_can
from reviewbot.demo.parts import bare_parts, unwrapped_parts
from reviewbot.demo.writer import ObjStyle, obj_bytes

TEXTURE, PADDING = 2048, 8  # pixels
GAP = 18 / TEXTURE
STYLE = ObjStyle(heading="A test")
PROPS = {"lantern": lantern, "oil_can": oil_can}
# Open where the next body covers them: border loops of each.
OPEN = {
    "globe_low": 2,
    "base_low": 2,
    "tank_low": 2,
    "collar_low": 2,
    "burner_low": 1,
    "cap_low": 1,
}
TURNED_EIGHT_WAYS = {"cage_bars_low": 6, "rivets_low": 12, "lugs_low": 2, "cage_rings_low": 2}


def written(parts: tuple[object, ...]) -> PlainObj:
    return read_plain_obj(obj_bytes(parts, materials_file="x.mtl", style=STYLE))  # type: ignore[arg-type]


@pytest.fixture(scope="module", params=list(PROPS))
def low(request: pytest.FixtureRequest) -> PlainObj:
    return written(unwrapped_parts(PROPS[request.param](LOW), suffix="_low", gap=GAP))


@pytest.fixture(scope="module")
def lantern_low() -> PlainObj:
    return written(unwrapped_parts(lantern(LOW), suffix="_low", gap=GAP))


def around(face: list[int]) -> list[tuple[int, int]]:
    return list(pairwise([*face, face[0]]))


def sides(faces: list[list[int]]) -> Counter[tuple[int, int]]:
    return Counter(side for face in faces for side in around(face))


def loops(edges: list[tuple[int, int]]) -> int:
    """How many closed loops directed edges make up; each point is left exactly once."""
    follow = dict(edges)
    assert len(follow) == len(edges)
    count = 0
    while follow:
        count += 1
        at = next(iter(follow))
        while at in follow:
            at = follow.pop(at)
    return count


def normals(quads: np.ndarray) -> np.ndarray:
    return np.cross(quads[:, 2] - quads[:, 0], quads[:, 3] - quads[:, 1]) / 2


def shoelace(uvs: np.ndarray) -> np.ndarray:
    first, second = uvs[:, 2] - uvs[:, 0], uvs[:, 3] - uvs[:, 1]
    return (first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0]) / 2


class TestForm:
    def test_every_face_is_a_quad_with_area(self, low: PlainObj) -> None:
        for name, part in low.parts.items():
            assert {len(face) for face in part.faces} == {4}, name
            assert all(len(set(face)) == 4 for face in part.faces), name
            assert np.linalg.norm(normals(low.quads(name)), axis=1).min() > 1e-9, name

    def test_bodies_are_closed_or_open_where_they_are_covered(self, low: PlainObj) -> None:
        for name, part in low.parts.items():
            there = sides(part.faces)
            assert max(there.values()) == 1, name  # consistent winding, no edge of three faces
            border = [(a, b) for a, b in there if (b, a) not in there]
            assert loops(border) == OPEN.get(name, 0), name

    def test_bodies_are_wound_outwards(self, low: PlainObj) -> None:
        """Divergence theorem; an open border lies flat and round the axis, so it adds nothing to
        the horizontal part alone."""
        for name in low.parts:
            quads = low.quads(name)
            centres = quads.mean(axis=1)
            outward = (normals(quads) * [1, 0, 1] * centres).sum()
            assert outward > 0, name

    def test_no_point_is_left_over(self, low: PlainObj) -> None:
        used = {point for part in low.parts.values() for face in part.faces for point in face}
        assert used == set(range(len(low.points)))
        for part in low.parts.values():
            own = low.points[sorted({point for face in part.faces for point in face})]
            assert len(cKDTree(own).query_pairs(1e-6)) == 0

    def test_it_stands_on_the_origin(self, low: PlainObj) -> None:
        lowest, highest = low.points.min(axis=0), low.points.max(axis=0)
        assert lowest[1] == pytest.approx(0, abs=1e-6)
        np.testing.assert_allclose((lowest + highest)[[0, 2]] / 2, 0, atol=2e-4)

    def test_the_lantern_has_a_lantern_s_size(self, lantern_low: PlainObj) -> None:
        width, height, depth = np.ptp(lantern_low.points, axis=0)
        assert 0.30 < height < 0.36
        assert 0.14 < width < 0.16
        assert 0.14 < depth < 0.16
        assert 3000 < sum(len(part.faces) for part in lantern_low.parts.values()) < 6500

    def test_repeated_pieces_are_as_many_as_they_should(self, lantern_low: PlainObj) -> None:
        for name, count in TURNED_EIGHT_WAYS.items():
            parent: dict[int, int] = {}

            def root(point: int, parent: dict[int, int] = parent) -> int:
                while parent.setdefault(point, point) != point:
                    point = parent[point]
                return point

            for face in lantern_low.parts[name].faces:
                for point in face[1:]:
                    parent[root(face[0])] = root(point)
            assert len({root(point) for point in list(parent)}) == count, name

    def test_the_first_rough_is_rough(self) -> None:
        rough = written(bare_parts(blocked_out(), suffix="_low"))
        assert len(rough.uvs) == 0
        assert sum(len(part.faces) for part in rough.parts.values()) < 500
        assert np.ptp(rough.points, axis=0)[1] == pytest.approx(0.34, abs=0.01)


class TestUnwrap:
    def test_all_lies_in_the_tile_unmirrored(self, low: PlainObj) -> None:
        assert low.uvs.min() > 0
        assert low.uvs.max() < 1
        for name in low.parts:
            assert shoelace(low.quad_uvs(name)).min() > 0, name

    def test_nothing_overlaps_but_the_rivets(self, low: PlainObj) -> None:
        """By shapely: areas add up to the area of the union."""
        single = [name for name in low.parts if name != "rivets_low"]
        faces = [Polygon(quad) for name in single for quad in low.quad_uvs(name)]
        total = sum(face.area for face in faces)
        assert union_all(faces, grid_size=1e-9).area == pytest.approx(total, rel=2e-4)
        if "rivets_low" in low.parts:
            rivets = union_all([Polygon(quad) for quad in low.quad_uvs("rivets_low")])
            assert rivets.intersection(union_all(faces)).area == 0

    def test_the_rivets_lie_on_one_place(self, lantern_low: PlainObj) -> None:
        copies = lantern_low.quad_uvs("rivets_low").reshape(12, -1, 4, 2)
        assert np.array_equal(copies, np.broadcast_to(copies[0], copies.shape))
        # ... and are twelve of the same in space: distances within each agree.
        corners = lantern_low.quads("rivets_low").reshape(12, -1, 3)
        shape = np.linalg.norm(corners - corners[:, :1], axis=2)
        np.testing.assert_allclose(shape, np.broadcast_to(shape[0], shape.shape), atol=3e-6)
        one = union_all([Polygon(quad) for quad in copies[0]])
        assert one.area == pytest.approx(float(shoelace(copies[0]).sum()), rel=1e-3)

    def test_shells_keep_more_than_the_padding_apart(self, low: PlainObj) -> None:
        shells = [
            union_all([Polygon(quad).buffer(1e-6) for quad in quads]) for quads in self._shells(low)
        ]
        tree = STRtree(shells)
        near = tree.query(shells, predicate="dwithin", distance=2 * PADDING / TEXTURE).T
        assert all(a == b for a, b in near.tolist())

    @staticmethod
    def _shells(low: PlainObj) -> list[np.ndarray]:
        """Quads that share a UV entry, part by part; stacked copies count once."""
        found = []
        for name, part in low.parts.items():
            groups: dict[int, int] = {}

            def root(entry: int, groups: dict[int, int] = groups) -> int:
                while groups.setdefault(entry, entry) != entry:
                    entry = groups[entry]
                return entry

            for face in part.face_uvs:
                for entry in face[1:]:
                    groups[root(face[0])] = root(entry)
            owner = np.array([root(face[0]) for face in part.face_uvs])
            found += [low.quad_uvs(name)[owner == one] for one in np.unique(owner)]
        return found

    def test_much_of_the_tile_is_used(self, low: PlainObj) -> None:
        faces = [Polygon(quad) for name in low.parts for quad in low.quad_uvs(name)]
        assert union_all(faces).area > 0.5

    def test_stretch_is_small(self, low: PlainObj) -> None:
        """Edge lengths in the flat against those in space, part by part, weighed by length."""
        for name in low.parts:
            in_space = np.roll(low.quads(name), -1, axis=1) - low.quads(name)
            in_flat = np.roll(low.quad_uvs(name), -1, axis=1) - low.quad_uvs(name)
            true, flat = np.linalg.norm(in_space, axis=2), np.linalg.norm(in_flat, axis=2)
            ratio = np.log(flat / true)
            weight = true / true.sum()
            middle = (weight * ratio).sum()
            spread = np.sqrt((weight * (ratio - middle) ** 2).sum())
            assert spread < 0.15, name  # 15 %

    def test_heroes_get_more_texture_and_the_hidden_little(self, lantern_low: PlainObj) -> None:
        density = {
            name: np.sqrt(
                shoelace(lantern_low.quad_uvs(name)).sum()
                / np.linalg.norm(normals(lantern_low.quads(name)), axis=1).sum()
            )
            for name in lantern_low.parts
        }
        normal = np.median(list(density.values()))
        assert density["tank_low"] > 1.1 * normal
        assert density["plate_low"] > 1.1 * normal
        assert density["underside_low"] < 0.5 * normal
        others = density.keys() - {"tank_low", "plate_low", "underside_low"}
        assert all(0.9 < density[name] / normal < 1.1 for name in others)

    @pytest.mark.parametrize("name", ["base_low", "tank_low", "globe_low", "cap_low"])
    def test_walls_are_cut_behind(self, lantern_low: PlainObj, name: str) -> None:
        """An upright edge is cut where its two faces have different UV entries."""
        part = lantern_low.parts[name]
        entries = {
            side: ends
            for face, uvs in zip(part.faces, part.face_uvs, strict=True)
            for side, ends in zip(around(face), around(uvs), strict=True)
        }
        cut = np.array(
            [
                lantern_low.points[[a, b]]
                for (a, b), ends in entries.items()
                if (b, a) in entries and entries[b, a] != ends[::-1]
            ]
        )
        upright = np.abs(cut[:, 0, 1] - cut[:, 1, 1]) > 0.9 * np.linalg.norm(
            cut[:, 0] - cut[:, 1], axis=1
        )
        radius = np.linalg.norm(cut[:, 0, ::2], axis=1)
        outside = upright & (radius > 0.0405)  # not the walls of a vent
        behind = outside & (np.abs(cut[:, 0, 0]) < 1e-6) & (cut[:, 0, 2] < 0)
        assert behind.any()
        assert np.array_equal(outside, behind) or name == "cap_low"


class TestSculpt:
    @pytest.mark.parametrize("prop", list(PROPS))
    def test_low_and_high_parts_go_in_pairs(self, prop: str) -> None:
        low = {named.name: len(named.piece.quads) for named in PROPS[prop](LOW)}
        high = {named.name: len(named.piece.quads) for named in PROPS[prop](HIGH)}
        assert low.keys() == high.keys()
        assert all(high[name] > 2 * low[name] for name in low)

    def test_the_low_version_follows_the_sculpt(self) -> None:
        for low, high in zip(lantern(LOW), lantern(HIGH), strict=True):
            distance, _ = cKDTree(dented(high.piece).points).query(low.piece.points)
            assert distance.max() < 0.005, low.name

    def test_the_sculpt_has_knocks(self) -> None:
        moved = {
            named.name: float(
                np.linalg.norm(dented(named.piece).points - named.piece.points, axis=1).max()
            )
            for named in lantern(HIGH)
        }
        assert 0.0012 < moved["tank"] < 0.002
        assert 0.0012 < moved["cap"] < 0.002
        assert moved["grip"] < 1e-6

    def test_a_knock_does_not_tear(self) -> None:
        piece = lantern(HIGH)[2].piece
        assert np.array_equal(dented(piece).quads, piece.quads)
        assert dented(replace(piece, points=0 * piece.points)).points.max() == 0
