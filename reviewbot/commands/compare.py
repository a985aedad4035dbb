"""The command `compare`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from reviewbot.commands.options import (
    CacheFolder,
    Json,
    JUnit,
    Memory,
    NoCache,
    NoPictures,
    Out,
    Quiet,
    Renderer,
    Sarif,
    SettingsFile,
    Workers,
    folder_for,
    options_for,
    wish_for,
)
from reviewbot.commands.outcome import Asked, finish


def compare(
    before: Annotated[Path, typer.Argument(metavar="BEFORE")],
    after: Annotated[Path, typer.Argument(metavar="AFTER")],
    out: Out = None,
    json: Json = None,
    sarif: Sarif = None,
    junit: JUnit = None,
    settings: SettingsFile = None,
    no_pictures: NoPictures = False,
    workers: Workers = None,
    renderer: Renderer = "auto",
    quiet: Quiet = False,
    cache: CacheFolder = None,
    no_cache: NoCache = False,
    memory: Memory = None,
) -> None:
    """Compare two files."""
    from reviewbot.runs import plan_two_files

    folder = folder_for(out, json)
    options = options_for(
        settings,
        wish_for(no_pictures, folder),
        workers,
        renderer,
        quiet,
        cache=cache,
        no_cache=no_cache,
        memory=memory,
    )
    asked = Asked(folder=folder, json=json, sarif=sarif, junit=junit, quiet=quiet)
    finish(plan_two_files(before, after, options), options, asked)
