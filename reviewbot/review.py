"""The pipeline, for one asset: bytes, models, measures, comparison, pictures, findings, entry."""

from __future__ import annotations

import hashlib
import re
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import PurePath

import numpy as np

from reviewbot.checks.acceptances import Told, accepted_by
from reviewbot.checks.finding import Finding
from reviewbot.checks.rules import MESH_RULES, PICTURE_RULES, run_rules
from reviewbot.checks.standing import with_standings
from reviewbot.checks.subject import Subject
from reviewbot.compare.change import Change
from reviewbot.compare.comparison import Comparison, compare
from reviewbot.cores import thread_count
from reviewbot.errors import MeshReadError
from reviewbot.intake import SIDES
from reviewbot.jobs import PICTURE_FOLDER, AssetJob, AssetReview, PictureWish
from reviewbot.measure.examine import Examination
from reviewbot.measure.surface import diagonal
from reviewbot.measuring import Measuring
from reviewbot.render.colours import Image
from reviewbot.render.differences import ViewDifference
from reviewbot.render.picture import Picture
from reviewbot.report.assemble import AssetFacts, Judged, asset_entry, unreadable_entry
from reviewbot.report.pictured import (
    PictureSettings,
    Scenes,
    begin_scenes,
    compared_views,
    draw_asset,
)
from reviewbot.report.solid import SOLID_SUFFIX, Solid

__all__ = ["PICTURE_FOLDER", "AssetJob", "AssetReview", "PictureWish", "review_asset"]


def review_asset(measuring: Measuring) -> AssetReview:
    """Look at one asset as a careful lead would. An unreadable file is an entry, not an error."""
    job = measuring.job
    old, new = (measuring.measured(side) for side in SIDES)
    is_lasting = measuring.is_lasting
    if isinstance(new, MeshReadError):
        was_unreadable = isinstance(old, MeshReadError)
        entry = unreadable_entry(job.path, _before_path(job), new, was_unreadable=was_unreadable)
        return AssetReview(entry=entry, pictures={}, is_lasting=is_lasting)
    before, after = None if isinstance(old, MeshReadError) else old, new
    comparison = None
    with ThreadPoolExecutor(thread_count()) as pool:
        scenes = begin_scenes(before, after, pool) if job.pictures != "none" else None
        if before is not None and after is not None:
            comparison = compare(before, after, job.settings)
        found = _findings(job, before, after, comparison)
    seen = _seen(job, before, after, comparison, found, scenes=scenes)
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
    *,
    scenes: Scenes | None,
) -> _Seen:
    wish = PictureSettings(
        path=job.path, settings=job.settings, renderer=job.renderer, detail=job.detail
    )
    if scenes is None or (before is None and after is None):
        return _Seen()
    if job.pictures == "all":
        drawn = draw_asset(before, after, comparison, found, wish, scenes=scenes)
        return _Seen(
            differences=drawn.album.differences,
            units_per_pixel=drawn.album.units_per_pixel,
            pictures=drawn.pictures,
            solids=drawn.solids,
            cover=drawn.album.cover,
        )
    if job.pictures == "figures" and before is not None and after is not None and comparison:
        views = compared_views(before, after, comparison, wish, scenes=scenes)
        return _Seen(differences=views.differences, units_per_pixel=views.units_per_pixel)
    return _Seen()


def _size(examination: Examination | None) -> float:
    return 0.0 if examination is None else float(np.nan_to_num(diagonal(examination.bounds)))


def _before_path(job: AssetJob) -> str | None:
    return None if job.before is None else job.before.path


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
