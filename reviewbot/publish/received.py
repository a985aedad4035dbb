"""A report that came from a job which ran a stranger's files: checked whole before it is posted.

What comes in is data. The report must fulfil the schema; its Markdown is written anew here; its
pictures are decoded and drawn anew, so that nothing but pixels passes. An animation is kept as its
first frame: nobody has checked how fast a stranger's picture flashes.
"""

from __future__ import annotations

import io
import warnings
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from PIL import Image, UnidentifiedImageError
from pydantic import ValidationError

from reviewbot.errors import UsageError
from reviewbot.report.json_report import from_json
from reviewbot.report.report import Report

LARGEST_REPORT = 32 * 2**20  # bytes
LARGEST_PICTURE = 16 * 2**20
MOST_PICTURES = 2000
MOST_PIXELS = 4096 * 4096
_FORMATS = {".png": "PNG", ".webp": "WEBP"}
_NO_PICTURE = (
    UnidentifiedImageError,
    OSError,
    SyntaxError,
    Image.DecompressionBombWarning,
    Image.DecompressionBombError,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Received:
    """A report fit to be posted.

    pictures  drawn anew, by their file names
    refused   one plain sentence for each picture that was left out
    """

    report: Report
    pictures: dict[str, bytes]
    refused: tuple[str, ...]


def read_received(folder: Path) -> Received:
    """The report in a folder that a stranger may have filled.

    Raises UsageError where report.json is missing, too large or does not fulfil the schema. A bad
    picture is left out and said.
    """
    report = _report(folder / "report.json")
    pictures: dict[str, bytes] = {}
    refused: list[str] = []
    of_assets = (picture for asset in report.assets for picture in asset.pictures)
    names = dict.fromkeys(picture.file for picture in (*report.pictures, *of_assets))
    for name in list(names)[:MOST_PICTURES]:
        try:
            pictures[name] = _drawn_anew(folder, name)
        except ValueError as error:
            refused.append(f"a picture was left out: {error}")
    if len(names) > MOST_PICTURES:
        refused.append(f"{len(names) - MOST_PICTURES:,} pictures more than are taken were left out")
    return Received(report=report, pictures=pictures, refused=tuple(refused))


def _report(path: Path) -> Report:
    try:
        if path.is_symlink() or path.stat().st_size > LARGEST_REPORT:
            raise UsageError("the received report.json is a link or too large")
        return from_json(path.read_bytes())
    except OSError as error:
        raise UsageError(f"the received report.json cannot be read: {error.strerror}") from error
    except (ValidationError, ValueError, RecursionError) as error:
        raise UsageError("the received report.json does not fulfil the schema") from error


def _drawn_anew(folder: Path, name: str) -> bytes:
    """A picture's first frame, encoded again. Raises ValueError with the reason."""
    data = _file_bytes(folder, name)
    kind = _FORMATS[PurePosixPath(name).suffix]
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            with Image.open(io.BytesIO(data), formats=[kind]) as picture:
                if picture.width * picture.height > MOST_PIXELS:
                    raise ValueError("it has too many pixels")
                pixels = picture.convert("RGBA" if picture.has_transparency_data else "RGB")
    except _NO_PICTURE as error:
        raise ValueError("it is no picture of its kind") from error
    plain = Image.frombytes(pixels.mode, pixels.size, pixels.tobytes())  # without what clings to it
    out = io.BytesIO()
    plain.save(out, format=kind, quality=90)
    return out.getvalue()


def _file_bytes(folder: Path, name: str) -> bytes:
    parts = PurePosixPath(name).parts
    is_inside = parts[:1] == ("pictures",) and len(parts) > 1 and ".." not in parts
    if not is_inside or "\\" in name or "\0" in name:
        raise ValueError("its name leads out of the report's folder")
    if PurePosixPath(name).suffix not in _FORMATS:
        raise ValueError("it is neither PNG nor WebP")
    path = folder
    for part in parts:
        path = path / part
        if path.is_symlink():
            raise ValueError("it is a link")
    if not path.is_file():
        raise ValueError("it is missing")
    if path.stat().st_size > LARGEST_PICTURE:
        raise ValueError("it is too large")
    return path.read_bytes()
