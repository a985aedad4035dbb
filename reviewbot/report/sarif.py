"""report.sarif: the findings for hosts that read SARIF 2.1.0 (OASIS, 2020)."""

from __future__ import annotations

import json
from typing import Any
from urllib.parse import quote

from reviewbot.checks.finding import Standing
from reviewbot.report.names import names_in
from reviewbot.report.plain_text import plain_sentence, visible
from reviewbot.report.report import AssetEntry, FindingEntry, Report
from reviewbot.report.wording import code_label
from reviewbot.settings import Severity

_SCHEMA = "https://json.schemastore.org/sarif-2.1.0.json"
_LEVELS: dict[Severity, str] = {"stop": "error", "look": "warning", "note": "note"}
_BASELINE: dict[Standing, str] = {
    "new": "new",
    "worse": "updated",
    "same": "unchanged",
    "better": "updated",
    "fixed": "absent",
}
_PROPERTIES = {"standing", "count", "value", "limit", "unit", "at"}
# In SARIF's plain text a bracket can open a link and a brace a placeholder (3.11.5 and 3.11.6).
_LITERAL = str.maketrans({"[": "\\[", "]": "\\]", "\\": "\\\\", "{": "{{", "}": "}}"})


def to_sarif(report: Report) -> str:
    """All findings as one SARIF run; those the team accepted are marked as suppressed."""
    codes = sorted({finding.code for asset in report.assets for finding in asset.findings})
    places = {code: place for place, code in enumerate(codes)}
    results = [
        _result(asset, finding, places) for asset in report.assets for finding in asset.findings
    ]
    log = {
        "$schema": _SCHEMA,
        "version": "2.1.0",
        "runs": [
            {
                "tool": {"driver": _driver(report, codes)},
                "columnKind": "unicodeCodePoints",
                "results": results,
            }
        ],
    }
    return json.dumps(log, indent=2, ensure_ascii=False) + "\n"


def _driver(report: Report, codes: list[str]) -> dict[str, Any]:
    name, _, version = report.tool.partition(" ")
    rules = [{"id": code, "shortDescription": {"text": code_label(code)}} for code in codes]
    return {"name": visible(name), **({"version": version} if version else {}), "rules": rules}


def _result(asset: AssetEntry, finding: FindingEntry, places: dict[str, int]) -> dict[str, Any]:
    message = plain_sentence(finding.message, names_in(asset)).translate(_LITERAL)
    result: dict[str, Any] = {
        "ruleId": finding.code,
        "ruleIndex": places[finding.code],
        "level": _LEVELS[finding.severity],
        "message": {"text": message},
        "locations": [_location(asset, finding)],
        "baselineState": _BASELINE[finding.standing],
        # By way of JSON text, where figures that are not finite are null already.
        "properties": json.loads(finding.model_dump_json(include=_PROPERTIES)),
    }
    if finding.accepted is not None:
        result["suppressions"] = [{"kind": "external", "justification": finding.accepted}]
    return result


def _location(asset: AssetEntry, finding: FindingEntry) -> dict[str, Any]:
    """The file and the part in it. Hosts ask for a line: a file as a whole starts at its first."""
    physical = {"artifactLocation": {"uri": quote(asset.path)}, "region": {"startLine": 1}}
    location: dict[str, Any] = {"physicalLocation": physical}
    if finding.part:
        location["logicalLocations"] = [{"name": finding.part, "kind": "object"}]
    return location
