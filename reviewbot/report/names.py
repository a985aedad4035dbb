"""Which names the sentences of a report may carry."""

from __future__ import annotations

from reviewbot.report.report import AssetEntry, Report


def names_in(asset: AssetEntry) -> frozenset[str]:
    """Every name a sentence about an asset may carry: its paths and its parts."""
    names = {asset.path, asset.before_path or "", asset.path.rsplit("/", 1)[-1]}
    names.update(part.name or "" for part in asset.parts)
    names.update(part.before_name or "" for part in asset.parts)
    names.update(change.part for change in asset.changes)
    names.update(finding.part for finding in asset.findings)
    return frozenset(names - {""})


def names_in_report(report: Report) -> frozenset[str]:
    """Every name of every asset."""
    return frozenset(name for asset in report.assets for name in names_in(asset))
