"""A report's folder for each commit: there whole, or not there."""

from __future__ import annotations

import os
import shutil
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from reviewbot.errors import UsageError
from reviewbot.history.refs import request_number
from reviewbot.publish.folder import write_report
from reviewbot.publish.posting import shown_pictures
from reviewbot.report.json_report import from_json
from reviewbot.report.report import Report

_UNFINISHED = ".part"


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """A report that was written, and the pictures that a post of it shows."""

    report: Report
    pictures: dict[str, bytes]


def report_folder(out: Path, slug: str, ref: str, commit: str) -> Path:
    """Where a commit's report goes; one on a request lies with that request's others.

    >>> report_folder(Path("out"), "props-1a2b3c4d", "refs/pull/7/head", "abc").as_posix()
    'out/props-1a2b3c4d/request-7/abc'
    """
    number = request_number(ref)
    line = out / slug if number is None else out / slug / f"request-{number}"
    return line / commit


def is_written(folder: Path) -> bool:
    """Whether the report is there; if it is, it is whole."""
    return (folder / "report.json").is_file()


def write_once(report: Report, pictures: Mapping[str, bytes], folder: Path) -> None:
    """Writes the report into a folder beside, and moves that into place in one step.

    Where one is there already, it stays. Raises UsageError where it cannot be written.
    """
    unfinished = folder.with_name(f".{folder.name}.{os.getpid()}{_UNFINISHED}")
    try:
        write_report(report, pictures, unfinished)
        _settle(unfinished)
        _move(unfinished, folder)
    except OSError as error:
        raise UsageError(f"{folder}: the report cannot be written: {error.strerror}") from error
    finally:
        shutil.rmtree(unfinished, ignore_errors=True)


def _move(unfinished: Path, folder: Path) -> None:
    try:
        unfinished.rename(folder)
    except OSError:
        if not is_written(folder):  # else a process was quicker whose watcher was killed
            raise
    _settle_folder(folder.parent)


def drop_unfinished(out: Path, slug: str) -> None:
    """Takes away what a watcher left that was killed while it wrote."""
    for pattern in (f".*{_UNFINISHED}", f"request-*/.*{_UNFINISHED}"):
        for left in (out / slug).glob(pattern):
            shutil.rmtree(left, ignore_errors=True)


def read_kept(folder: Path) -> Kept:
    """The report in a folder that this watcher wrote. Raises UsageError where it is damaged."""
    try:
        report = from_json((folder / "report.json").read_bytes())
        files = {name: folder / name for name in shown_pictures(report)}
        pictures = {name: file.read_bytes() for name, file in files.items() if file.is_file()}
    except (OSError, ValueError) as error:
        raise UsageError(f"{folder}: the report cannot be read again") from error
    return Kept(report=report, pictures=pictures)


def _settle(folder: Path) -> None:
    """Waits until the disk has it all, so that it outlives a loss of power."""
    for path in sorted(folder.rglob("*")):
        if path.is_file():
            with path.open("rb") as file:
                os.fsync(file.fileno())


def _settle_folder(folder: Path) -> None:
    with suppress(OSError):  # some systems open no folders
        opened = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(opened)
        finally:
            os.close(opened)
