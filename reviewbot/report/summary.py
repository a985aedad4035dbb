"""One asset's verdict as one sentence."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

from reviewbot.compare.change import Change
from reviewbot.compare.sentence import change_sentence
from reviewbot.report.order import by_standing
from reviewbot.report.report import FindingEntry, State


def asset_summary(
    state: State,
    changes: Sequence[Change],
    findings: Sequence[FindingEntry],
    *,
    mended: bool,
    all_parts: int,
) -> str:
    """What happened first, then how much is wrong that was not wrong before.

    mended  the version before could not be read
    """
    if state == "removed":
        return "The file was removed."
    if mended:
        happened = "The file can be read again."
    elif state == "added":
        happened = "New file."
    else:
        happened = change_sentence(changes, all_parts=all_parts)
    faults = _faults(by_standing(findings).leading)
    if faults:
        return f"{happened} New or worse: {faults}."
    return f"{happened} Nothing stands in its way." if state == "added" else happened


def _faults(findings: Iterable[FindingEntry]) -> str:
    """In words: "2 that must be mended, 1 to look at"; "" for none that weighs."""
    counts = Counter(finding.severity for finding in findings)
    words = {"stop": "that must be mended", "look": "to look at"}
    return ", ".join(
        f"{counts[severity]} {word}"  # type: ignore[index]
        for severity, word in words.items()
        if counts[severity]  # type: ignore[index]
    )
