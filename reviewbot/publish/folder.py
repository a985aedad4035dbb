"""A report written into a folder, in every form it has, with its pictures."""

from __future__ import annotations

import os
from collections.abc import Mapping
from itertools import chain
from pathlib import Path, PurePosixPath

from reviewbot.errors import UsageError
from reviewbot.report.json_report import to_json
from reviewbot.report.junit import to_junit
from reviewbot.report.markdown import to_markdown
from reviewbot.report.page import to_html
from reviewbot.report.progress_markdown import progress_markdown
from reviewbot.report.progress_page import progress_page
from reviewbot.report.report import Report
from reviewbot.report.sarif import to_sarif

PICTURES = "pictures"


def write_report(report: Report, pictures: Mapping[str, bytes], folder: Path) -> None:
    """Write the report and its pictures into `folder`, made where it is missing.

    pictures  bytes of each picture by its file name, relative to the folder
    Each file appears whole or not at all. Raises UsageError where the folder cannot be written,
    or where a picture's name leads outside of it.
    """
    texts = {
        "report.html": to_html(report, pictures),
        "report.md": to_markdown(report, picture_url=str),
        "report.json": to_json(report),
        "report.sarif": to_sarif(report),
        "report.xml": to_junit(report),
    }
    _write(texts, pictures, folder)


def write_progress(report: Report, pictures: Mapping[str, bytes], folder: Path) -> None:
    """The same for the report of a period; see `write_report`."""
    texts = {
        "report.html": progress_page(report, pictures),
        "report.md": progress_markdown(report, picture_url=str),
        "report.json": to_json(report),
    }
    _write(texts, pictures, folder)


def _write(texts: Mapping[str, str], pictures: Mapping[str, bytes], folder: Path) -> None:
    names = [name for name in pictures if _checked(name)]
    # One picture at a time: there may be more of them than fit into memory.
    files = chain(
        ((name, pictures[name]) for name in names),
        ((name, text.encode()) for name, text in texts.items()),
    )
    try:
        for name, data in files:
            write_whole(folder / name, data)
    except OSError as error:
        raise UsageError(f"{folder}: the report cannot be written: {error.strerror}") from error


def _checked(name: str) -> bool:
    path = PurePosixPath(name)
    leads_out = path.is_absolute() or ".." in path.parts or "\\" in name or "\0" in name
    if leads_out or path.parts[:1] != (PICTURES,) or len(path.parts) < 2:
        raise UsageError(f"picture {name!r}: pictures lie in the folder {PICTURES!r} of a report")
    return True


def write_whole(path: Path, data: bytes) -> None:
    """Writes a file whole or not at all; a link is replaced, not followed. Raises OSError."""
    path.parent.mkdir(parents=True, exist_ok=True)
    unfinished = path.with_name(f"{path.name}.{os.getpid()}.part")
    try:
        unfinished.write_bytes(data)
        unfinished.replace(path)
    finally:
        unfinished.unlink(missing_ok=True)
