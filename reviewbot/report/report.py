"""The one value every output is written from; its JSON form is a contract (`reviewbot schema`)."""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

from reviewbot.checks.finding import Standing
from reviewbot.settings import Gate, Severity

Verdict = Literal["pass", "look", "stop"]
State = Literal["added", "removed", "changed", "same", "unreadable"]
Point = tuple[float, float, float]
Measures = dict[str, float | int | str | None]


class _Record(BaseModel):
    model_config = ConfigDict(
        frozen=True, extra="forbid", ser_json_inf_nan="null", populate_by_name=True
    )


class ChangeEntry(_Record):
    """What happened, by its cause."""

    code: str
    part: str
    message: str
    value: float | None = None
    unit: str = ""
    at: Point | None = None


class FindingEntry(_Record):
    """What is wrong with the version as it stands."""

    code: str
    severity: Severity
    part: str
    standing: Standing
    count: int | None = None
    value: float | None = None
    limit: float | None = None
    unit: str = ""
    at: Point | None = None
    message: str
    accepted: str | None = None


class PartEntry(_Record):
    """One part before and after; `before_name` is null for an added, `name` for a removed one."""

    name: str | None
    before_name: str | None
    form: str
    unwrap: str
    before: Measures | None
    after: Measures | None


class ViewEntry(_Record):
    """Picture differences of one view, on the object's area. All null where one side is missing."""

    name: str
    ssim: float | None = None
    ssim_worst: float | None = None
    flip: float | None = None
    flip_worst: float | None = None
    silhouette_iou: float | None = None
    outline_pixels: float | None = None
    outline_share: float | None = None


class PictureEntry(_Record):
    """One picture file. `file` is relative to the report's folder."""

    kind: str
    file: str
    caption: str
    alt: str
    width: int
    height: int
    part: str = ""
    code: str = ""


class AssetEntry(_Record):
    """One file under review."""

    path: str
    before_path: str | None
    state: State
    verdict: Verdict
    summary: str
    changes: tuple[ChangeEntry, ...] = ()
    findings: tuple[FindingEntry, ...] = ()
    parts: tuple[PartEntry, ...] = ()
    before: Measures | None = None
    after: Measures | None = None
    views: tuple[ViewEntry, ...] = ()
    pictures: tuple[PictureEntry, ...] = ()
    notes: tuple[str, ...] = ()


class Report(_Record):
    """One review.

    title    what was reviewed, in words ("2 files", "lantern.obj before and after")
    base     the revision before, or null where there is none
    summary  the verdict as one sentence a non-programmer understands
    """

    schema_version: Literal[1] = Field(default=1, alias="schema")
    tool: str
    title: str
    base: str | None = None
    head: str | None = None
    verdict: Verdict
    summary: str
    fail_on: Gate
    assets: tuple[AssetEntry, ...]
