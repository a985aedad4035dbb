"""The watcher: looks, finds what is new, has it reviewed, and waits.

Everything that happens comes through one inbox: what a look has brought, what came of an order,
and the wish to stop. Looks run in threads, so that an address that does not answer holds up
nobody else; orders are carried out one at a time, repositories in turn; the state is written here
and nowhere else.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from threading import Thread

from reviewbot.errors import UsageError
from reviewbot.history.git import open_history
from reviewbot.history.refs import Refs
from reviewbot.runs import Options
from reviewbot.watch.backoff import wait_after
from reviewbot.watch.inbox import Clock, Finished, Inbox, Looked, Stop
from reviewbot.watch.log import Event, Level, Say
from reviewbot.watch.news import Choice, News, find_news
from reviewbot.watch.places import Place, look
from reviewbot.watch.posting import Board
from reviewbot.watch.reports import drop_unfinished, is_written, report_folder
from reviewbot.watch.state import Job, State
from reviewbot.watch.work import Order, Outcome, PostOrder, ReviewOrder
from reviewbot.watch.worker import Worker

MOST_TRIES = 3  # of one commit's review, or of its post
_RETRY = 2.0  # seconds before another try; then twice as long each time
_LONG = 3600.0
_GRACE = 2.0  # seconds for a look to give up


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """What the watcher was asked for.

    every    seconds between looks
    is_once  one look at each repository, all that it brings, and no more
    boards   where each place's reviews are posted, by its name; empty where nothing is posted
    """

    choice: Choice
    every: float
    is_once: bool
    out: Path
    options: Options
    boards: Mapping[str, Board]
    token: str


@dataclass(slots=True)
class Turn:
    """Where a place stands in the round; moments are the clock's.

    look_at        when the next look is due
    is_looking     a look is under way
    has_looked     at least one look is over
    failed_looks   in a row
    work_at        when its next order may begin
    failed_orders  in a row
    is_away        its orders wait for what is not there at the moment
    served         the number of its last order
    """

    look_at: float
    is_looking: bool = False
    has_looked: bool = False
    failed_looks: int = 0
    work_at: float = 0.0
    failed_orders: int = 0
    is_away: bool = False
    served: int = 0


class Watcher:
    """Watches these places until it is told to stop, or once."""

    def __init__(
        self,
        places: tuple[Place, ...],
        *,
        wish: Wish,
        state: State,
        worker: Worker,
        say: Say,
        inbox: Inbox,
        clock: Clock,
    ) -> None:
        self._turns = {place: Turn(look_at=clock.now()) for place in places}
        self._wish, self._state, self._worker = wish, state, worker
        self._say, self._inbox, self._clock = say, inbox, clock
        self._looks: dict[Place, Thread] = {}
        self._is_working = False
        self._orders = 0
        self._status = 0
        self._is_stopped = False

    def run(self) -> int:
        """Returns 0 once it is told to stop.

        After one round: 1 where a review was at or above the gate, 2 where something could not be
        looked at, reviewed or posted.
        """
        for place in self._turns:
            drop_unfinished(self._wish.out, place.slug)
        try:
            while not self._is_over():
                self._start_looks()
                self._start_order()
                message = self._clock.receive(self._inbox, self._seconds_to_wait())
                match message:
                    case Stop():
                        self._tell("stopped", f"{message.why}; what is not finished is kept")
                        return 0
                    case Looked(place=place, found=UsageError() as error):
                        self._take_failed_look(place, error)
                    case Looked(place=place, found=Refs() as refs):
                        self._take_look(place, refs)
                    case Finished():
                        self._take_outcome(message.place, message.job, message.outcome)
        finally:
            self._is_stopped = True
            self._worker.stop()
            for under_way in self._looks.values():
                under_way.join(_GRACE)
        return self._status

    def _is_over(self) -> bool:
        """After one round: nothing is left that can be done now."""
        return (
            self._wish.is_once
            and not self._is_working
            and all(turn.has_looked for turn in self._turns.values())
            and not any(self._job_of(place) for place in self._turns)
        )

    def _seconds_to_wait(self) -> float:
        """Until something is due by itself."""
        due = [turn.look_at for turn in self._turns.values() if self._may_look(turn)]
        if not self._is_working:
            due += [turn.work_at for place, turn in self._turns.items() if self._job_of(place)]
        now = self._clock.now()
        return max(0.0, min(due, default=now + _LONG) - now)

    # Looks

    def _may_look(self, turn: Turn) -> bool:
        return not turn.is_looking and not (self._wish.is_once and turn.has_looked)

    def _start_looks(self) -> None:
        for place, turn in self._turns.items():
            if self._may_look(turn) and turn.look_at <= self._clock.now():
                turn.is_looking = True
                self._looks[place] = Thread(target=self._look, args=[place], daemon=True)
                self._looks[place].start()

    def _look(self, place: Place) -> None:
        found: Refs | UsageError
        try:
            found = look(
                place,
                with_requests=self._wish.choice.with_requests,
                is_cancelled=lambda: self._is_stopped,
            )
        except UsageError as error:
            found = error
        except Exception as error:  # whatever it is, the other places are to be watched
            found = UsageError(f"{type(error).__name__}: {error}")
        self._inbox.put(Looked(place=place, found=found))

    def _take_look(self, place: Place, refs: Refs) -> None:
        known, looked_at = self._state.positions(place.name), self._state.looked_at(place.name)
        try:
            with open_history(place.folder) as history:
                news = find_news(history, refs, known, looked_at, self._wish.choice)
        except UsageError as error:
            self._take_failed_look(place, error)
            return
        turn = self._turns[place]
        if turn.failed_looks:
            self._tell("reachable", f"back after {turn.failed_looks} failed looks", place)
        turn.failed_looks = 0
        self._end_look(turn, self._wish.every)
        count = self._state.note(
            place.name,
            kinds=news.kinds,
            positions=news.positions,
            on_branches=news.on_branches,
            on_requests=news.on_requests,
        )
        self._tell_news(place, news, count, is_first=not looked_at)

    def _take_failed_look(self, place: Place, error: UsageError) -> None:
        turn = self._turns[place]
        turn.failed_looks += 1
        self._status = 2
        if turn.failed_looks == 1:
            self._tell("unreachable", _tried_again(str(error)), place, level="warning")
        self._end_look(turn, wait_after(turn.failed_looks, first=self._wish.every))

    def _end_look(self, turn: Turn, seconds: float) -> None:
        turn.is_looking, turn.has_looked = False, True
        turn.look_at = self._clock.now() + seconds

    def _tell_news(self, place: Place, news: News, count: int, *, is_first: bool) -> None:
        if is_first and self._wish.choice.since is None:
            message = "begins where everything stands now; --since would go further back"
            self._tell("first-look", message, place)
        for remark in news.remarks:
            self._tell(remark.event, remark.message, place, ref=remark.ref, commit=remark.commit)
        if count:
            self._tell("found", f"{count} new {'commit' if count == 1 else 'commits'}", place)

    # Orders

    def _job_of(self, place: Place) -> Job | None:
        """What is to be done next for a place; None also where one round leaves it for later."""
        is_left = self._wish.is_once and self._turns[place].is_away
        return None if is_left else self._state.next_job(place.name)

    def _start_order(self) -> None:
        """The next job of the place that was served least lately."""
        if self._is_working:
            return
        for place, turn in sorted(self._turns.items(), key=lambda item: item[1].served):
            job = self._job_of(place) if turn.work_at <= self._clock.now() else None
            if job is not None:
                self._orders += 1
                turn.served, self._is_working = self._orders, True
                self._begin(place, job)
                return

    def _begin(self, place: Place, job: Job) -> None:
        folder = report_folder(self._wish.out.resolve(), place.slug, job.ref, job.commit)
        if job.stage == "written" and not is_written(folder):  # somebody took the report away
            job = self._state.move(job, "waiting")

        def done(outcome: Outcome) -> None:
            self._inbox.put(Finished(place=place, job=job, outcome=outcome))

        self._worker.start(self._order(place, job, folder), done)

    def _order(self, place: Place, job: Job, folder: Path) -> Order:
        board = self._wish.boards.get(place.name)
        if job.stage == "written" and board is not None:
            return PostOrder(
                folder=folder, board=board, ref=job.ref, commit=job.commit, token=self._wish.token
            )
        return ReviewOrder(
            repository=place.folder,
            commit=job.commit,
            base=job.base,
            folder=folder,
            options=self._wish.options,
        )

    def _take_outcome(self, place: Place, job: Job, outcome: Outcome) -> None:
        self._is_working = False
        turn = self._turns[place]
        if outcome.result == "done":
            if turn.is_away:
                self._tell("resumed", "what was not there is there again", place)
            turn.is_away, turn.failed_orders = False, 0
            self._advance(place, job, outcome)
            return
        turn.failed_orders += 1
        turn.work_at = self._clock.now() + wait_after(turn.failed_orders, first=_RETRY)
        if outcome.result == "failed":
            self._count(place, job, outcome)
        elif not turn.is_away:
            turn.is_away, self._status = True, 2
            self._tell_of(job, "waiting", _tried_again(outcome.told), place, level="warning")

    def _advance(self, place: Place, job: Job, outcome: Outcome) -> None:
        is_posted = job.stage == "written" and place.name in self._wish.boards
        self._status = max(self._status, outcome.status)
        self._tell_of(job, "posted" if is_posted else "reviewed", outcome.told, place)
        to_post = place.name in self._wish.boards and not is_posted
        self._state.move(job, "written" if to_post else "done")

    def _count(self, place: Place, job: Job, outcome: Outcome) -> None:
        if self._state.count_try(job, outcome.told).tries < MOST_TRIES:
            return
        self._status = 2
        turn = self._turns[place]
        turn.failed_orders, turn.work_at = 0, self._clock.now()
        self._state.move(job, "failed", outcome.told)
        what = "posted" if job.stage == "written" else "reviewed"
        message = f"not {what} after {MOST_TRIES} tries: {outcome.told}"
        self._tell_of(job, "failed", message, place, level="error")

    # Log

    def _tell_of(
        self, job: Job, name: str, message: str, place: Place, *, level: Level = "info"
    ) -> None:
        self._tell(name, message, place, ref=job.ref, commit=job.commit, level=level)

    def _tell(
        self,
        name: str,
        message: str,
        place: Place | None = None,
        *,
        ref: str = "",
        commit: str = "",
        level: Level = "info",
    ) -> None:
        repository = "" if place is None else place.name
        self._say(
            Event(
                name=name,
                message=message,
                level=level,
                repository=repository,
                ref=ref,
                commit=commit,
            )
        )


def _tried_again(reason: str) -> str:
    return f"{reason.rstrip('.')}; it is tried again, less and less often"
