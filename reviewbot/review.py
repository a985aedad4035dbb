"""The pipeline, for one asset: bytes, models, measures, comparison, pictures, findings, entry."""

from __future__ import annotations

import datetime
import hashlib
import re
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import partial
from pathlib import PurePath
from typing import Literal, TypeVar

import numpy as np

from reviewbot.checks.acceptances import Acceptance, Told, accepted_by
from reviewbot.checks.finding import Finding
from reviewbot.checks.rules import run_rules
from reviewbot.checks.standing import with_standings
from reviewbot.checks.subject import Subject
from reviewbot.compare.change import Change
from reviewbot.compare.comparison import Comparison, compare
from reviewbot.errors import MeshReadError
from reviewbot.history.sources import Source, opened
from reviewbot.measure.examine import Examination, examine
from reviewbot.measure.surface import diagonal
from reviewbot.mesh import Model
from reviewbot.readers.isolation import IsolatedReader
from reviewbot.render.backends import RendererName
from reviewbot.render.differences import ViewDifference
from reviewbot.render.picture import Picture
from reviewbot.report.assemble import AssetFacts, Judged, asset_entry, unreadable_entry
from reviewbot.report.gallery import asset_pictures
from reviewbot.report.report import AssetEntry
from reviewbot.report.shots import take_shots
from reviewbot.report.stage import staged
from reviewbot.settings import FileSettings, Settings

T = TypeVar("T")
U = TypeVar("U")
PictureWish = Literal["none", "figures", "all"]
PICTURE_FOLDER = "pictures"


@dataclass(frozen=True, slots=True, kw_only=True)
class AssetJob:
    """One asset to review; plain enough to be sent to another process.

    path           for reading
    before, after  None where there is no such version; not both
    pictures       "figures" compares the views and keeps no picture
    today          the day acceptances are judged by
    """

    path: str
    before: Source | None
    after: Source | None
    settings: Settings
    pictures: PictureWish
    renderer: RendererName
    acceptances: tuple[Acceptance, ...]
    today: datetime.date


@dataclass(frozen=True, slots=True, kw_only=True)
class AssetReview:
    """What came of a job. `pictures` are files' bytes, by name relative to the report."""

    entry: AssetEntry
    pictures: dict[str, bytes]


@dataclass(frozen=True, slots=True, kw_only=True)
class Pictured:
    """What a camera adds: picture differences, the scale they were taken at, and pictures."""

    differences: tuple[ViewDifference, ...] = ()
    units_per_pixel: float = 0.0
    findings: tuple[Finding, ...] = ()
    pictures: tuple[Picture, ...] = ()


def review_asset(job: AssetJob) -> AssetReview:
    """Look at one asset as a careful lead would. An unreadable file is an entry, not an error."""
    try:
        before, after = _both(partial(_examined, settings=job.settings), job.before, job.after)
    except MeshReadError as error:
        return AssetReview(entry=unreadable_entry(job.path, _before_path(job), error), pictures={})
    comparison = None
    if before is not None and after is not None:
        comparison = compare(before, after, job.settings)
    pictured = _pictured(job, before, after, comparison)
    files = [(_file_name(job.path, picture), picture) for picture in pictured.pictures]
    shown = after if after is not None else before
    facts = AssetFacts(
        path=job.path,
        before_path=_before_path(job),
        before=before,
        after=after,
        comparison=comparison,
        changes=tuple(_judged(c, job) for c in (comparison.changes if comparison else ())),
        findings=tuple(_judged(finding, job) for finding in pictured.findings),
        differences=pictured.differences,
        units_per_pixel=pictured.units_per_pixel,
        size=0.0 if shown is None else float(np.nan_to_num(diagonal(shown.bounds))),
        pictures=tuple(files),
    )
    return AssetReview(
        entry=asset_entry(facts), pictures={name: picture.data for name, picture in files}
    )


def _before_path(job: AssetJob) -> str | None:
    return None if job.before is None else job.before.path


def _examined(source: Source, *, settings: Settings) -> Examination:
    return examine(_read(source, settings.files), settings)


def _read(source: Source, limits: FileSettings) -> Model:
    reader = IsolatedReader(memory_mb=limits.memory_mb, seconds=limits.seconds)
    with opened(source) as file, reader:
        return reader.read(file.data, path=source.path, siblings=file.siblings)


def _both(work: Callable[[T], U], before: T | None, after: T | None) -> tuple[U | None, U | None]:
    """The same work on both versions, side by side where there are two."""
    if before is None or after is None:
        return (
            None if before is None else work(before),
            None if after is None else work(after),
        )
    with ThreadPoolExecutor(2) as pool:
        first, second = pool.submit(work, before), pool.submit(work, after)
        return first.result(), second.result()


def _pictured(
    job: AssetJob,
    before: Examination | None,
    after: Examination | None,
    comparison: Comparison | None,
) -> Pictured:
    """Findings, with the pictures that were asked for; both need the same stage."""
    if job.pictures == "none":
        return Pictured(findings=_findings(job, before, after, comparison, ()))
    undo = np.eye(4) if comparison is None else comparison.undo
    with staged(before, after, undo=undo, settings=job.settings, renderer=job.renderer) as stage:
        texture = job.settings.texture.size
        shots = take_shots(
            stage,
            comparison.matches if comparison else (),
            texture_size=texture,
            with_maps=job.pictures == "all",
        )
        findings = _findings(job, before, after, comparison, shots.differences)
        pictures: list[Picture] = []
        if job.pictures == "all":
            name = PurePath(job.path).name
            pictures = asset_pictures(stage, shots, name=name, texture_size=texture)
        return Pictured(
            differences=shots.differences,
            units_per_pixel=stage.frame.span / stage.size,
            findings=findings,
            pictures=tuple(pictures),
        )


def _findings(
    job: AssetJob,
    before: Examination | None,
    after: Examination | None,
    comparison: Comparison | None,
    differences: tuple[ViewDifference, ...],
) -> tuple[Finding, ...]:
    """Findings of the version after, and how they stand against those of the version before."""
    if after is None:
        return ()
    subject = Subject(
        path=job.path,
        examination=after,
        settings=job.settings,
        before=before,
        changes=comparison.changes if comparison else (),
        views=differences,
    )
    found = run_rules(subject)
    if before is None or comparison is None:
        return found
    old = run_rules(Subject(path=job.path, examination=before, settings=job.settings))
    return with_standings(old, found, before, after, comparison)


def _judged(what: Finding | Change, job: AssetJob) -> Judged:
    told = Told(code=what.code, path=job.path, part=what.part)
    acceptance = accepted_by(told, job.acceptances, job.today)
    if acceptance is None:
        return Judged(what=what, accepted=None)
    return Judged(what=what, accepted=f"{acceptance.why} ({acceptance.who})")


def _file_name(path: str, picture: Picture) -> str:
    """A plain file name that no two assets share, whatever the asset's path holds."""
    stem = re.sub(r"[^A-Za-z0-9]+", "-", PurePath(path).stem).strip("-")[:40].lower()
    mark = hashlib.sha256(path.encode("utf-8", "surrogatepass")).hexdigest()[:8]
    name = re.sub(r"[^A-Za-z0-9]+", "-", picture.name).strip("-").lower()
    return f"{PICTURE_FOLDER}/{stem}-{mark}/{name}{picture.suffix}"
