"""A part that is the very same record in both versions is told as its equal would be."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from shapes import cube, fin, grid, moebius, sphere, torus

from reviewbot.compare.body import Body, body_of
from reviewbot.compare.comparison import compare_parts
from reviewbot.compare.part_story import tell_part
from reviewbot.compare.untouched import tell_untouched
from reviewbot.measure.shells import find_shells
from reviewbot.mesh import Part
from reviewbot.settings import Settings

SETTINGS = Settings()
PARTS = [cube(), grid(3, 4), sphere(8, 6), torus(8, 6), moebius(9), fin()]


def _body(part: Part) -> Body:
    return body_of(part, find_shells(part))


def _assert_same(one: object, other: object, where: str) -> None:
    if isinstance(one, np.ndarray):
        np.testing.assert_array_equal(one, other, err_msg=where)
    elif dataclasses.is_dataclass(one):
        for field in dataclasses.fields(one):
            pair = (getattr(each, field.name) for each in (one, other))
            _assert_same(*pair, f"{where}.{field.name}")
    else:
        assert one == other, where


@pytest.mark.parametrize("part", PARTS, ids=lambda part: part.name)
def test_short_story_is_the_long_one(part: Part) -> None:
    body = _body(part)
    long = tell_part(body, _body(dataclasses.replace(part)), 1e-6, [np.eye(4)], SETTINGS.limits)
    _assert_same(long, tell_untouched(body), part.name)


def test_only_what_was_edited_is_told() -> None:
    kept, was = ((part, find_shells(part)) for part in (torus(8, 6), cube()))
    edited = dataclasses.replace(was[0], points=was[0].points * np.array([1.0, 1.0, 1.5]))
    told = compare_parts([kept, was], [kept, (edited, find_shells(edited))], SETTINGS)
    assert {change.part for change in told.changes} == {"cube"}
    assert (told.matches[0].form, told.matches[0].unwrap) == ("same", "same")


def test_untouched_part_of_a_scaled_asset_is_no_change_of_its_own() -> None:
    """The very same part beside others that were all sized: it alone was not."""
    still = (torus(8, 6), find_shells(torus(8, 6)))
    others = [cube(name=name) for name in ("one", "two", "three", "four")]
    sized = [dataclasses.replace(part, points=3.0 * part.points) for part in others]
    told = compare_parts(
        [still, *((part, find_shells(part)) for part in others)],
        [still, *((part, find_shells(part)) for part in sized)],
        SETTINGS,
    )
    alone = compare_parts(
        [still, *((part, find_shells(part)) for part in others)],
        [
            (dataclasses.replace(still[0]), still[1]),
            *((part, find_shells(part)) for part in sized),
        ],
        SETTINGS,
    )
    assert told.changes == alone.changes
