"""A file that only reads differently is no change: nothing may be told."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from comparing import changes
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from mutations.reexports import REEXPORTS
from mutations.subjects import prop, rivets, single
from shapes import cube, grid, joined, model, moebius, polygons, sphere, torus

from reviewbot.mesh import Model

BARE = {
    "cube": model(cube()),
    "moebius": model(moebius(12)),
    "globe": model(sphere(16, 9)),
    "inside out": model(sphere(12, 7, flipped=True)),
    "two sheets": model(joined(grid(5, 4), grid(5, 4))),
    "sheet on itself": model(joined(grid(3, 3), grid(3, 3), name="double")),
    "ring": model(torus(13, 7)),
    "prop": prop(),
    "rivets": rivets(),
    "single": single(),
}


@pytest.mark.parametrize("name", BARE)
@pytest.mark.parametrize("reexport", REEXPORTS)
def test_harmless_exports_are_no_change(name: str, reexport: str) -> None:
    subject = BARE[name]
    after = REEXPORTS[reexport](subject, np.random.default_rng(4))
    assert changes(subject, after) == ()
    assert changes(after, subject) == ()


@st.composite
def scraps(draw: st.DrawFn) -> Model:
    """A few small parts with odd faces: points shared, doubled, collapsed, without UVs."""
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    mapped = draw(st.booleans())
    parts = []
    for number in range(draw(st.integers(1, 3))):
        points = np.round(rng.uniform(0, 4, (draw(st.integers(3, 12)), 3)))
        sizes = rng.integers(3, 6, size=draw(st.integers(1, 10))).tolist()
        faces = [rng.integers(0, len(points), size=size).tolist() for size in sizes]
        face_uvs = [rng.integers(0, 7, size=size).tolist() for size in sizes]
        parts.append(
            polygons(
                points,
                faces,
                uvs=rng.uniform(0, 1, (7, 2)) if mapped else (),
                face_uvs=face_uvs if mapped else None,
                name=f"scrap_{number}",
            )
        )
    return model(*parts)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(scraps(), st.sampled_from(sorted(REEXPORTS)), st.integers(0, 1000))
def test_even_odd_meshes_are_the_same_after_an_export(
    subject: Model, reexport: str, seed: int
) -> None:
    after = REEXPORTS[reexport](subject, np.random.default_rng(seed))
    assert changes(subject, after) == ()


@pytest.mark.parametrize("value", [np.nan, np.inf, -np.inf])
def test_a_coordinate_that_is_no_number_changes_nothing_by_itself(value: float) -> None:
    points = np.array(cube().points)
    points[3] = value
    odd = model(replace(cube(), points=points))
    assert changes(odd, odd) == ()
