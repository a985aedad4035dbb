"""How a period went, commit by commit: a part of the report of its start against its end."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Annotated, Literal

from pydantic import Field

from reviewbot.report.record import Measures, Record, Text
from reviewbot.settings import Severity

Count = Annotated[int, Field(ge=0)]
Fate = Literal["opened", "standing", "mended", "passing", "gone"]


class PersonEntry(Record):
    """Who committed."""

    name: Text
    """As the commits have it: a stranger's words."""
    commits: Count
    """Commits in the period, merges left out."""
    assets: Count
    """How many of the touched assets were changed by them."""


class VersionEntry(Record):
    """One version of an asset."""

    commit: Text
    """Full id; of the start, the commit that the period began with."""
    when: Text
    """ISO 8601, when it was committed, in the period's zone."""
    author: Text
    """Who made it: a stranger's words."""
    subject: Text
    """The commit's subject: a stranger's words."""
    path: Text
    """Where the file lay."""
    state: Literal["start", "added", "changed", "renamed", "removed", "merged", "unreadable"]
    """What the commit did to the file; "start" is the version that the period began with."""
    summary: Text
    """What happened since the version before, in a sentence; "" where there is none."""
    stops: Count | None = None
    """Open findings of severity "stop"; null where the file is removed."""
    looks: Count | None = None
    """Open findings of severity "look"; null where the file is removed."""
    measures: Measures | None = None
    """Faces, stretch, seam length and used texture; null where they are not known."""


class TrackedEntry(Record):
    """One finding and its time. Severities "stop" and "look" only; accepted ones are left out."""

    path: Text
    """The asset's."""
    code: Text
    """The rule."""
    severity: Severity
    """As it was last seen."""
    part: Text
    """The part's name; "" for the whole asset."""
    message: Text
    """As it was last seen."""
    fate: Fate
    """"opened" in the period and open; "standing" from before and open; "mended": from before and
    gone; "passing": came and went in the period; "gone": with the removed file."""
    opened: Text | None
    """When, as ISO 8601; null where it is older than the period."""
    opened_by: Text | None
    """The commit; null where it is older than the period."""
    ended: Text | None = None
    """When, as ISO 8601; null where it is open."""
    ended_by: Text | None = None
    """The commit; null where it is open."""
    days: Annotated[float, Field(ge=0)]
    """How long it was open within the period."""
    commits: Count
    """How many commits landed while it was open within the period, the first included."""


class AssetProgress(Record):
    """One asset through the period."""

    path: Text
    """As in the report's list of assets, in whose order these are."""
    versions: tuple[VersionEntry, ...]
    """In order, the version of the start first where there was one."""


class Progress(Record):
    """How a period went."""

    since: Text
    """Its beginning, ISO 8601 in its zone; what was committed then is in it."""
    until: Text
    """Its end, ISO 8601 in its zone; what was committed then is past it."""
    zone: Text
    """The zone whose days are meant, from the IANA time zone database."""
    commits: Count
    """What landed, merges left out."""
    merges: Count
    """Merges that landed."""
    people: tuple[PersonEntry, ...] = ()
    """The busiest first."""
    assets: tuple[AssetProgress, ...] = ()
    """Every asset touched."""
    findings: tuple[TrackedEntry, ...] = ()
    """Every finding that was open at some time of the period."""


def ways_of(assets: Sequence[object], progress: Progress) -> dict[int, AssetProgress]:
    """Each asset's way by the asset's `id`: two may have had one path, one after the other."""
    return {id(asset): way for asset, way in zip(assets, progress.assets, strict=True)}


def with_fate(progress: Progress, *fates: Fate) -> list[TrackedEntry]:
    """Findings of these fates: the gravest first, and the oldest of them."""
    return sorted((one for one in progress.findings if one.fate in fates), key=_gravity)


def stands_longest(progress: Progress) -> list[TrackedEntry]:
    """What is open, the oldest first, and the gravest of them."""
    open_ones = (one for one in progress.findings if one.fate in ("opened", "standing"))
    return sorted(open_ones, key=lambda one: (one.opened or "", *_gravity(one)))


def grouped(findings: Iterable[TrackedEntry]) -> list[list[TrackedEntry]]:
    """Findings that differ in their parts only, together, in the order given."""
    groups: dict[tuple[str | None, ...], list[TrackedEntry]] = {}
    for one in findings:
        key = (one.path, one.code, one.severity, one.message, one.opened_by, one.ended_by)
        groups.setdefault(key, []).append(one)
    return list(groups.values())


def recurring(groups: Iterable[list[TrackedEntry]]) -> list[list[list[TrackedEntry]]]:
    """Groups of one rule on the same parts of one asset together, in the order of time."""
    found: dict[tuple[str, ...], list[list[TrackedEntry]]] = {}
    for group in groups:
        first = group[0]
        key = (first.path, first.code, first.severity, *(one.part for one in group))
        found.setdefault(key, []).append(group)
    return [sorted(some, key=_time) for some in found.values()]


def _time(group: list[TrackedEntry]) -> tuple[str, str]:
    return group[0].opened or "", group[0].ended or ""


def counts_of(findings: Iterable[TrackedEntry]) -> dict[Fate, int]:
    """How many findings met each fate."""
    counts: dict[Fate, int] = dict.fromkeys(("opened", "standing", "mended", "passing", "gone"), 0)
    for one in findings:
        counts[one.fate] += 1
    return counts


def _gravity(one: TrackedEntry) -> tuple[bool, float, str, str, str]:
    return one.severity != "stop", -one.days, one.path, one.part, one.code
