"""Watchers for the tests: real git and real states, time that is told, and lives that are cut off.

A look's thread runs at once here, so that what happens is the same every time.
"""

from __future__ import annotations

import os
import signal
from collections.abc import Callable
from dataclasses import dataclass, field
from multiprocessing import get_context
from pathlib import Path
from queue import Empty
from typing import Any

import pytest
from repositories import PLAIN, Repository

from reviewbot.publish.api import Api
from reviewbot.runs import Options
from reviewbot.watch import loop, reports
from reviewbot.watch.inbox import Inbox, Message, Stop
from reviewbot.watch.log import Event
from reviewbot.watch.loop import Watcher, Wish
from reviewbot.watch.news import Choice
from reviewbot.watch.places import places_of
from reviewbot.watch.posting import Board
from reviewbot.watch.state import State, opened_state
from reviewbot.watch.work import Order, Outcome, PostOrder, ReviewOrder, carry_out_order


class AtOnce:
    """In place of a thread."""

    def __init__(self, *, target: Callable[..., None], args: list[Any], **_: bool) -> None:
        self._run = lambda: target(*args)

    def start(self) -> None:
        self._run()

    def join(self, seconds: float) -> None:
        """It is over."""


class HereWorker:
    """Carries orders out in this process."""

    def start(self, order: Order, done: Callable[[Outcome], None]) -> None:
        done(carry_out_order(order))

    def stop(self) -> None:
        """Nothing runs."""


@dataclass
class TellingWorker:
    """Carries nothing out and says that it did, or what it is told to say."""

    orders: list[Order] = field(default_factory=list)
    outcomes: dict[str, list[Outcome]] = field(default_factory=dict)  # by commit, in turn

    def start(self, order: Order, done: Callable[[Outcome], None]) -> None:
        self.orders.append(order)
        told = self.outcomes.get(order.commit)
        outcome = told.pop(0) if told else Outcome(result="done", told="Nothing changed.")
        if outcome.result == "done" and isinstance(order, ReviewOrder):
            order.folder.mkdir(parents=True, exist_ok=True)
            (order.folder / "report.json").write_text("{}")
        done(outcome)

    def stop(self) -> None:
        """Nothing runs."""

    def reviewed(self) -> list[str]:
        return [order.commit for order in self.orders if isinstance(order, ReviewOrder)]

    def posted(self) -> list[str]:
        return [order.commit for order in self.orders if isinstance(order, PostOrder)]


@dataclass
class ToldClock:
    """Time that passes only when nothing happens; then what is planned for it does."""

    plan: list[tuple[float, Callable[[], object]]] = field(default_factory=list)
    seconds: float = 0.0
    waits: list[float] = field(default_factory=list)

    def now(self) -> float:
        return self.seconds

    def receive(self, inbox: Inbox, seconds: float) -> Message | None:
        try:
            return inbox.get_nowait()
        except Empty:
            pass
        self.plan.sort(key=lambda item: item[0])
        until = self.seconds + seconds
        if self.plan and self.plan[0][0] <= until:
            until, act = self.plan.pop(0)
            act()
        self.waits.append(until - self.seconds)
        self.seconds = max(self.seconds, until)
        return None


@dataclass
class Desk:
    """Everything a watcher needs, and what it said."""

    folder: Path
    texts: tuple[str, ...]
    choice: Choice = field(default_factory=Choice)
    worker: TellingWorker | HereWorker = field(default_factory=TellingWorker)
    clock: ToldClock = field(default_factory=ToldClock)
    boards: dict[str, Board] = field(default_factory=dict)
    told: list[Event] = field(default_factory=list)
    inbox: Inbox = field(default_factory=Inbox)
    every: float = 60.0

    def run(self, *, is_once: bool = True) -> int:
        state_file = self.folder / "watch.sqlite"
        places = places_of(self.texts, self.folder / "mirrors")
        wish = Wish(
            choice=self.choice,
            every=self.every,
            is_once=is_once,
            out=self.folder / "out",
            options=Options(pictures="none", workers=1),
            boards={place.name: board for place in places for board in self.boards.values()},
            token="t0ken",
        )
        with opened_state(state_file) as state:
            watcher = Watcher(
                places,
                wish=wish,
                state=state,
                worker=self.worker,
                say=self.told.append,
                inbox=self.inbox,
                clock=self.clock,
            )
            return watcher.run()

    def until(self, seconds: float) -> int:
        """Runs until this moment."""
        self.clock.plan.append((seconds, lambda: self.inbox.put(Stop(why="SIGTERM"))))
        return self.run(is_once=False)

    def names(self) -> list[str]:
        return [event.name for event in self.told]


def new_repository(folder: Path) -> Repository:
    made = Repository(folder)
    made.folder.mkdir(parents=True)
    made.git("init", "--quiet", "--template=", "--initial-branch=main")
    return made


@dataclass(frozen=True)
class Life:
    """What one watcher is given, plain enough for another process.

    ends_at  the step, counted from 1, at which it is killed; 0 for never
    """

    folder: Path
    text: str
    board: Board
    ends_at: int


# What leaves something behind: the process may end right before or right after each.
_STEPS = (
    (State, "note"),
    (State, "_kept"),
    (reports, "write_report"),
    (reports, "_move"),
    (Api, "_send"),
)


def live(life: Life) -> None:
    """One round of a watcher that posts; ends by SIGKILL at a step."""
    os.environ.update(PLAIN)
    patch = pytest.MonkeyPatch()
    taken = 0

    def step() -> None:
        nonlocal taken
        taken += 1
        if taken == life.ends_at:
            os.kill(os.getpid(), signal.SIGKILL)

    def stepped(what: Callable[..., Any]) -> Callable[..., Any]:
        def run(*arguments: Any, **named: Any) -> Any:
            step()
            result = what(*arguments, **named)
            step()
            return result

        return run

    for owner, name in _STEPS:
        patch.setattr(owner, name, stepped(getattr(owner, name)))
    patch.setattr(loop, "Thread", AtOnce)
    desk = Desk(
        folder=life.folder,
        texts=(life.text,),
        choice=Choice(with_requests=True, since="all"),
        worker=HereWorker(),
        boards={"": life.board},
    )
    status = desk.run()
    os._exit(status)


_CONTEXT = get_context("forkserver")
_CONTEXT.set_forkserver_preload(["watch.lives", "reviewbot.watch.run"])


def lived(life: Life) -> int:
    """The exit status of a life in a process of its own; -9 where it was killed."""
    process = _CONTEXT.Process(target=live, args=[life])
    process.start()
    process.join(120)
    status = process.exitcode
    process.close()
    assert status is not None
    return status
