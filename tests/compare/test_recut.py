"""Faces that were cut or merged before they were subdivided.

A step puts a point into the mean of each face's corners (Catmull & Clark 1978, their face point).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from mutations.plants import (
    faces_merged,
    partly_triangulated,
    subdivided_flat,
    subdivided_smooth,
    triangulated,
)
from shapes import grid, sphere

from reviewbot.compare.body import Body, body_of
from reviewbot.compare.grown import grown_from
from reviewbot.compare.recut import Recut, recut_before_step
from reviewbot.measure.shells import find_shells
from reviewbot.mesh import Part

RNG = np.random.default_rng


def body(part: Part | None) -> Body:
    assert part is not None
    return body_of(part, find_shells(part))


def found(before: Part, after: Part | None) -> Recut | None:
    return recut_before_step(grown_from(body(before)), body(after), 1e-5)


def uneven_grid() -> Part:
    """Of faces whose middles are not those of their triangles."""
    flat = grid(7, 5)
    return replace(flat, points=flat.points + RNG(7).normal(size=flat.points.shape) * 0.02)


@pytest.mark.parametrize("step", [subdivided_flat, subdivided_smooth])
@pytest.mark.parametrize("part", [uneven_grid(), sphere(12, 8)], ids=["grid", "sphere"])
def test_after_a_step_alone_nothing_was_cut(part: Part, step) -> None:
    assert found(part, step(part, RNG(1))) is None


@pytest.mark.parametrize("step", [subdivided_flat, subdivided_smooth])
def test_faces_that_were_cut_first_are_counted(step) -> None:
    part = uneven_grid()
    recut = found(part, step(triangulated(part, RNG(1)), RNG(1)))
    assert recut is not None
    assert recut.cut.tolist() == list(range(35))
    assert recut.pieces == (70, 0)
    assert len(recut.merged) == 0
    assert np.bincount(recut.grown.face).tolist() == [2] * 35


def test_only_those_that_were_cut_are_named() -> None:
    part = uneven_grid()
    cut = partly_triangulated(part, RNG(3))
    recut = found(part, subdivided_flat(cut, RNG(1)))
    assert recut is not None
    assert len(recut.cut) == 35 // 5
    assert sorted(np.diff(recut.grown.start)) == sorted(np.diff(cut.face_start))


def test_faces_that_were_merged_first_are_named_in_pairs() -> None:
    part = uneven_grid()
    merged = faces_merged(part, RNG(1))
    recut = found(part, subdivided_flat(merged, RNG(1)))
    assert recut is not None
    gone = part.face_count - merged.face_count
    assert recut.pieces == (0, gone)
    assert len(recut.merged) == 2 * gone
    assert sorted(np.diff(recut.grown.start)) == sorted(np.diff(merged.face_start))
    assert sorted(recut.grown.corner.tolist()) != list(range(140))


def test_a_part_laid_anew_was_not_cut_before_a_step() -> None:
    assert found(sphere(12, 8), sphere(24, 17)) is None
