"""The same thing said of several parts is said once."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Generic, TypeVar

from reviewbot.report.plain_text import mentions
from reviewbot.report.report import ChangeEntry, FindingEntry

Entry = TypeVar("Entry", ChangeEntry, FindingEntry)


@dataclass(frozen=True, slots=True, kw_only=True)
class Family(Generic[Entry]):
    """Entries that differ in their parts and figures only; at least one.

    entries  in the order given
    parts    their parts, where the message alone would not tell which; "" is the whole asset
    """

    entries: tuple[Entry, ...]
    parts: tuple[str, ...]

    @property
    def first(self) -> Entry:
        return self.entries[0]


def change_families(changes: Iterable[ChangeEntry]) -> list[Family[ChangeEntry]]:
    """Changes of one code and one message together."""
    return _families((change, (change.code, change.message, change.accepted)) for change in changes)


def finding_families(findings: Iterable[FindingEntry]) -> list[Family[FindingEntry]]:
    """Findings of one code, severity, standing and message together."""
    return _families(
        (one, (one.code, one.message, one.accepted, one.severity, one.standing)) for one in findings
    )


def _families(entries: Iterable[tuple[Entry, tuple[str | None, ...]]]) -> list[Family[Entry]]:
    groups: dict[tuple[str | None, ...], list[Entry]] = {}
    for entry, key in entries:
        groups.setdefault(key, []).append(entry)
    return [Family(entries=tuple(group), parts=_parts(group)) for group in groups.values()]


def _parts(group: list[Entry]) -> tuple[str, ...]:
    parts = tuple(dict.fromkeys(entry.part for entry in group))
    said = len(parts) == 1 and (not parts[0] or mentions(group[0].message, parts[0]))
    return () if said else parts
