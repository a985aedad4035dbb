"""How long each finding has stood: followed from version to version of one asset."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from reviewbot.report.report import AssetEntry, FindingEntry

UNREADABLE = "unreadable"


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One version of an asset against the one before it.

    place  of the commit that made it, among the landed ones
    entry  None: removed
    """

    place: int
    entry: AssetEntry | None


@dataclass(slots=True, kw_only=True)
class Tracked:
    """A finding and its time.

    finding   as it was last seen
    born      place of the commit that brought it; None: it stood before the period
    ended     place of the commit that took it away; None: it stands
    is_gone   it ended because the file was removed: nobody mended it
    """

    finding: FindingEntry
    born: int | None
    ended: int | None = None
    is_gone: bool = False


def track_findings(steps: Sequence[Step]) -> list[Tracked]:
    """Every finding that any of the versions has, with its time.

    Two findings are one where the versions' comparison says that it stood; of several with one
    code on one part, the nearest in place. While a file cannot be read, nothing is known of its
    findings: they count as standing, and are known again by code and part once it can.
    """
    found: list[Tracked] = []
    was_unreadable = False
    for step in steps:
        standing = [one for one in found if one.ended is None]
        if step.entry is None:
            for one in standing:
                one.ended, one.is_gone = step.place, True
            continue
        if step.entry.state == "unreadable":
            found += _taken_unreadable(standing, step.entry, step.place)
            was_unreadable = True
            continue
        if any(one.is_gone and one.ended is not None for one in found):
            standing += _back_again(found)
        found += _taken(standing, step.entry, step.place, was_unreadable=was_unreadable)
        was_unreadable = False
    return found


def _back_again(found: list[Tracked]) -> list[Tracked]:
    """The findings of a file that was gone and is back, standing again."""
    back = [one for one in found if one.is_gone]
    for one in back:
        one.ended, one.is_gone = None, False
    return back


def _taken_unreadable(standing: list[Tracked], entry: AssetEntry, place: int) -> list[Tracked]:
    if any(one.finding.code == UNREADABLE for one in standing):
        return []
    return [
        Tracked(finding=one, born=place if one.standing == "new" else None)
        for one in entry.findings
    ]


def _taken(
    standing: list[Tracked], entry: AssetEntry, place: int, *, was_unreadable: bool
) -> list[Tracked]:
    """Carries standing findings on into a version; returns those that are new with it."""
    names = {part.before_name: part.name for part in entry.parts if part.before_name}
    left = list(standing)
    born = []
    now = [one for one in entry.findings if one.standing != "fixed"]
    for finding in sorted(now, key=lambda one: one.standing == "new"):
        may_be_known = finding.standing != "new" or was_unreadable
        known = _nearest(left, finding, names) if may_be_known else None
        if known is not None:
            known.finding = finding
            left.remove(known)
        else:
            # One that is said to have stood, and that nobody saw: it is older than what was seen.
            since = None if finding.standing != "new" else place
            born.append(Tracked(finding=finding, born=since))
    for one in left:
        one.ended = place
    mended = [one for one in entry.findings if one.standing == "fixed"]
    return born + [
        Tracked(finding=one, born=None, ended=place)
        for one in mended
        if not any(one.code == other.finding.code for other in left)
    ]


def _nearest(
    left: list[Tracked], finding: FindingEntry, names: dict[str, str | None]
) -> Tracked | None:
    """The tracked one that this is, by code, by part through renames, then by place."""
    alike = [one for one in left if one.finding.code == finding.code]
    same = [
        one
        for one in alike
        if finding.part in (one.finding.part, names.get(one.finding.part, one.finding.part))
    ]
    possible = same or (alike if finding.standing != "new" else [])
    return min(possible, key=lambda one: _distance(one.finding, finding), default=None)


def _distance(one: FindingEntry, other: FindingEntry) -> float:
    return math.dist(one.at, other.at) if one.at and other.at else 0.0
