"""What to review, in how many processes, gathered into one Report."""

from __future__ import annotations

import datetime
import sys
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass, replace
from functools import partial
from itertools import islice
from pathlib import Path
from typing import Literal, TypeVar, get_args

from reviewbot import __version__
from reviewbot.cache.contact import kept_contact_picture
from reviewbot.cache.disk import Cache, Place
from reviewbot.checks.acceptances import ACCEPTANCES_FILE, Acceptance, parse_acceptances
from reviewbot.cluster import cluster_crew
from reviewbot.cores import core_count
from reviewbot.errors import UsageError
from reviewbot.history.changes import ChangedFile, ChangeSet
from reviewbot.history.git import History, changed_files, file_at, open_history, resolve
from reviewbot.history.sources import DiskSource, GitSource, Source
from reviewbot.jobs import PICTURE_FOLDER, AssetJob, AssetReview, PictureWish
from reviewbot.making import make_contact_picture, make_review, make_review_in_pool
from reviewbot.publish.shelf import ImageShelf, Shelf
from reviewbot.readers.known import is_mesh_path
from reviewbot.render.backends import RendererName
from reviewbot.render.colours import Image
from reviewbot.render.picture import Picture
from reviewbot.report.picture_entries import picture_entry
from reviewbot.report.report import AssetEntry, PictureEntry, Report
from reviewbot.report.verdict import acceptance_remarks, gate_status, report_summary, report_verdict
from reviewbot.reviews import kept_or_made
from reviewbot.settings import SETTINGS_FILE, Settings, matches, parse_settings, read_settings
from reviewbot.spread import Crew, Task, local_crew, memory_budget_mb, results
from reviewbot.waiting import with_progress

J = TypeVar("J")
R = TypeVar("R")
MOST_IN_FULL = 12  # assets of one report; more are each pictured in fewer, smaller views


@dataclass(frozen=True, slots=True, kw_only=True)
class Options:
    """What a command was asked for, beside what to look at.

    settings_file  overrides the repository's own
    workers        processes; None for as many as there are cores
    memory_mb      for all processes together; None for most of what is free
    cluster        address of a scheduler whose workers make the reviews; None to make them here
    cache          where finished reviews are kept; None to look at everything anew
    """

    settings_file: Path | None = None
    pictures: PictureWish = "all"
    workers: int | None = None
    renderer: RendererName = "auto"
    show_progress: bool = False
    memory_mb: int | None = None
    cluster: str | None = None
    cache: Place | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Reviewed:
    """A finished review.

    pictures  bytes by file name, relative to the report's folder
    status    0 or 1, by the gate
    """

    report: Report
    pictures: Mapping[str, bytes]
    status: int


def renderer_named(name: str) -> RendererName:
    """A back end by its name. Raises UsageError for another name."""
    names: tuple[RendererName, ...] = get_args(RendererName)
    for known in names:
        if name == known:
            return known
    raise UsageError(f"--renderer {name}: give {', '.join(names)}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Law:
    """What versions are judged by."""

    settings: Settings
    acceptances: tuple[Acceptance, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """One report to be made: its assets, and what it says of itself."""

    title: str
    law: Law
    jobs: tuple[AssetJob, ...]
    base: str | None = None
    head: str | None = None


def plan_two_files(before: Path, after: Path, options: Options) -> Plan:
    """Compare two files on the disk. Raises UsageError where one is missing or no mesh format."""
    for path in (before, after):
        if not path.is_file():
            raise UsageError(f"{path}: no such file")
        _require_mesh(path)
    law = _disk_law(options)
    job = asset_job(str(after), _on_disk(before), _on_disk(after), law, options)
    return Plan(title=f"{before.name} and {after.name}", law=law, jobs=(job,))


def plan_paths(paths: Sequence[Path], options: Options) -> Plan:
    """Measure files, or all meshes in folders, as they stand."""
    law = _disk_law(options)
    files = _mesh_files(paths, law.settings)
    jobs = tuple(asset_job(str(file), None, _on_disk(file), law, options) for file in files)
    noun = "file" if len(jobs) == 1 else "files"
    return Plan(title=f"{len(jobs)} {noun} as they stand", law=law, jobs=jobs)


def plan_repository(repo: Path, base: str | None, head: str, options: Options) -> Plan:
    """Review the mesh files changed between two commits, judged by the settings of the first.

    That is `base` itself and not where head left it: who changes something chooses that point, and
    could choose one of laxer days.
    """
    with open_history(repo) as history:
        changes = changed_files(history, base, head, is_mesh_path)
        before = changes.base_commit or changes.head_commit
        law_commit = before if base is None else resolve(history, base)
        law = repository_law(history, law_commit, options)
    since = changes.base_commit[:10] if changes.base_commit else "nothing before it"
    return Plan(
        title=f"{changes.head_commit[:10]} against {since}",
        law=law,
        jobs=tuple(
            asset_job(file.path, *_in_git(repo, changes, file), law, options)
            for file in changes.files
            if is_included(file.path, law.settings)
        ),
        base=changes.base_commit,
        head=changes.head_commit,
    )


def carry_out(plans: Sequence[Plan], options: Options) -> Iterator[Reviewed]:
    """Each plan's review, in order; the assets of all of them share the processes."""
    jobs = [job for plan in plans for job in _detailed(plan)]
    cache = _cache(options)
    found = _reviews(jobs, options, cache)
    reviews = with_progress(found, len(jobs), options.show_progress)
    for plan in plans:
        yield _reported(plan, islice(reviews, len(plan.jobs)), cache)


def _detailed(plan: Plan) -> list[AssetJob]:
    """The plan's jobs, pictured in brief where there are many."""
    detail: Literal["full", "brief"] = "brief" if _is_brief(plan) else "full"
    return [replace(job, detail=detail) for job in plan.jobs]


def _is_brief(plan: Plan) -> bool:
    return len(plan.jobs) > MOST_IN_FULL


def _brief_remarks(plan: Plan) -> tuple[str, ...]:
    pictured = any(job.pictures == "all" for job in plan.jobs)
    if not pictured or not _is_brief(plan):
        return ()
    return (f"More than {MOST_IN_FULL} assets: each is pictured in fewer and smaller views.",)


def _reported(plan: Plan, reviews: Iterable[AssetReview], cache: Cache | None) -> Reviewed:
    entries: list[AssetEntry] = []
    pictures = Shelf()
    with ImageShelf() as covers:
        for review in reviews:  # each let go once its pictures are put away
            entries.append(review.entry)
            covers.put(review.cover)
            for name, data in review.pictures.items():
                pictures.put(name, data)
        assets = tuple(entries)
        overview = _overview(assets, covers.images(), plan.title, cache)
    overall: tuple[PictureEntry, ...] = ()
    if overview is not None:
        name = f"{PICTURE_FOLDER}/{overview.name}{overview.suffix}"
        pictures.put(name, overview.data)
        overall = (picture_entry(name, overview),)
    report = Report(
        tool=f"reviewbot {__version__}",
        title=plan.title,
        base=plan.base,
        head=plan.head,
        verdict=report_verdict(assets),
        summary=report_summary(assets),
        fail_on=plan.law.settings.gate.fail_on,
        assets=assets,
        pictures=overall,
        remarks=(
            *_brief_remarks(plan),
            *acceptance_remarks(plan.law.acceptances, assets, today()),
        ),
    )
    return Reviewed(report=report, pictures=pictures, status=gate_status(report))


def _overview(
    assets: Sequence[AssetEntry], covers: Sequence[Image | None], title: str, cache: Cache | None
) -> Picture | None:
    """The contact sheet; None for a single asset, or where none is pictured."""
    if len(assets) < 2 or all(cover is None for cover in covers):
        return None
    make = partial(make_contact_picture, assets, covers, title=title)
    if cache is None:
        return make()
    return kept_contact_picture(cache, assets, covers, title=title, make=make)


def asset_job(
    path: str, before: Source | None, after: Source | None, law: Law, options: Options
) -> AssetJob:
    return AssetJob(
        path=path,
        before=before,
        after=after,
        settings=law.settings,
        pictures=options.pictures,
        renderer=options.renderer,
        detail="full",
        acceptances=law.acceptances,
        today=today(),
    )


def today() -> datetime.date:
    return datetime.datetime.now(datetime.UTC).date()


def _on_disk(file: Path) -> DiskSource:
    return DiskSource(path=str(file), file=file)


def _in_git(
    repo: Path, changes: ChangeSet, file: ChangedFile
) -> tuple[GitSource | None, GitSource | None]:
    """The file's two versions; None where there is none."""
    before = after = None
    if file.before_blob is not None and changes.base_commit is not None:
        before = GitSource(
            path=file.before_path or file.path,
            repository=repo,
            commit=changes.base_commit,
            raw_path=file.before_raw_path or file.raw_path,
            blob=file.before_blob,
        )
    if file.after_blob is not None:
        after = GitSource(
            path=file.path,
            repository=repo,
            commit=changes.head_commit,
            raw_path=file.raw_path,
            blob=file.after_blob,
        )
    return before, after


def reviews_of(jobs: Sequence[AssetJob], options: Options) -> Iterator[AssetReview]:
    """Reviews in the order of their jobs; several at once where there are several."""
    return _reviews(jobs, options, _cache(options))


def _reviews(
    jobs: Sequence[AssetJob], options: Options, cache: Cache | None
) -> Iterator[AssetReview]:
    if options.cluster is not None:
        elsewhere = partial(cluster_crew, options.cluster)
        return kept_or_made(jobs, cache=cache, make=make_review, hire=elsewhere)
    make = make_review_in_pool if _workers(len(jobs), options) > 1 else make_review
    return kept_or_made(
        jobs,
        cache=cache,
        make=partial(make, place=options.cache),
        hire=_hire(len(jobs), options),
    )


def in_processes(work: Callable[[J], R], jobs: Sequence[J], options: Options) -> Iterator[R]:
    """What comes of plain jobs, in their order; several at once where there are several."""
    tasks: Iterator[Task[J, R]] = (Task(job=job) for job in jobs)
    return results(work, tasks, _hire(len(jobs), options))


def _workers(jobs: int, options: Options) -> int:
    return min(options.workers or core_count(), jobs)


def _hire(jobs: int, options: Options) -> Callable[[], AbstractContextManager[Crew[J, R]]]:
    def hire() -> AbstractContextManager[Crew[J, R]]:
        return local_crew(_workers(jobs, options), options.memory_mb or memory_budget_mb())

    return hire


def _cache(options: Options) -> Cache | None:
    return None if options.cache is None else Cache(place=options.cache, say=_say)


def _say(line: str) -> None:
    sys.stderr.write(f"reviewbot: {line}\n")


def _mesh_files(paths: Sequence[Path], settings: Settings) -> list[Path]:
    """Files named, and meshes found in folders named, each once, folders in order of name."""
    found: dict[Path, None] = {}
    for path in paths:
        if path.is_dir():
            inside = (f for f in sorted(path.rglob("*")) if f.is_file() and is_mesh_path(f.name))
            shown = (f for f in inside if not _is_in_hidden_folder(f.relative_to(path)))
            found.update(dict.fromkeys(f for f in shown if is_included(str(f), settings)))
        elif path.is_file():
            _require_mesh(path)
            found[path] = None
        else:
            raise UsageError(f"{path}: no such file or folder")
    return list(found)


def _is_in_hidden_folder(path: Path) -> bool:
    """Such as git's own."""
    return any(name.startswith(".") for name in path.parts[:-1])


def _require_mesh(path: Path) -> None:
    if not is_mesh_path(path.name):
        raise UsageError(f"{path}: not a mesh format that can be read here")


def is_included(path: str, settings: Settings) -> bool:
    return matches(path, settings.files.include) and not matches(path, settings.files.exclude)


def _disk_law(options: Options) -> Law:
    """The settings asked for, else those of the working folder, else the defaults."""
    here, accepted = Path(SETTINGS_FILE), Path(ACCEPTANCES_FILE)
    settings = read_settings(here) if here.is_file() else Settings()
    if options.settings_file is not None:
        settings = read_settings(options.settings_file)
    text = accepted.read_text("utf-8", "replace") if accepted.is_file() else ""
    return Law(settings=settings, acceptances=parse_acceptances(text, path=ACCEPTANCES_FILE))


def repository_law(history: History, commit: str, options: Options) -> Law:
    """The settings asked for, else those of the commit before: a change cannot judge itself."""

    def text_at(name: str) -> str:
        data = file_at(history, commit, name.encode())
        return "" if data is None else data.decode("utf-8", "replace")

    settings = parse_settings(text_at(SETTINGS_FILE), path=f"{SETTINGS_FILE} at {commit[:10]}")
    if options.settings_file is not None:
        settings = read_settings(options.settings_file)
    accepted = f"{ACCEPTANCES_FILE} at {commit[:10]}"
    return Law(
        settings=settings,
        acceptances=parse_acceptances(text_at(ACCEPTANCES_FILE), path=accepted),
    )
