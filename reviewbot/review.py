"""The pipeline, for one asset: bytes, models, measures, comparison, pictures, findings, entry."""

from __future__ import annotations

import atexit
import hashlib
import re
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import cache, partial
from pathlib import PurePath, PurePosixPath
from typing import Literal, TypeVar

import numpy as np

from reviewbot.cache.reading import Notebook
from reviewbot.cache.versions import KeptVersions
from reviewbot.checks.acceptances import Told, accepted_by
from reviewbot.checks.finding import Finding
from reviewbot.checks.rules import MESH_RULES, PICTURE_RULES, run_rules
from reviewbot.checks.standing import with_standings
from reviewbot.checks.subject import Subject
from reviewbot.compare.change import Change
from reviewbot.compare.comparison import Comparison, compare
from reviewbot.errors import MeshReadError
from reviewbot.history.sources import OpenedFile, Source, opened
from reviewbot.jobs import PICTURE_FOLDER, AssetJob, AssetReview, PictureWish
from reviewbot.measure.examine import Examination, examine
from reviewbot.measure.names import partner_file
from reviewbot.measure.pairing import Partner
from reviewbot.measure.surface import diagonal
from reviewbot.readers.isolation import IsolatedReader
from reviewbot.readers.textures import textures_of
from reviewbot.render.colours import Image
from reviewbot.render.differences import ViewDifference
from reviewbot.render.picture import Picture
from reviewbot.report.assemble import AssetFacts, Judged, asset_entry, unreadable_entry
from reviewbot.report.pictured import PictureSettings, compared_views, draw_asset
from reviewbot.report.solid import SOLID_SUFFIX, Solid
from reviewbot.settings import NameSettings, settings_at

__all__ = ["PICTURE_FOLDER", "AssetJob", "AssetReview", "PictureWish", "review_asset"]

T = TypeVar("T")
U = TypeVar("U")
Side = Literal["before", "after"]


def review_asset(
    job: AssetJob, notes: Notebook | None = None, kept: KeptVersions | None = None
) -> AssetReview:
    """Look at one asset as a careful lead would. An unreadable file is an entry, not an error.

    notes  opens the versions and writes down what is read of them
    kept   versions that were measured before
    """
    unanswered = _unanswered(job)
    measured = partial(_examined, job=job, notes=notes or Notebook(opened), kept=kept)
    old, new = _both(measured, job.before, job.after)
    is_lasting = _unanswered(job) == unanswered
    if isinstance(new, MeshReadError):
        was_unreadable = isinstance(old, MeshReadError)
        entry = unreadable_entry(job.path, _before_path(job), new, was_unreadable=was_unreadable)
        return AssetReview(entry=entry, pictures={}, is_lasting=is_lasting)
    before, after = None if isinstance(old, MeshReadError) else old, new
    comparison = None
    if before is not None and after is not None:
        comparison = compare(before, after, job.settings)
    found = _findings(job, before, after, comparison)
    seen = _seen(job, before, after, comparison, found)
    if after is not None:
        found += run_rules(_subject(job, after, views=seen.differences), PICTURE_RULES)
    files = {
        picture_file(job.path, picture.name, picture.suffix): picture for picture in seen.pictures
    }
    solids = {picture_file(job.path, one.version, SOLID_SUFFIX): one for one in seen.solids}
    facts = AssetFacts(
        path=job.path,
        before_path=_before_path(job),
        before=before,
        after=after,
        mended=old if isinstance(old, MeshReadError) else None,
        comparison=comparison,
        changes=tuple(_judged(c, job) for c in (comparison.changes if comparison else ())),
        findings=tuple(_judged(finding, job) for finding in found),
        differences=seen.differences,
        units_per_pixel=seen.units_per_pixel,
        size=_size(after or before),
        pictures=tuple(files.items()),
        solids=tuple((name if one.data else None, one) for name, one in solids.items()),
    )
    data = {name: picture.data for name, picture in files.items()}
    data |= {name: one.data for name, one in solids.items() if one.data}
    return AssetReview(
        entry=asset_entry(facts), pictures=data, cover=seen.cover, is_lasting=is_lasting
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Seen:
    """What the cameras add; nothing where no pictures are wanted."""

    differences: tuple[ViewDifference, ...] = ()
    units_per_pixel: float = 0.0
    pictures: tuple[Picture, ...] = ()
    solids: tuple[Solid, ...] = ()
    cover: Image | None = None


def _seen(
    job: AssetJob,
    before: Examination | None,
    after: Examination | None,
    comparison: Comparison | None,
    found: tuple[Finding, ...],
) -> _Seen:
    wish = PictureSettings(
        path=job.path, settings=job.settings, renderer=job.renderer, detail=job.detail
    )
    if before is None and after is None:
        return _Seen()
    if job.pictures == "all":
        drawn = draw_asset(before, after, comparison, found, wish)
        return _Seen(
            differences=drawn.album.differences,
            units_per_pixel=drawn.album.units_per_pixel,
            pictures=drawn.pictures,
            solids=drawn.solids,
            cover=drawn.album.cover,
        )
    if job.pictures == "figures" and before is not None and after is not None and comparison:
        views = compared_views(before, after, comparison, wish)
        return _Seen(differences=views.differences, units_per_pixel=views.units_per_pixel)
    return _Seen()


def _size(examination: Examination | None) -> float:
    return 0.0 if examination is None else float(np.nan_to_num(diagonal(examination.bounds)))


def _before_path(job: AssetJob) -> str | None:
    return None if job.before is None else job.before.path


def _examined(
    source: Source, side: Side, *, job: AssetJob, notes: Notebook, kept: KeptVersions | None
) -> Examination | MeshReadError:
    """A version's measures, kept or new, or why it cannot be read."""
    limits = job.settings.files
    reader = _reader(side, limits.memory_mb, limits.seconds)
    unanswered = reader.unanswered
    try:
        with notes.opened(source) as file:
            found = None if kept is None else kept.find(job, source, file)
            if found is not None:
                return found
            measure = _read(source, file, reader, job)
    except MeshReadError as error:
        return error
    examination = measure()
    reading = notes.reading(source)
    if kept is not None and reading is not None and reader.unanswered == unanswered:
        kept.keep(job, reading, examination)
    return examination


def _read(
    source: Source, file: OpenedFile, reader: IsolatedReader, job: AssetJob
) -> Callable[[], Examination]:
    """Reads all that belongs to a version; what then measures it. Raises MeshReadError."""
    model = reader.read(file.data, path=source.path, siblings=file.siblings)
    textures = textures_of(
        model,
        file.pictures,
        place=file.place,
        decode=reader.picture if job.pictures == "all" else None,
    )
    partner = _partner(source.path, file, reader, job.settings.names)
    here = settings_at(source.path, job.settings)
    return partial(examine, model, here, partner=partner, textures=textures)


@cache
def _reader(side: Side, memory_mb: int, seconds: float) -> IsolatedReader:  # noqa: ARG001
    """One for each side, told apart by the cache alone, and kept: a child is slow to start."""
    reader = IsolatedReader(memory_mb=memory_mb, seconds=seconds)
    atexit.register(reader.close)
    return reader


def _unanswered(job: AssetJob) -> int:
    """How many questions the readers of both sides have got no answer to so far."""
    limits = job.settings.files
    sides: tuple[Side, ...] = ("before", "after")
    return sum(_reader(side, limits.memory_mb, limits.seconds).unanswered for side in sides)


def _partner(
    path: str, file: OpenedFile, reader: IsolatedReader, names: NameSettings
) -> Partner | None:
    """The file beside this one that holds the other kind of parts; None where none can be read.

    What is wrong with it is said where that file itself is reviewed.
    """
    found = partner_file(path, names)
    if found is None:
        return None
    other, kind = found
    data = file.siblings(PurePosixPath(other).name)
    if data is None:
        return None
    try:
        model = reader.read(data, path=other, siblings=file.siblings)
    except MeshReadError:
        return None
    return Partner(model=model, kind=kind)


def _both(
    work: Callable[[T, Side], U], before: T | None, after: T | None
) -> tuple[U | None, U | None]:
    """The same work on both versions, side by side where there are two."""
    if before is None or after is None:
        return (
            None if before is None else work(before, "before"),
            None if after is None else work(after, "after"),
        )
    with ThreadPoolExecutor(2) as pool:
        first, second = pool.submit(work, before, "before"), pool.submit(work, after, "after")
        return first.result(), second.result()


def _findings(
    job: AssetJob,
    before: Examination | None,
    after: Examination | None,
    comparison: Comparison | None,
) -> tuple[Finding, ...]:
    """Findings of the version after, and how they stand against those of the version before."""
    if after is None:
        return ()
    changes = comparison.changes if comparison else ()
    found = run_rules(_subject(job, after, before=before, changes=changes), MESH_RULES)
    if before is None or comparison is None:
        return found
    earlier = run_rules(_subject(job, before), MESH_RULES)
    return with_standings(earlier, found, before, after, comparison)


def _subject(
    job: AssetJob,
    examination: Examination,
    *,
    before: Examination | None = None,
    changes: tuple[Change, ...] = (),
    views: tuple[ViewDifference, ...] = (),
) -> Subject:
    return Subject(
        path=job.path,
        examination=examination,
        settings=job.settings,
        before=before,
        changes=changes,
        views=views,
    )


def _judged(what: Finding | Change, job: AssetJob) -> Judged:
    told = Told(code=what.code, path=job.path, part=what.part)
    acceptance = accepted_by(told, job.acceptances, job.today)
    if acceptance is None:
        return Judged(what=what, accepted=None)
    return Judged(what=what, accepted=f"{acceptance.why} ({acceptance.who})")


def picture_file(path: str, title: str, suffix: str) -> str:
    """A plain file name that no two assets share, whatever the asset's path holds."""
    stem = re.sub(r"[^A-Za-z0-9]+", "-", PurePath(path).stem).strip("-")[:40].lower()
    mark = hashlib.sha256(path.encode("utf-8", "surrogatepass")).hexdigest()[:8]
    name = re.sub(r"[^A-Za-z0-9]+", "-", title).strip("-").lower()
    return f"{PICTURE_FOLDER}/{stem}-{mark}/{name}{suffix}"
