"""Finished reviews of assets, found again by what they were made of."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import AbstractContextManager, nullcontext
from pathlib import PurePosixPath

import numpy as np

from reviewbot.cache.disk import Cache
from reviewbot.cache.entry import Table
from reviewbot.cache.keys import request_key, result_key
from reviewbot.cache.questions import asked_before, note_asked
from reviewbot.cache.reading import Reading, asked_again, reading_of
from reviewbot.errors import MeshReadError
from reviewbot.history.parcels import Question
from reviewbot.history.sources import OpenedFile, Opener, Source
from reviewbot.jobs import PICTURE_FOLDER, AssetJob, AssetReview
from reviewbot.render.colours import Image
from reviewbot.report.report import AssetEntry


def find_review(cache: Cache, job: AssetJob, open_source: Opener) -> AssetReview | None:
    """The job's review, if it was kept. None too where a version's bytes cannot be had."""
    try:
        with _opened(job.before, open_source) as before, _opened(job.after, open_source) as after:
            return _found(cache, job, before, after)
    except MeshReadError:
        return None


def _opened(
    source: Source | None, open_source: Opener
) -> AbstractContextManager[OpenedFile | None]:
    return nullcontext() if source is None else open_source(source)


def _found(
    cache: Cache, job: AssetJob, before: OpenedFile | None, after: OpenedFile | None
) -> AssetReview | None:
    plain = _plain(job.before, before), _plain(job.after, after)
    request = request_key(job, *plain)
    for asked in asked_before(cache, request, versions=2):
        old, new = map(_again, plain, (before, after), asked)
        key = result_key(request, old, new)
        kept = cache.get(key)
        if kept is not None:
            review = _unpacked(*kept)
            if review is not None:
                return review
            cache.drop(key, "is not understood")
    return None


def _plain(source: Source | None, file: OpenedFile | None) -> Reading | None:
    return None if source is None or file is None else reading_of(source, file)


def _again(
    plain: Reading | None, file: OpenedFile | None, questions: Sequence[Question]
) -> Reading | None:
    return None if plain is None or file is None else asked_again(plain, file, questions)


def keep_review(
    cache: Cache,
    job: AssetJob,
    review: AssetReview,
    *,
    before: Reading | None,
    after: Reading | None,
) -> None:
    """Keep what came of a job, by what was read for it; not what another try may change."""
    was_read = (job.before is None or before is not None) and (
        job.after is None or after is not None
    )
    if not review.is_lasting or not was_read:
        return
    request = request_key(job, before, after)
    cache.put(result_key(request, before, after), *_packed(review))
    note_asked(cache, request, (_questions(before), _questions(after)))


def _questions(reading: Reading | None) -> tuple[Question, ...]:
    return () if reading is None else tuple(sorted(reading.answers))


def _packed(review: AssetReview) -> tuple[Table, list[bytes]]:
    cover = review.cover
    table = {
        "entry": review.entry.model_dump(),
        "pictures": list(review.pictures),
        "cover": None if cover is None else cover.shape,
    }
    blobs = list(review.pictures.values())
    return table, blobs if cover is None else [*blobs, cover.tobytes()]


def _unpacked(table: Table, blobs: list[bytes]) -> AssetReview | None:
    """None where it is no review: names of pictures that lead elsewhere are none."""
    try:
        names = [str(name) for name in table["pictures"]]
        shape = table["cover"]
        cover = None if shape is None else _image(shape, blobs.pop())
        if len(names) != len(blobs) or not all(map(_is_picture_name, names)):
            return None
        entry = AssetEntry.model_validate(table["entry"])
    except (KeyError, TypeError, ValueError, IndexError):
        return None
    return AssetReview(entry=entry, pictures=dict(zip(names, blobs, strict=True)), cover=cover)


def _image(shape: Sequence[int], data: bytes) -> Image:
    height, width, channels = shape
    return np.frombuffer(data, dtype=np.uint8).reshape(height, width, channels)


def _is_picture_name(name: str) -> bool:
    path = PurePosixPath(name)
    leads_out = ".." in path.parts or "\\" in name or "\0" in name
    return path.parts[:1] == (PICTURE_FOLDER,) and len(path.parts) > 1 and not leads_out
