"""Another outline is found, and a hair's breadth is not. Limits are common practice, no source."""

from dataclasses import dataclass

import pytest
from shapes import cube, model

from reviewbot.checks.silhouette_change import find
from reviewbot.checks.subject import Subject
from reviewbot.measure.examine import examine
from reviewbot.settings import Settings


@dataclass(frozen=True)
class View:
    name: str
    silhouette_iou: float | None


def subject(*overlaps: float | None) -> Subject:
    settings = Settings()
    views = tuple(View(f"view {k}", overlap) for k, overlap in enumerate(overlaps))
    return Subject(
        path="cube.obj",
        examination=examine(model(cube()), settings),
        settings=settings,
        views=views,
    )


@pytest.mark.parametrize("overlaps", [(), (None,), (1.0, 0.999), (0.98,)])
def test_it_stays_silent(overlaps: tuple[float | None, ...]) -> None:
    assert not list(find(subject(*overlaps)))


def test_it_names_the_worst_view() -> None:
    (finding,) = find(subject(1.0, 0.9, 0.95, None))
    assert (finding.count, finding.value, finding.limit) == (2, 0.9, 0.98)
    assert "view 1" in finding.message
