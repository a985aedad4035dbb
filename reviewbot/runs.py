"""What to review, in how many processes, gathered into one Report."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path
from typing import get_args

from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

from reviewbot import __version__
from reviewbot.errors import UsageError
from reviewbot.history.changes import ChangedFile
from reviewbot.history.git import History, changed_files, file_at, open_history
from reviewbot.history.sources import DiskSource, GitSource
from reviewbot.readers.formats import is_mesh_path
from reviewbot.report.report import AssetEntry, Report
from reviewbot.report.verdict import gate_status, report_summary, report_verdict
from reviewbot.review import AssetJob, AssetReview, RendererName, review_asset
from reviewbot.settings import SETTINGS_FILE, Settings, matches, parse_settings, read_settings


@dataclass(frozen=True, slots=True, kw_only=True)
class Options:
    """What a command was asked for, beside what to look at.

    settings_file  overrides the repository's own
    workers        processes; None for as many as there are cores
    """

    settings_file: Path | None = None
    pictures: bool = True
    workers: int | None = None
    renderer: RendererName = "auto"
    show_progress: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Reviewed:
    """A finished review.

    pictures  bytes by file name, relative to the report's folder
    status    0 or 1, by the gate
    """

    report: Report
    pictures: dict[str, bytes]
    status: int


def renderer_named(name: str) -> RendererName:
    """A back end by its name. Raises UsageError for another name."""
    names: tuple[RendererName, ...] = get_args(RendererName)
    for known in names:
        if name == known:
            return known
    raise UsageError(f"--renderer {name}: give {', '.join(names)}")


def review_two_files(before: Path, after: Path, options: Options) -> Reviewed:
    """Compare two files on the disk. Raises UsageError where one is missing or no mesh format."""
    for path in (before, after):
        if not path.is_file():
            raise UsageError(f"{path}: no such file")
        _require_mesh(path)
    settings = _disk_settings(options)
    job = AssetJob(
        path=str(after),
        before=DiskSource(path=str(before), file=before),
        after=DiskSource(path=str(after), file=after),
        settings=settings,
        pictures=options.pictures,
        renderer=options.renderer,
    )
    return _run([job], options, title=f"{before.name} and {after.name}", settings=settings)


def review_paths(paths: Sequence[Path], options: Options) -> Reviewed:
    """Measure files, or all meshes in folders, as they stand."""
    settings = _disk_settings(options)
    jobs = [
        AssetJob(
            path=str(file),
            before=None,
            after=DiskSource(path=str(file), file=file),
            settings=settings,
            pictures=options.pictures,
            renderer=options.renderer,
        )
        for file in _mesh_files(paths, settings)
    ]
    count = len(jobs)
    return _run(jobs, options, title=f"{count} file{'s' * (count != 1)}", settings=settings)


def review_repository(repo: Path, base: str | None, head: str, options: Options) -> Reviewed:
    """Review the mesh files changed between two commits, judged by the settings of the first."""
    with open_history(repo) as history:
        changes = changed_files(history, base, head, is_mesh_path)
        settings = _repository_settings(
            history, changes.base_commit or changes.head_commit, options
        )
        jobs = [
            _git_job(
                repo=repo,
                base=changes.base_commit,
                head=changes.head_commit,
                file=file,
                settings=settings,
                options=options,
            )
            for file in changes.files
            if _is_included(file.path, settings)
        ]
    since = changes.base_commit[:10] if changes.base_commit else "the beginning"
    title = f"{changes.head_commit[:10]} against {since}"
    return _run(
        jobs,
        options,
        title=title,
        settings=settings,
        base=changes.base_commit,
        head=changes.head_commit,
    )


def _git_job(
    *,
    repo: Path,
    base: str | None,
    head: str,
    file: ChangedFile,
    settings: Settings,
    options: Options,
) -> AssetJob:
    before_path, before_raw = file.before_path or file.path, file.before_raw_path or file.raw_path
    before, after = file.before_blob, file.after_blob
    return AssetJob(
        path=file.path,
        before=None
        if before is None or base is None
        else GitSource(
            path=before_path, repository=repo, commit=base, raw_path=before_raw, blob=before
        ),
        after=None
        if after is None
        else GitSource(
            path=file.path, repository=repo, commit=head, raw_path=file.raw_path, blob=after
        ),
        settings=settings,
        pictures=options.pictures,
        renderer=options.renderer,
    )


def _run(
    jobs: Sequence[AssetJob],
    options: Options,
    *,
    title: str,
    settings: Settings,
    base: str | None = None,
    head: str | None = None,
) -> Reviewed:
    reviews = list(_with_progress(_reviews(jobs, options), len(jobs), options.show_progress))
    assets: tuple[AssetEntry, ...] = tuple(review.entry for review in reviews)
    report = Report(
        tool=f"reviewbot {__version__}",
        title=title,
        base=base,
        head=head,
        verdict=report_verdict(assets),
        summary=report_summary(assets),
        fail_on=settings.gate.fail_on,
        assets=assets,
    )
    pictures = {name: data for review in reviews for name, data in review.pictures.items()}
    return Reviewed(report=report, pictures=pictures, status=gate_status(report))


def _reviews(jobs: Sequence[AssetJob], options: Options) -> Iterator[AssetReview]:
    """Reviews in the order of their jobs; several at once where there are several."""
    workers = min(options.workers or os.cpu_count() or 1, len(jobs))
    if workers <= 1:
        yield from map(review_asset, jobs)
        return
    # Not forked: back ends hold threads and a GL context that a fork would break.
    with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool:
        yield from pool.map(review_asset, jobs)


def _with_progress(reviews: Iterable[AssetReview], count: int, show: bool) -> Iterator[AssetReview]:
    if not show:
        yield from reviews
        return
    columns = (
        TextColumn("reviewing"),
        BarColumn(),
        MofNCompleteColumn(),
        TimeRemainingColumn(),
        TextColumn("{task.fields[path]}", markup=False),
    )
    with Progress(*columns, console=Console(stderr=True), transient=True) as progress:
        task = progress.add_task("", total=count, path="")
        for review in reviews:
            progress.update(task, advance=1, path=review.entry.path)
            yield review


def _mesh_files(paths: Sequence[Path], settings: Settings) -> list[Path]:
    """Files named, and meshes found in folders named, each once, folders in order of name."""
    found: dict[Path, None] = {}
    for path in paths:
        if path.is_dir():
            inside = (file for file in sorted(path.rglob("*")) if file.is_file())
            wanted = (f for f in inside if is_mesh_path(f.name) and _is_included(str(f), settings))
            found.update(dict.fromkeys(wanted))
        elif path.is_file():
            _require_mesh(path)
            found[path] = None
        else:
            raise UsageError(f"{path}: no such file or folder")
    return list(found)


def _require_mesh(path: Path) -> None:
    if not is_mesh_path(path.name):
        raise UsageError(f"{path}: not a mesh format that can be read here")


def _is_included(path: str, settings: Settings) -> bool:
    return matches(path, settings.files.include) and not matches(path, settings.files.exclude)


def _disk_settings(options: Options) -> Settings:
    """The settings asked for, else those of the working folder, else the defaults."""
    if options.settings_file is not None:
        return read_settings(options.settings_file)
    here = Path(SETTINGS_FILE)
    return read_settings(here) if here.is_file() else Settings()


def _repository_settings(history: History, commit: str, options: Options) -> Settings:
    """The settings asked for, else those of the commit before: a change cannot judge itself."""
    if options.settings_file is not None:
        return read_settings(options.settings_file)
    data = file_at(history, commit, SETTINGS_FILE.encode())
    if data is None:
        return Settings()
    return parse_settings(data.decode("utf-8", "replace"), path=f"{SETTINGS_FILE} at {commit[:10]}")
