"""What is seen from given places, against analytic visibility."""

import numpy as np
import pytest
from found import toml
from shapes import box, cube, grid, sphere
from tubes import square_tube
from viewed import viewed

from reviewbot.geometry.rays import rays_available
from reviewbot.measure.examine import examine
from reviewbot.measure.eyes import eyes_of
from reviewbot.mesh import FloatArray, Model, Part
from reviewbot.settings import Settings

pytestmark = pytest.mark.skipif(
    not rays_available(), reason="embreex has no wheel for this machine"
)


def eyes(*places: tuple[float, float, float]) -> FloatArray:
    return np.array(places, dtype=np.float64)


def middles(part: Part) -> FloatArray:
    return part.points[part.corner_point].reshape(part.face_count, -1, 3).mean(axis=1)


def normals(part: Part) -> FloatArray:
    """Outer unit normals of a box about the origin: along each face's middle."""
    centre = middles(part) - middles(part).mean(axis=0)
    return centre / np.linalg.norm(centre, axis=1, keepdims=True)


@pytest.mark.parametrize(
    ("eye", "faces"),
    [
        ((0.1, 0.2, 5), 1),
        ((0.1, 5, 5), 2),
        ((5, 5, 5), 3),
        ((-1e6, -1e6, 1e6), 3),  # far away: a direction
        ((0.9, 0.9, 0.9), 3),  # near a corner
    ],
)
def test_a_camera_sees_the_faces_of_a_cube_that_it_stands_before(
    eye: tuple[float, float, float], faces: int
) -> None:
    """Convexity: a face is seen from everywhere before its plane and from nowhere behind it."""
    block = cube()
    exposure = viewed(block, eyes=eyes(eye))[0].exposure
    before = ((np.array(eye) - middles(block)) * normals(block)).sum(axis=1) > 0
    assert before.sum() == faces
    np.testing.assert_array_equal(exposure.face_seen, before)
    np.testing.assert_array_equal(exposure.face_open, before)
    np.testing.assert_array_equal(exposure.face_hidden, ~before)
    assert exposure.hidden_share == pytest.approx(1 - faces / 6)


def test_shares_are_of_all_cameras() -> None:
    ahead, behind = (0.0, 0.0, 5.0), (0.0, 0.0, -5.0)
    exposure = viewed(cube(), eyes=eyes(ahead, ahead, behind))[0].exposure
    assert sorted(np.round(exposure.face_seen, 6)) == [0, 0, 0, 0, 0.333333, 0.666667]
    assert sorted(exposure.face_open) == [0, 0, 0, 0, 1, 1]


def test_what_stands_between_hides_and_what_stands_behind_the_eye_does_not() -> None:
    block, wall = cube(), box((-5, -5, 2), (5, 5, 2.1), "wall")
    assert viewed(block, wall, eyes=eyes((0, 0, 5)))[0].exposure.hidden_share == 1
    assert viewed(block, wall, eyes=eyes((0, 0, 1.5)))[0].exposure.hidden_share < 1


def test_a_ball_shows_the_cap_that_its_tangent_cone_cuts_off() -> None:
    """Seen from a distance d, the cap has a share (1 - r / d) / 2 of a sphere (Archimedes)."""
    for distance in (2.0, 5.0):
        exposure = viewed(sphere(96, 48), eyes=eyes((0, distance, 0)))[0].exposure
        assert 1 - exposure.hidden_share == pytest.approx((1 - 1 / distance) / 2, abs=0.02)


def test_what_is_nearer_takes_more_of_the_picture() -> None:
    """Apparent area falls with the square of the distance."""
    near = box((-0.1, -0.1, 0.98), (0.1, 0.1, 1), "near")
    far = box((4.9, -0.1, -1.02), (5.1, 0.1, -1), "far")
    eye = (0.0, 0.0, 3.0)
    first, second = (one.budget.seen_share for one in viewed(near, far, eyes=eyes(eye)))
    away = np.hypot(5, 4)
    slanted = (4 / away) / away**2 + 0.1 * (5 - 0.1) / away / away**2  # its front and its side
    assert second / first == pytest.approx(slanted / (1 / 2**2), rel=0.05)


def test_a_sheet_is_seen_from_either_side_and_a_solid_wound_inwards_too() -> None:
    for eye in ((0.5, 9.0, 0.5), (0.5, -9.0, 0.5)):
        assert viewed(grid(4, 4), eyes=eyes(eye))[0].exposure.hidden_share == 0
        inward = viewed(sphere(24, 12, flipped=True), eyes=eyes(eye))[0].exposure
        assert 0.4 < inward.hidden_share < 0.65


def test_an_eye_on_the_surface_or_inside_breaks_nothing() -> None:
    for eye in ((0.5, 0.5, 0.5), (0.0, 0.0, 0.0), (0.0, 0.5, 0.0)):
        exposure = viewed(cube(), eyes=eyes(eye))[0].exposure
        assert np.isfinite(exposure.face_seen).all()
        assert np.isfinite(exposure.seen_area)


def test_seams_count_where_a_camera_looks_at_them() -> None:
    """The tube's one cut runs down the middle of its front."""
    ahead, behind = (0.0, 4.0, 30.0), (0.0, 4.0, -30.0)
    tube = square_tube(0)
    cut = middles_of_cut(tube)
    assert cut[2] > 0.4
    seen = viewed(tube, eyes=eyes(ahead))[0].seams
    unseen = viewed(tube, eyes=eyes(behind))[0].seams
    assert (seen.seen_share, unseen.seen_share) == (1, 0)
    assert (seen.exposed_share, unseen.exposed_share) == (1, 0)
    assert unseen.runs == ()
    assert seen.least_share < 0.05  # the back is not seen at all


def middles_of_cut(tube: Part) -> FloatArray:
    return viewed(tube)[0].seams.runs[0].at


def test_cameras_of_the_settings_are_in_metres_where_the_file_has_them() -> None:
    settings = toml("[[cameras]]\nfrom = [0, 1, 2]\n")
    plain = Model(parts=(cube(),), format="obj")
    centimetres = Model(parts=(cube(),), format="fbx", metres_per_unit=0.01)
    assert eyes_of(plain, settings).tolist() == [[0, 1, 2]]
    assert eyes_of(centimetres, settings).tolist() == [[0, 100, 200]]
    assert eyes_of(plain, Settings()).shape == (0, 3)


def test_the_settings_decide_what_is_hidden() -> None:
    model = Model(parts=(cube(),), format="obj")
    (viewing,) = examine(model, toml("[[cameras]]\nfrom = [0, 0, 9]\n")).viewing
    (around,) = examine(model, Settings()).viewing
    assert viewing is not None
    assert around is not None
    assert (viewing.cameras, around.cameras) == (1, 0)
    assert (viewing.budget.hidden_share, around.budget.hidden_share) == pytest.approx((5 / 6, 0))
