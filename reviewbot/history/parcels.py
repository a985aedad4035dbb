"""A version whose bytes travel with it, to a machine that has no repository.

What a file asks for beside it is known only once it was read: it is first read without, what it
asked for is packed too, and it is read again.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Literal

from reviewbot.errors import MeshReadError
from reviewbot.history.sources import OpenedFile, Opener, Siblings, Source, digest_later

Kind = Literal["sibling", "picture"]
Question = tuple[Kind, str]
"""One of `OpenedFile`'s two ways to other files, and the name asked for."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Refusal:
    """There is something, and it cannot be had."""

    reason: str


Answer = bytes | Refusal | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Parcel:
    """What one source gives, as far as it was asked. data  a Refusal where it has no bytes"""

    data: bytes | Refusal
    place: str = ""
    answers: Mapping[Question, Answer] = field(default_factory=dict)


class UnansweredError(Exception):
    """A version asked for what did not travel with it."""


def answer(file: OpenedFile, question: Question) -> Answer:
    """What a version gives to a question."""
    kind, name = question
    try:
        return (file.siblings if kind == "sibling" else file.pictures)(name)
    except MeshReadError as error:
        return Refusal(reason=error.reason)


def pack(source: Source, open_source: Opener, questions: frozenset[Question]) -> Parcel:
    """A source's bytes, and its answers to questions."""
    try:
        with open_source(source) as file:
            answers = {one: answer(file, one) for one in questions}
            return Parcel(data=file.data, place=file.place, answers=answers)
    except MeshReadError as error:
        return Parcel(data=Refusal(reason=error.reason))


class Unpacked:
    """Opens sources from their parcels; may be shared between threads.

    `unanswered` holds, by source, what was asked for in vain.
    """

    def __init__(self, parcels: Mapping[Source, Parcel]) -> None:
        self._parcels = parcels
        self.unanswered: dict[Source, set[Question]] = {source: set() for source in parcels}

    @contextmanager
    def opened(self, source: Source) -> Iterator[OpenedFile]:
        """As `sources.opened`. Raises UnansweredError at the end where something was missing."""
        parcel, missed = self._parcels[source], self.unanswered[source]
        if isinstance(parcel.data, Refusal):
            raise MeshReadError(path=source.path, line=None, reason=parcel.data.reason)
        try:
            yield OpenedFile(
                data=parcel.data,
                digest=digest_later(parcel.data),
                siblings=_asked("sibling", source, parcel, missed),
                pictures=_asked("picture", source, parcel, missed),
                place=parcel.place,
            )
        finally:
            if missed:  # whatever came of the reading, it was misled
                raise UnansweredError


def _asked(kind: Kind, source: Source, parcel: Parcel, missed: set[Question]) -> Siblings:
    def ask(name: str) -> bytes | None:
        if (kind, name) not in parcel.answers:
            missed.add((kind, name))
            return None
        found = parcel.answers[kind, name]
        if isinstance(found, Refusal):
            raise MeshReadError(path=source.path, line=None, reason=found.reason)
        return found

    return ask
