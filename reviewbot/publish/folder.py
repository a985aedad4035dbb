"""A report written into a folder, in every form it has, with its pictures."""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path, PurePosixPath

from reviewbot.errors import UsageError
from reviewbot.report.json_report import to_json
from reviewbot.report.junit import to_junit
from reviewbot.report.markdown import to_markdown
from reviewbot.report.page import to_html
from reviewbot.report.report import Report
from reviewbot.report.sarif import to_sarif

PICTURES = "pictures"


def write_report(report: Report, pictures: Mapping[str, bytes], folder: Path) -> None:
    """Write the report and its pictures into `folder`, made where it is missing.

    pictures  bytes of each picture by its file name, relative to the folder
    Each file appears whole or not at all. Raises UsageError where the folder cannot be written,
    or where a picture's name leads outside of it.
    """
    files = {name: data for name, data in pictures.items() if _checked(name)}
    files["report.html"] = to_html(report, pictures).encode()
    files["report.md"] = to_markdown(report, picture_url=str).encode()
    files["report.json"] = to_json(report).encode()
    files["report.sarif"] = to_sarif(report).encode()
    files["report.xml"] = to_junit(report).encode()
    try:
        for name, data in files.items():
            _write_whole(folder / name, data)
    except OSError as error:
        raise UsageError(f"{folder}: the report cannot be written: {error.strerror}") from error


def _checked(name: str) -> bool:
    path = PurePosixPath(name)
    leads_out = path.is_absolute() or ".." in path.parts or "\\" in name or "\0" in name
    if leads_out or path.parts[:1] != (PICTURES,) or len(path.parts) < 2:
        raise UsageError(f"picture {name!r}: pictures lie in the folder {PICTURES!r} of a report")
    return True


def _write_whole(path: Path, data: bytes) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    unfinished = path.with_name(f"{path.name}.{os.getpid()}.part")
    try:
        unfinished.write_bytes(data)
        unfinished.replace(path)
    finally:
        unfinished.unlink(missing_ok=True)
