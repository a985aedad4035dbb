"""One line for each event, for people or for programs."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Literal, TextIO

from reviewbot.history.paths import visible_text

Level = Literal["info", "warning", "error"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """What happened.

    name     a word for programs; once published it keeps its meaning
    message  one plain sentence
    """

    name: str
    message: str
    level: Level = "info"
    repository: str = ""
    ref: str = ""
    commit: str = ""


Say = Callable[[Event], None]


def as_text(event: Event, when: datetime) -> str:
    """A line for people. Names come from strangers: nothing in one begins another line.

    >>> as_text(Event(name="found", message="1 new commit", repository="/srv/props",
    ...               ref="refs/heads/main"), datetime(2025, 3, 1, 9, tzinfo=UTC))
    '2025-03-01T09:00:00+00:00 found /srv/props refs/heads/main: 1 new commit'
    """
    mark = "" if event.level == "info" else f"{event.level} "
    where = " ".join(filter(None, [event.repository, event.ref, event.commit[:12]]))
    line = f"{when.isoformat(timespec='seconds')} {mark}{event.name}"
    return _shown(f"{line} {where}: {event.message}" if where else f"{line}: {event.message}")


def as_json(event: Event, when: datetime) -> str:
    """A line for programs: one JSON object; what is empty is left out."""
    fields = {
        "time": when.isoformat(timespec="milliseconds"),
        "level": event.level,
        "event": event.name,
        "repository": event.repository,
        "ref": event.ref,
        "commit": event.commit,
        "message": event.message,
    }
    return json.dumps({key: value for key, value in fields.items() if value})


def logger(form: Literal["text", "json"], *, is_quiet: bool, to: TextIO | None = None) -> Say:
    """Writes events to standard error. is_quiet  only what went wrong"""
    written = as_json if form == "json" else as_text

    def say(event: Event) -> None:
        if not is_quiet or event.level != "info":
            print(written(event, datetime.now(UTC)), file=to or sys.stderr, flush=True)

    return say


def _shown(text: str) -> str:
    # Names of references were made fit to show when they were read: not twice.
    kept = text.replace("\\", "\0")
    return visible_text(kept.encode("utf-8", "surrogateescape")).replace("\\x00", "\\")
