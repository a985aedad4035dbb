"""What the watcher is told, in one queue, and the time it goes by."""

from __future__ import annotations

import time
from dataclasses import dataclass
from queue import Empty, SimpleQueue
from typing import Protocol

from reviewbot.errors import UsageError
from reviewbot.history.refs import Refs
from reviewbot.watch.places import Place
from reviewbot.watch.state import Job
from reviewbot.watch.work import Outcome


@dataclass(frozen=True, slots=True, kw_only=True)
class Looked:
    """A look is over. found  what it brought, or why it brought nothing"""

    place: Place
    found: Refs | UsageError


@dataclass(frozen=True, slots=True, kw_only=True)
class Finished:
    """An order is carried out."""

    place: Place
    job: Job
    outcome: Outcome


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    """Somebody wants the watcher to end."""

    why: str


Message = Looked | Finished | Stop
Inbox = SimpleQueue[Message]  # a signal handler may put into it at any moment


class Clock(Protocol):
    """Time that only goes forward, whatever the machine's clock is set to."""

    def now(self) -> float:
        """Seconds since some moment."""

    def receive(self, inbox: Inbox, seconds: float) -> Message | None:
        """The next message, or None after so many seconds without one."""


class SteadyClock:
    """The machine's own."""

    def now(self) -> float:
        """See `Clock`."""
        return time.monotonic()

    def receive(self, inbox: Inbox, seconds: float) -> Message | None:
        """See `Clock`."""
        try:
            return inbox.get(timeout=seconds)
        except Empty:
            return None
