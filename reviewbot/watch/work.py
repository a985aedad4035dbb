"""What is done for one commit: reviewed into its folder, and posted from there.

Runs in a process of its own: a review that crashes, hangs or wants too much memory ends that
process and not the watcher. What comes back is plain, and never an exception.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from reviewbot.errors import HostAwayError, ReviewBotError, UsageError
from reviewbot.history.refs import request_number
from reviewbot.report.verdict import gate_status
from reviewbot.runs import Options, carry_out, plan_repository
from reviewbot.watch.posting import Board, post_kept
from reviewbot.watch.reports import is_written, read_kept, write_once


@dataclass(frozen=True, slots=True, kw_only=True)
class ReviewOrder:
    """A commit to review.

    repository  folder where git is asked
    base        as in `state.Job`
    folder      where the report goes
    """

    repository: Path
    commit: str
    base: str | None
    folder: Path
    options: Options


@dataclass(frozen=True, slots=True, kw_only=True)
class PostOrder:
    """A report to post."""

    folder: Path
    board: Board
    ref: str
    commit: str
    token: str


Order = ReviewOrder | PostOrder


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What came of an order.

    result  "done"; "failed", which another try may or may not change; "away": what is needed is
            not there at the moment, and will be again
    told    one plain sentence: the review's summary, or what went wrong
    status  0 or 1, by the gate
    """

    result: Literal["done", "failed", "away"]
    told: str = ""
    status: int = 0


def carry_out_order(order: Order) -> Outcome:
    """Does what is ordered; doing it again after it was cut off does nothing twice."""
    try:
        return _review(order) if isinstance(order, ReviewOrder) else _post(order)
    except HostAwayError as error:
        return Outcome(result="away", told=str(error))
    except ReviewBotError as error:
        return Outcome(result="failed", told=str(error))
    except Exception as error:  # a fault of this tool costs one commit its review, not the others
        return Outcome(result="failed", told=f"{type(error).__name__}: {error}")


def _review(order: ReviewOrder) -> Outcome:
    if not is_written(order.folder):
        plan = plan_repository(order.repository, order.base, order.commit, order.options)
        (reviewed,) = carry_out([plan], order.options)
        try:
            write_once(reviewed.report, reviewed.pictures, order.folder)
        except UsageError as error:
            return Outcome(result="away", told=str(error))  # a full disk, most likely
    report = read_kept(order.folder).report
    return Outcome(result="done", told=report.summary, status=gate_status(report))


def _post(order: PostOrder) -> Outcome:
    post_kept(
        read_kept(order.folder), order.board, ref=order.ref, commit=order.commit, token=order.token
    )
    number = request_number(order.ref)
    where = "as a verdict beside the commit" if number is None else f"on request {number}"
    return Outcome(result="done", told=f"{where}, {order.board.repository}")
