"""What leads in a report and what is folded away."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from reviewbot.report.report import AssetEntry, FindingEntry, Report
from reviewbot.report.wording import counted

_SEVERITY_RANK = {"stop": 0, "look": 1, "note": 2}
_VERDICT_RANK = {"stop": 0, "look": 1, "pass": 2}
_STANDING_RANK = {"new": 0, "worse": 1, "same": 2, "better": 3, "fixed": 4}


@dataclass(frozen=True, slots=True, kw_only=True)
class Standings:
    """An asset's findings, each in one group, the gravest first.

    leading   new or worse than in the version before
    stood     as before, or better but still there
    fixed     no longer there
    accepted  tolerated by the team, whatever their standing
    """

    leading: tuple[FindingEntry, ...]
    stood: tuple[FindingEntry, ...]
    fixed: tuple[FindingEntry, ...]
    accepted: tuple[FindingEntry, ...]


def by_standing(findings: Iterable[FindingEntry]) -> Standings:
    """Findings in the groups a reader meets them in."""
    groups: dict[str, list[FindingEntry]] = {"lead": [], "stood": [], "fixed": [], "accepted": []}
    for finding in sorted(findings, key=_gravity):
        groups[_group(finding)].append(finding)
    return Standings(
        leading=tuple(groups["lead"]),
        stood=tuple(groups["stood"]),
        fixed=tuple(groups["fixed"]),
        accepted=tuple(groups["accepted"]),
    )


def worst_first(assets: Iterable[AssetEntry]) -> list[AssetEntry]:
    """Assets by verdict, then by how much in them is new or worse, then by path."""
    return sorted(assets, key=_badness)


def needs_telling(asset: AssetEntry) -> bool:
    """Whether anything about an asset is worth more than being counted."""
    return (
        asset.state != "same"
        or asset.verdict != "pass"
        or bool(asset.changes)
        or bool(by_standing(asset.findings).leading)
    )


def severity_counts(findings: Iterable[FindingEntry]) -> str:
    """In words: "1 stop, 2 look, 3 notes"; "" for none."""
    counts = Counter(finding.severity for finding in findings)
    nouns = (("stop", "stop"), ("look", "look"), ("note", "notes"))
    return ", ".join(
        counted(counts[noun], noun, plural)  # type: ignore[index]
        for noun, plural in nouns
        if counts[noun]  # type: ignore[index]
    )


def all_findings(report: Report) -> list[FindingEntry]:
    """Every asset's findings, one after the other."""
    return [finding for asset in report.assets for finding in asset.findings]


def _group(finding: FindingEntry) -> str:
    if finding.standing == "fixed":
        return "fixed"
    if finding.accepted is not None:
        return "accepted"
    return "lead" if finding.standing in ("new", "worse") else "stood"


def _gravity(finding: FindingEntry) -> tuple[int, int, str, str]:
    return (
        _SEVERITY_RANK[finding.severity],
        _STANDING_RANK[finding.standing],
        finding.part,
        finding.code,
    )


def _badness(asset: AssetEntry) -> tuple[int, int, int, int, str]:
    leading = Counter(finding.severity for finding in by_standing(asset.findings).leading)
    return (
        _VERDICT_RANK[asset.verdict],
        -leading["stop"],
        -leading["look"],
        -len(asset.changes),
        asset.path,
    )
