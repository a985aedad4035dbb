"""What a rule finds."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from reviewbot.settings import Severity

Standing = Literal["new", "worse", "same", "better", "fixed"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One thing that is wrong with a version as it stands.

    code      as published in report.json; keeps its meaning for ever
    severity  "stop" breaks later work, "look" wants a person's eye, "note" is said and no more
    part      the part's name; "" for the whole asset
    count     how many faces, edges, shells ... are concerned; None where counting means nothing
    value     the figure, in `unit`, that stands against `limit`
    unit      "" for a plain number
    at        (x, y, z) in the asset's space where to look, or None
    message   one plain sentence: what, how many, and how it looks when it is fixed
    standing  against the version before; "new" where there is none
    """

    code: str
    severity: Severity
    part: str
    message: str
    count: int | None = None
    value: float | None = None
    limit: float | None = None
    unit: str = ""
    at: tuple[float, float, float] | None = None
    standing: Standing = "new"
