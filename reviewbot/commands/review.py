"""The command `review`."""

from __future__ import annotations

import os
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
from reviewbot.commands.outcome import Asked, Post, finish


def review(
    repo: Annotated[Path, typer.Argument(metavar="[REPO]")] = Path(),
    base: Annotated[
        str | None,
        typer.Option("--base", metavar="REV", help="Compare with where head left this."),
    ] = None,
    head: Annotated[str, typer.Option("--head", metavar="REV", help="What to review.")] = "HEAD",
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
    post: Annotated[
        bool, typer.Option("--post", help="Post on the request that this hosted job runs for.")
    ] = False,
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="With --post: say what would be sent; send nothing.")
    ] = False,
) -> None:
    """Review the mesh files changed between two commits; the last commit if none is named."""
    from reviewbot.publish.destination import hosted_job, with_token_taken_out
    from reviewbot.runs import plan_repository

    environment = with_token_taken_out(os.environ)
    wanted = (
        Post(destination=hosted_job(environment), environment=environment, is_dry=dry_run)
        if post
        else None
    )
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
    asked = Asked(
        folder=folder,
        json=json,
        sarif=sarif,
        junit=junit,
        quiet=quiet,
        job_summary=os.environ.get("GITHUB_STEP_SUMMARY"),
        post=wanted,
    )
    finish(plan_repository(repo, base, head, options), options, asked)
