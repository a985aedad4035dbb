"""What is new since the last look: the commits to review, in order, and what is worth saying."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fnmatch import fnmatchcase
from typing import Literal

from reviewbot.history.git import History, resolve
from reviewbot.history.refs import BRANCHES, Refs, is_ancestor, new_commits, request_number
from reviewbot.watch.state import Kind, NewJob, Position

EVERYTHING = "all"


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """What is to be watched.

    branches       shell patterns on branches' short names
    with_requests  pull and merge requests as well
    since          where the first look begins: None at what is there, "all", or a revision
    """

    branches: tuple[str, ...] = ("*",)
    with_requests: bool = False
    since: str | None = None

    def has_branch(self, ref: str) -> bool:
        short = ref.removeprefix(BRANCHES)
        return ref.startswith(BRANCHES) and any(fnmatchcase(short, p) for p in self.branches)

    def has(self, ref: str) -> bool:
        is_request = request_number(ref) is not None
        return self.with_requests if is_request else self.has_branch(ref)

    def kinds(self) -> frozenset[Kind]:
        return frozenset(("branches", "requests") if self.with_requests else ("branches",))


@dataclass(frozen=True, slots=True, kw_only=True)
class Remark:
    """Something about a reference that is no ordinary new commit."""

    event: Literal["rewritten", "gone", "back"]
    ref: str
    commit: str

    @property
    def message(self) -> str:
        return _MESSAGES[self.event]


_MESSAGES = {
    "rewritten": "its history was rewritten; the commits that are new on it are reviewed",
    "gone": "it was deleted; what was found on it before is reviewed all the same",
    "back": "it is there again",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class News:
    """What a look has brought.

    kinds      what was looked at for the first time is among them
    positions  of the references that moved, came or went
    """

    kinds: frozenset[Kind]
    positions: Mapping[str, Position]
    on_branches: tuple[NewJob, ...]
    on_requests: tuple[NewJob, ...]
    remarks: tuple[Remark, ...]


def find_news(
    history: History,
    refs: Refs,
    known: Mapping[str, Position],
    looked_at: Iterable[str],
    choice: Choice,
) -> News:
    """Compares a look with what is known.

    known      where references stood, those that are gone too
    looked_at  the kinds of references that were looked at before; of others, only what `choice`
               says is taken as new

    Raises RevisionError where the repository lacks a commit, or knows no revision `choice.since`.
    """
    moved = {
        ref: tip
        for ref, tip in sorted(refs.tips.items(), key=lambda item: _order(item[0], refs.default))
        if ref not in known or known[ref].commit != tip
    }
    gone = {
        ref: Position(commit=position.commit, is_gone=True)
        for ref, position in known.items()
        if ref not in refs.tips and not position.is_gone and choice.has(ref)
    }
    back = {ref for ref in refs.tips if ref in known and known[ref].is_gone and choice.has(ref)}
    start = _first_known(history, refs, looked_at, choice)
    here = {ref: Position(commit=refs.tips[ref], is_gone=False) for ref in (*moved, *back)}
    return News(
        kinds=choice.kinds(),
        positions=here | gone,
        on_branches=_on_branches(history, moved, known, start, choice),
        on_requests=_on_requests(history, moved, known, start, refs),
        remarks=(
            *_rewritten(history, moved, known, choice),
            *(Remark(event="gone", ref=ref, commit=p.commit) for ref, p in gone.items()),
            *(Remark(event="back", ref=ref, commit=refs.tips[ref]) for ref in sorted(back)),
        ),
    )


def _order(ref: str, default: str | None) -> tuple[bool, int, str]:
    """The default branch first, then the others by name, requests by number."""
    return (ref != default, request_number(ref) or 0, ref)


def _first_known(
    history: History, refs: Refs, looked_at: Iterable[str], choice: Choice
) -> dict[Kind, tuple[str, ...] | None]:
    """For what was never looked at: what counts as known, or None for all that is there."""
    first = choice.kinds() - set(looked_at)
    if not first or choice.since is None:
        return dict.fromkeys(first)
    if choice.since == EVERYTHING or not refs.tips:
        return dict.fromkeys(first, ())
    return {kind: (resolve(history, choice.since),) for kind in first}


def _on_branches(
    history: History,
    moved: Mapping[str, str],
    known: Mapping[str, Position],
    start: Mapping[Kind, tuple[str, ...] | None],
    choice: Choice,
) -> tuple[NewJob, ...]:
    """The commits that are new on watched branches, each once, parents before children."""
    first = start.get("branches", ())
    if first is None:
        return ()
    seen = [*first, *(p.commit for ref, p in known.items() if choice.has_branch(ref))]
    jobs = []
    for ref, tip in moved.items():
        if choice.has_branch(ref):
            jobs += [
                NewJob(ref=ref, commit=commit, base=None)
                for commit in new_commits(history, tip, seen)
            ]
            seen.append(tip)
    return tuple(jobs)


def _on_requests(
    history: History,
    moved: Mapping[str, str],
    known: Mapping[str, Position],
    start: Mapping[Kind, tuple[str, ...] | None],
    refs: Refs,
) -> tuple[NewJob, ...]:
    """What is new on each request beyond the default branch, to be compared with that.

    A request's own commits never say what it is compared with, or judged by.
    """
    first = start.get("requests", ())
    if first is None:
        return ()
    base = refs.tips.get(refs.default or "")
    jobs = []
    for ref, tip in moved.items():
        if request_number(ref) is not None:
            before = [known[ref].commit] if ref in known else []
            seen = [*first, *before, *([base] if base else [])]
            jobs += [
                NewJob(ref=ref, commit=commit, base=base)
                for commit in new_commits(history, tip, seen)
            ]
    return tuple(jobs)


def _rewritten(
    history: History,
    moved: Mapping[str, str],
    known: Mapping[str, Position],
    choice: Choice,
) -> list[Remark]:
    return [
        Remark(event="rewritten", ref=ref, commit=tip)
        for ref, tip in moved.items()
        if ref in known and choice.has(ref) and not is_ancestor(history, known[ref].commit, tip)
    ]
