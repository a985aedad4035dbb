"""From findings and changes to one word, one sentence and one exit status."""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Sequence
from pathlib import PurePath

from reviewbot.checks.acceptances import Acceptance, Told, remarks
from reviewbot.report.order import worst_first
from reviewbot.report.report import AssetEntry, FindingEntry, Report, Verdict
from reviewbot.report.wording import counted

_RANK = {"note": 0, "look": 1, "stop": 2}
# These are seldom meant, whatever else is found.
_WANTS_AN_EYE = frozenset(
    {
        "scale",
        "axes",
        "mirror",
        "part-removed",
        "winding-flipped",
        "unwelded",
        "uv-lost",
        "uv-flipped",
        "uv-mirrored",
        "uv-tile-moved",
    }
)


def standing_now(findings: Iterable[FindingEntry]) -> list[FindingEntry]:
    """The findings that hold for the version after and that nobody has accepted."""
    return [f for f in findings if f.standing != "fixed" and f.accepted is None]


def asset_verdict(findings: Iterable[FindingEntry], change_codes: Iterable[str]) -> Verdict:
    """ "stop" and "look" as the gravest finding says; "look" too for a change seldom meant."""
    gravest = max((_RANK[f.severity] for f in standing_now(findings)), default=0)
    if gravest == _RANK["stop"]:
        return "stop"
    if gravest == _RANK["look"] or not _WANTS_AN_EYE.isdisjoint(change_codes):
        return "look"
    return "pass"


def report_verdict(assets: Iterable[AssetEntry]) -> Verdict:
    """The gravest asset's."""
    verdicts = {asset.verdict for asset in assets}
    return "stop" if "stop" in verdicts else "look" if "look" in verdicts else "pass"


def gate_status(report: Report) -> int:
    """1 where a finding stands at or above the gate, else 0."""
    if report.fail_on == "never":
        return 0
    gate = _RANK[report.fail_on]
    findings = (f for asset in report.assets for f in standing_now(asset.findings))
    return int(any(_RANK[finding.severity] >= gate for finding in findings))


def report_summary(assets: Sequence[AssetEntry]) -> str:
    """The worst asset's sentence, with how the others fared."""
    if not assets:
        return "No mesh file changed."
    first, *rest = worst_first(assets)
    if not rest:
        return first.summary
    name = PurePath(first.path).name
    counts = [(sum(a.verdict == v for a in rest), v) for v in ("stop", "look", "pass")]
    words = {
        "stop": ("must be mended", "must be mended"),
        "look": ("wants a look", "want a look"),
        "pass": ("is fine", "are fine"),
    }
    others = ", ".join(f"{n} {words[v][n > 1]}" for n, v in counts if n)
    return f"{name}: {first.summary} Of {counted(len(rest), 'other file')}, {others}."


def acceptance_remarks(
    acceptances: Iterable[Acceptance], assets: Sequence[AssetEntry], today: datetime.date
) -> tuple[str, ...]:
    """What is to be said of acceptances that ran out or cover nothing any more."""
    named = [
        (asset.path, one.code, one.part)
        for asset in assets
        for entries in (asset.findings, asset.changes)
        for one in entries
    ]
    told = [Told(code=code, path=path, part=part) for path, code, part in named]
    return remarks(acceptances, told, [asset.path for asset in assets], today)
