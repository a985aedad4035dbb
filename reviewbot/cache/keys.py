"""What a review is kept by: all that it depends on, as one digest."""

from __future__ import annotations

import hashlib
import json
import os
import platform
import re
import sys
from functools import cache
from importlib.metadata import PackageNotFoundError, distribution
from pathlib import Path
from typing import Any

import reviewbot
from reviewbot.cache.reading import Reading, digest
from reviewbot.checks.acceptances import is_expired
from reviewbot.errors import RendererUnavailableError
from reviewbot.jobs import AssetJob
from reviewbot.render.backends import choose_renderer
from reviewbot.settings import Settings

# Whose figures, pictures or messages show in a review.
_LIBRARIES = (
    *("numpy", "scipy", "scikit-image", "pillow", "trimesh", "mapbox-earcut", "embreex"),
    *("pyrender2", "PyOpenGL", "ufbx", "usd-core", "pydantic"),
)
_VERSION_LINE = re.compile(r"^Version: *(.*)$", re.M)


@cache
def program() -> str:
    """This program: its own sources and the libraries under it.

    A library that is missing counts as well: the review says what it could not do.
    """
    hashed = hashlib.sha256()
    folder = Path(reviewbot.__file__).parent
    for file in _sources(folder):
        data = (folder / file).read_bytes()
        hashed.update(f"{file} {len(data)} ".encode() + data)
    libraries = {name: _version(name) for name in _LIBRARIES}
    return _digest([hashed.hexdigest(), libraries, sys.version, platform.machine()])


def _sources(folder: Path) -> list[str]:
    """Paths below a folder, with slashes: what is compiled from another file is none."""
    start = len(str(folder)) + 1
    return sorted(
        os.path.join(top, name)[start:].replace(os.sep, "/")
        for top, _, names in os.walk(folder)
        for name in names
        if not name.endswith(".pyc")
    )


def _version(library: str) -> str:
    """ "" for a library that is missing. Metadata may be long: this line alone is looked for."""
    try:
        found = distribution(library)
    except PackageNotFoundError:
        return ""
    text = found.read_text("METADATA") or found.read_text("PKG-INFO") or ""
    line = _VERSION_LINE.search(text)
    return "" if line is None else line[1]


def request_key(job: AssetJob, before: Reading | None, after: Reading | None) -> str:
    """A job by its two files, without what they ask for beside them.

    Of the acceptances, those that have run out matter no more; of the settings, all that an
    asset's own review depends on; of the renderer, the one that draws on this machine.
    """
    return _digest(
        [
            "review",
            program(),
            job.path,
            [None if one is None else [one.path, one.place, one.digest] for one in (before, after)],
            _settings(job.settings),
            job.pictures,
            job.detail,
            _drawn_by(job),
            [
                one.model_dump(mode="json", exclude={"until"})
                for one in job.acceptances
                if not is_expired(one, job.today)
            ],
        ]
    )


def result_key(request: str, before: Reading | None, after: Reading | None) -> str:
    """The same with every answer to what they ask for."""
    return _digest(
        [
            request,
            [None if one is None else sorted(one.answers.items()) for one in (before, after)],
        ]
    )


def version_key(job: AssetJob, reading: Reading) -> str:
    """One version by itself, as it is measured for a job: pictures are decoded to be shown."""
    return _digest(
        [
            "version",
            program(),
            [reading.path, reading.place, reading.digest, sorted(reading.answers.items())],
            _settings(job.settings),
            job.pictures == "all",
        ]
    )


def _drawn_by(job: AssetJob) -> str:
    if job.pictures == "none":
        return ""
    try:
        return choose_renderer(job.renderer)
    except RendererUnavailableError:
        return "missing"


def _settings(settings: Settings) -> dict[str, Any]:
    table = settings.model_dump(mode="json", exclude={"gate"})
    table["files"] = {name: table["files"][name] for name in ("memory_mb", "seconds")}
    return table


def _digest(parts: list[Any]) -> str:
    return digest(json.dumps(parts, sort_keys=True).encode("utf-8", "surrogatepass"))
