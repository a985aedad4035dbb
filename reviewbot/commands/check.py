"""The command `check`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from reviewbot.commands.options import (
    CacheFolder,
    Cluster,
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


def check(
    paths: Annotated[list[Path], typer.Argument(metavar="PATH...", help="Files or folders.")],
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
    cluster: Cluster = None,
) -> None:
    """Measure files, or all meshes in folders, as they stand."""
    from reviewbot.runs import plan_paths

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
        cluster=cluster,
    )
    asked = Asked(folder=folder, json=json, sarif=sarif, junit=junit, quiet=quiet)
    finish(plan_paths(paths, options), options, asked)
