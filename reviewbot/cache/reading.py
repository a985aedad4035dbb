"""What a review read of one version: the file itself, and what it asked for beside it.

A review is the same wherever all of that is the same, so this is what it is kept by. What a file
asks for is known only once it was read; the names are kept, and looked up again the next time.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace

from reviewbot.errors import MeshReadError
from reviewbot.history.parcels import Answer, Kind, Question, Refusal, answer
from reviewbot.history.sources import OpenedFile, Opener, Siblings, Source

NOTHING = ""  # the digest of a file that is not there


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One version as it was read.

    place    in words, since messages say it
    digest   of the file's own bytes
    answers  digests by question
    """

    path: str
    place: str
    digest: str
    answers: dict[Question, str] = field(default_factory=dict)


def asked_again(reading: Reading, file: OpenedFile, questions: Iterable[Question]) -> Reading:
    """A version with the answers that it gives to known questions."""
    return replace(reading, answers={one: _digest(answer(file, one)) for one in questions})


def reading_of(source: Source, file: OpenedFile) -> Reading:
    """A version of which nothing was asked yet."""
    return Reading(path=source.path, place=file.place, digest=file.digest())


def digest(data: bytes) -> str:
    """SHA-256, in hexadecimal."""
    return hashlib.sha256(data).hexdigest()


class Notebook:
    """Opens sources and writes down all that is read of them; may be shared between threads."""

    def __init__(self, open_source: Opener) -> None:
        self._open = open_source
        self._readings: dict[Source, Reading] = {}

    @contextmanager
    def opened(self, source: Source) -> Iterator[OpenedFile]:
        """As the opener it was given."""
        with self._open(source) as file:
            reading = reading_of(source, file)
            self._readings[source] = reading
            yield replace(
                file,
                siblings=_noted("sibling", file.siblings, reading),
                pictures=_noted("picture", file.pictures, reading),
            )

    def reading(self, source: Source | None) -> Reading | None:
        """What was read of a source; None where it was not opened, or could not be."""
        return None if source is None else self._readings.get(source)


def _noted(kind: Kind, ask: Siblings, reading: Reading) -> Siblings:
    def asked(name: str) -> bytes | None:
        try:
            data = ask(name)
        except MeshReadError as error:
            reading.answers[kind, name] = _digest(Refusal(reason=error.reason))
            raise
        reading.answers[kind, name] = _digest(data)
        return data

    return asked


def _digest(given: Answer) -> str:
    if isinstance(given, Refusal):
        return f"refused: {given.reason}"
    return NOTHING if given is None else digest(given)
