"""A watcher put together, and ended by a signal."""

from __future__ import annotations

import signal
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from types import FrameType

from reviewbot.errors import UsageError
from reviewbot.publish.clock import SystemClock
from reviewbot.publish.known_hosts import open_host
from reviewbot.runs import Options
from reviewbot.settings import read_settings
from reviewbot.watch.inbox import Inbox, SteadyClock, Stop
from reviewbot.watch.log import Say
from reviewbot.watch.loop import Watcher, Wish
from reviewbot.watch.news import Choice
from reviewbot.watch.places import Place, places_of
from reviewbot.watch.posting import Board, board_of
from reviewbot.watch.state import opened_state
from reviewbot.watch.worker import ProcessWorker


@dataclass(frozen=True, slots=True, kw_only=True)
class PostWish:
    """Where reviews are to be posted, as far as it is told; the token is a secret."""

    host: str | None
    server: str | None
    repository: str
    token: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What `run_watch` is asked for.

    state  the state's file; None for one in `out`
    post   None where nothing is to be posted
    """

    repositories: tuple[str, ...]
    choice: Choice
    every: float
    is_once: bool
    out: Path
    state: Path | None
    options: Options
    post: PostWish | None


def run_watch(asked: Asked, say: Say) -> int:
    """Watches until a signal ends it, or once; the exit status.

    Raises UsageError where it cannot begin.
    """
    file = asked.state or asked.out / "watch.sqlite"
    places = places_of(asked.repositories, file.with_name(f"{file.name}-mirrors").resolve())
    boards = {} if asked.post is None else _boards(places, asked.post)
    if asked.options.settings_file is not None:
        read_settings(asked.options.settings_file)  # what is wrong with it is said at once
    wish = Wish(
        choice=asked.choice,
        every=asked.every,
        is_once=asked.is_once,
        out=asked.out,
        options=asked.options,
        boards=boards,
        token="" if asked.post is None else asked.post.token,
    )
    inbox: Inbox = Inbox()
    with opened_state(file) as state, _signals_into(inbox):
        watcher = Watcher(
            places,
            wish=wish,
            state=state,
            worker=ProcessWorker(),
            say=say,
            inbox=inbox,
            clock=SteadyClock(),
        )
        return watcher.run()


def _boards(places: tuple[Place, ...], post: PostWish) -> dict[str, Board]:
    """Where each place's reviews are posted, and whether that can be: before anything begins."""
    if post.repository and len(places) > 1:
        raise UsageError("--repo names one repository and several are watched: watch each alone")
    boards = {
        place.name: board_of(place, host=post.host, server=post.server, repository=post.repository)
        for place in places
    }
    for board in boards.values():
        open_host(board.host, token=post.token, web=board.server, clock=SystemClock()).close()
    return boards


@contextmanager
def _signals_into(inbox: Inbox) -> Iterator[None]:
    """While it is open, the signals that end a program are messages instead."""

    def put(number: int, frame: FrameType | None) -> None:  # noqa: ARG001
        inbox.put(Stop(why=signal.Signals(number).name))

    before = {number: signal.signal(number, put) for number in (signal.SIGINT, signal.SIGTERM)}
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
