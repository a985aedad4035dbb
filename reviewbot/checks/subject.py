"""What a rule looks at."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

from reviewbot.compare.change import Change
from reviewbot.measure.examine import Examination
from reviewbot.settings import Settings


class SeenDifference(Protocol):
    """What rules need of one view's picture difference."""

    @property
    def name(self) -> str: ...

    @property
    def silhouette_iou(self) -> float | None: ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Subject:
    """One version of an asset with all that is known of it.

    path         of the file, for rules set by path
    examination  the version as it stands
    before       the version before, None where there is none
    changes      what happened between them
    views        picture differences, empty where none were made
    """

    path: str
    examination: Examination
    settings: Settings
    before: Examination | None = None
    changes: tuple[Change, ...] = ()
    views: tuple[SeenDifference, ...] = ()
