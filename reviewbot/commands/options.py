"""The options that commands share, and what they come to."""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from reviewbot.review import PictureWish
    from reviewbot.runs import Options

Out = Annotated[
    Path | None, typer.Option("--out", metavar="DIR", help="Write report and pictures there.")
]
Json = Annotated[
    str | None,
    typer.Option("--json", metavar="FILE", help="Write report.json there; - is standard output."),
]
Sarif = Annotated[
    Path | None, typer.Option("--sarif", metavar="FILE", help="Write the findings as SARIF 2.1.0.")
]
JUnit = Annotated[
    Path | None, typer.Option("--junit", metavar="FILE", help="Write the findings as JUnit XML.")
]
SettingsFile = Annotated[
    Path | None,
    typer.Option("--settings", metavar="FILE", help="Use these settings, not the repository's."),
]
NoPictures = Annotated[bool, typer.Option("--no-pictures", help="Measure and compare only.")]
Workers = Annotated[
    int | None, typer.Option("--workers", min=1, metavar="N", help="Processes; all cores if left.")
]
Renderer = Annotated[str, typer.Option("--renderer", metavar="auto|ray|gl", help="Back end.")]
Quiet = Annotated[bool, typer.Option("--quiet", help="No progress and no summary.")]
CacheFolder = Annotated[
    Path | None,
    typer.Option("--cache", metavar="DIR", help="Keep finished reviews there, or REVIEWBOT_CACHE."),
]
NoCache = Annotated[bool, typer.Option("--no-cache", help="Look at everything anew.")]
Memory = Annotated[
    int | None,
    typer.Option(
        "--memory", min=256, metavar="MB", help="For all processes; most of what is free if left."
    ),
]
Cluster = Annotated[
    str | None,
    typer.Option("--cluster", metavar="ADDRESS", help="Review on this Dask scheduler's workers."),
]

DEFAULT_OUT = Path("reviewbot-out")


def folder_for(out: Path | None, json: str | None) -> Path | None:
    """Where the report goes: nowhere if only report.json was asked for."""
    return out or (DEFAULT_OUT if json is None else None)


def wish_for(no_pictures: bool, folder: Path | None) -> PictureWish:
    """Without a folder to keep pictures in, views are compared all the same."""
    if no_pictures:
        return "none"
    return "figures" if folder is None else "all"


def options_for(
    settings: Path | None,
    pictures: PictureWish,
    workers: int | None,
    renderer: str,
    quiet: bool,
    *,
    cache: Path | None = None,
    no_cache: bool = False,
    memory: int | None = None,
    cluster: str | None = None,
) -> Options:
    from reviewbot.cache.location import cache_place
    from reviewbot.runs import Options, renderer_named

    return Options(
        settings_file=settings,
        pictures=pictures,
        workers=workers,
        renderer=renderer_named(renderer),
        show_progress=not quiet and sys.stderr.isatty(),
        memory_mb=memory,
        cluster=cluster,
        cache=None if no_cache else cache_place(os.environ, cache),
    )
