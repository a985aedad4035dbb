"""Builders against textbook solids: volumes and areas of prisms, cones and rings over a polygon."""

import numpy as np
import pytest

from reviewbot.demo.shapes import (
    Band,
    Piece,
    Vents,
    curve,
    joined_outline,
    lathe,
    merged,
    placed,
    plate,
    rounded,
    tube,
    turned,
)


def sides(piece: Piece) -> np.ndarray:
    """(4F, 2) directed sides."""
    return np.stack([piece.quads, np.roll(piece.quads, -1, axis=1)], axis=-1).reshape(-1, 2)


def is_closed(piece: Piece) -> bool:
    """Every side is run along once each way."""
    there = {tuple(side) for side in sides(piece).tolist()}
    return len(there) == 4 * len(piece.quads) and all((b, a) in there for a, b in there)


def volume(piece: Piece) -> float:
    """Divergence theorem over both triangles of each quad; above 0 when wound outwards."""
    corners = piece.points[piece.quads]
    one = np.einsum("ij,ij->", corners[:, 0], np.cross(corners[:, 1], corners[:, 2]))
    two = np.einsum("ij,ij->", corners[:, 0], np.cross(corners[:, 2], corners[:, 3]))
    return float(one + two) / 6


def areas(corners: np.ndarray) -> np.ndarray:
    """(F,) areas of quads, in space or (signed) in the plane."""
    first, second = corners[:, 2] - corners[:, 0], corners[:, 3] - corners[:, 1]
    if corners.shape[2] == 2:
        return (first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0]) / 2
    return np.linalg.norm(np.cross(first, second), axis=1) / 2


def polygon_area(radius: float, count: int) -> float:
    """A regular polygon's: n/2 r^2 sin(2 pi / n)."""
    return count / 2 * radius**2 * np.sin(2 * np.pi / count)


def cylinder(around: int, cap: str = "ladder") -> Piece:
    return lathe(
        [
            Band(outline=np.array([(2.0, 0.0)]), layout="disc", cap=cap),
            Band(outline=np.array([(2.0, 0.0), (2.0, 1.0), (2.0, 3.0)])),
            Band(outline=np.array([(2.0, 3.0)]), layout="disc", cap=cap),
        ],
        around=around,
    )


@pytest.mark.parametrize("cap", ["ladder", "grid"])
@pytest.mark.parametrize("around", [8, 16, 32])
def test_a_cylinder_is_a_prism(around: int, cap: str) -> None:
    piece = cylinder(around, cap)
    assert is_closed(piece)
    assert volume(piece) == pytest.approx(3 * polygon_area(2, around))
    caps = 2 * polygon_area(2, around)
    walls = around * 2 * 2 * np.sin(np.pi / around) * 3
    assert areas(piece.points[piece.quads]).sum() == pytest.approx(caps + walls)


def test_a_cylinder_unfolds_to_its_own_size() -> None:
    piece = cylinder(64)
    assert piece.shell_count == 3
    wall = areas(piece.flat[piece.shell == 1])
    assert wall.sum() == pytest.approx(2 * np.pi * 2 * 3)
    assert np.all(areas(piece.flat) > 0)  # nothing mirrored
    ends = areas(piece.flat[piece.shell != 1])
    assert ends.sum() == pytest.approx(2 * polygon_area(2, 64))


def test_a_cone_s_disc_is_pressed_flat_along_its_slant() -> None:
    """Slant height 5 for radius 3 and height 4."""
    piece = lathe(
        [Band(outline=np.array([(3.0, 0.0), (1.5, 2.0), (0.3, 3.6)]), layout="disc", cap="grid")],
        around=32,
    )
    reach = np.linalg.norm(piece.flat.reshape(-1, 2), axis=1).max()
    assert reach == pytest.approx(0.3 + 4.5)
    assert piece.shell_count == 1
    assert np.all(areas(piece.flat) > 0)


def test_a_disc_seen_from_below_is_not_mirrored() -> None:
    piece = lathe(
        [Band(outline=np.array([(1.0, 0.0), (3.0, 0.0)]), layout="disc", cap="ladder")], around=16
    )
    normal = np.cross(*np.diff(piece.points[piece.quads[0][:3]], axis=0))
    assert normal[1] < 0
    assert np.all(areas(piece.flat) > 0)
    assert areas(piece.flat).sum() == pytest.approx(polygon_area(3, 16))


@pytest.mark.parametrize("count", [4, 8])
def test_vents_are_pressed_into_the_wall(count: int) -> None:
    band = Band(
        outline=np.array([(2.0, 0.0), (2.0, 1.0), (2.0, 2.0), (2.0, 3.0)]),
        vents=Vents(count=count, columns=2, rows=(1, 2), inset=(0.2, 0.2), depth=0.5),
    )
    caps = [Band(outline=np.array([(2.0, y)]), layout="disc", cap="ladder") for y in (0.0, 3.0)]
    piece = lathe([caps[0], band, caps[1]], around=32)
    assert is_closed(piece)
    assert piece.shell_count == 3 + count
    plain = 3 * polygon_area(2, 32)
    assert 0 < plain - volume(piece) < count * 2 * (2 * np.pi * 2 / 32) * 0.5
    assert np.all(areas(piece.flat) > 0)
    wall = piece.points[(piece.points[:, 1] > 1.05) & (piece.points[:, 1] < 1.95)]
    assert np.linalg.norm(wall[:, ::2], axis=1).min() == pytest.approx(1.5, abs=0.02)


def test_ripples_go_in_and_out() -> None:
    outline = np.array([(2.0, 0.0, 0.0), (2.0, 1.0, 0.1), (2.0, 2.0, 0.0)])
    piece = lathe([Band(outline=outline, teeth=8)], around=16)
    radius = np.linalg.norm(piece.points[:, ::2], axis=1)[np.isclose(piece.points[:, 1], 1)]
    assert sorted({round(r, 6) for r in radius}) == [1.9, 2.1]


def test_a_strip_is_cut_behind() -> None:
    piece = lathe([Band(outline=np.array([(2.0, 0.0), (2.0, 1.0)]))], around=16)
    first = piece.points[piece.quads[np.argmin(piece.flat[:, 0, 0])][0]]
    np.testing.assert_allclose(first, [0, 0, -2], atol=1e-9)


def test_a_straight_rod_is_a_prism() -> None:
    path = np.array([(0.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 4.0, 0.0)])
    piece = tube(path, np.full(3, 0.5), sides=8, plane=(1, 0, 0))
    assert is_closed(piece)
    assert volume(piece) == pytest.approx(4 * polygon_area(0.5, 8))
    assert np.all(areas(piece.flat) > 0)


def test_a_ring_has_the_volume_that_pappus_gives_it() -> None:
    """Pappus: area of the section times the way of its centroid; a polygon's error is O(1/n^2)."""
    angle = 2 * np.pi * np.arange(256) / 256
    path = np.stack([3 * np.sin(angle), 0 * angle, 3 * np.cos(angle)], axis=1)
    piece = tube(path, np.full(256, 0.5), sides=12, plane=(0, 1, 0), is_ring=True)
    assert is_closed(piece)
    assert piece.shell_count == 1
    assert volume(piece) == pytest.approx(polygon_area(0.5, 12) * 2 * np.pi * 3, rel=1e-3)
    assert np.all(areas(piece.flat) > 0)


def test_a_rod_is_cut_on_the_inside_of_its_bend() -> None:
    angle = 2 * np.pi * np.arange(32) / 32
    path = np.stack([3 * np.sin(angle), 0 * angle, 3 * np.cos(angle)], axis=1)
    piece = tube(path, np.full(32, 0.5), sides=8, plane=(0, 1, 0), is_ring=True)
    first = piece.quads[np.isclose(piece.flat[:, 0, 0], piece.flat.min())][:, 0]
    np.testing.assert_allclose(np.linalg.norm(piece.points[first][:, ::2], axis=1), 2.5)


def test_a_tapering_rod_stays_tapered_in_the_flat() -> None:
    path = np.stack([np.zeros(9), np.linspace(0, 8, 9), np.zeros(9)], axis=1)
    piece = tube(path, np.linspace(1.0, 0.2, 9), sides=32, plane=(1, 0, 0))
    wall = piece.shell == 0
    ratio = areas(piece.flat[wall]) / areas(piece.points[piece.quads[wall]])
    np.testing.assert_allclose(ratio, 1, atol=0.02)


def test_a_plate_is_closed_and_stands_off_its_back() -> None:
    relief = np.pad(np.full((3, 4), 0.3), 1, constant_values=0.2)
    piece = plate(
        radius=5.0,
        angles=np.linspace(-0.4, 0.4, 6),
        heights=np.linspace(1.0, 3.0, 5),
        relief=relief,
    )
    assert is_closed(piece)
    assert piece.shell_count == 2
    assert volume(piece) > 0
    assert np.all(areas(piece.flat) > 0)
    radius = np.linalg.norm(piece.points[:, ::2], axis=1)
    assert (radius.min(), radius.max()) == pytest.approx((5.0, 5.3))


def test_bevels_begin_where_they_are_told() -> None:
    corners = [(1.0, 0.0, 0.0), (1.0, 1.0, 0.2), (0.0, 1.0, 0.0)]
    assert rounded(corners, 0)[:, :2].tolist() == [[1, 0], [1, 1], [0, 1]]
    np.testing.assert_allclose(rounded(corners, 1)[:, :2], [[1, 0], [1, 0.8], [0.8, 1], [0, 1]])
    fine = rounded(corners, 8)
    assert len(fine) == 2 + 9
    assert np.all(np.hypot(*(fine[1:-1, :2] - [0.8, 0.8]).T) >= 0.2 - 1e-9)


def test_a_curve_goes_through_its_knots() -> None:
    knots = [(0.0, 0.0), (1.0, 2.0), (3.0, 1.0), (4.0, 4.0)]
    assert curve(knots, 1).tolist() == [list(knot) for knot in knots]
    np.testing.assert_allclose(curve(knots, 5)[::5], knots)


def test_an_outline_repeats_no_point() -> None:
    whole = joined_outline(
        np.array([(1.0, 0.0), (1.0, 1.0)]), np.array([(1.0, 1.0, 0.1), (0.5, 1.0, 0.0)])
    )
    assert whole.tolist() == [[1, 0, 0], [1, 1, 0], [0.5, 1, 0]]


def test_turning_and_placing_keep_size_and_winding() -> None:
    piece = cylinder(8)
    moved = placed(turned(piece, 0.7), axis=(1, 2, -0.5), at=(3, 4, 5))
    assert volume(moved) == pytest.approx(volume(piece))
    np.testing.assert_allclose(
        placed(piece, axis=(0, 0, 1), at=(0, 0, 9)).points[:, 2].max(), 9 + 3
    )
    quarter = turned(piece, np.pi / 2).points[np.argmax(piece.points[:, 2])]
    assert quarter[0] == pytest.approx(2)  # the front comes to +x


def test_merged_pieces_keep_their_shells_apart() -> None:
    both = merged([cylinder(8), cylinder(8)])
    assert both.shell_count == 6
    assert volume(both) == pytest.approx(2 * volume(cylinder(8)))
