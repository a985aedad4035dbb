"""Acceptances added to the file that a repository keeps them in."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from pathlib import Path

from reviewbot.checks.acceptances import (
    ACCEPTANCES_FILE,
    Acceptance,
    acceptance_text,
    parse_acceptances,
)
from reviewbot.checks.rules import RULES
from reviewbot.compare.change import CODES
from reviewbot.errors import UsageError

_HEADING = """\
# What the team tolerates or meant to change: see `reviewbot accept --help`.
# Each entry is reviewed like any other change; one that ran out or covers nothing is said.
"""


def add_acceptances(
    codes: Sequence[str],
    *,
    file: Path | None,
    path: str,
    part: str,
    why: str,
    who: str,
    until: str | None,
) -> Path:
    """Append one entry a code; returns the file, made where it is missing.

    Raises UsageError for a code that no finding or change has, a date that is none, or empty
    words; SettingsError where the file holds something else.
    """
    known = sorted({*(rule.code for rule in RULES), *CODES})
    for code in codes:
        if code not in known:
            raise UsageError(
                f"no finding or change is called '{code}'; there are {', '.join(known)}"
            )
    if not why.strip() or not who.strip():
        raise UsageError("an acceptance needs --why and --who: others have to understand it")
    entries = [
        Acceptance(code=code, path=path, part=part, why=why, who=who, until=_day(until))
        for code in codes
    ]
    target = file or Path(ACCEPTANCES_FILE)
    try:
        existing = target.read_text("utf-8") if target.exists() else _HEADING
        parse_acceptances(existing, path=str(target))
        text = existing.rstrip("\n") + "\n" + "".join("\n" + acceptance_text(e) for e in entries)
        target.write_text(text, encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise UsageError(f"{target} cannot be read and written: {error}") from error
    return target


def _day(until: str | None) -> datetime.date | None:
    try:
        return None if until is None else datetime.date.fromisoformat(until)
    except ValueError:
        raise UsageError(f"--until {until}: give a day as YYYY-MM-DD") from None
