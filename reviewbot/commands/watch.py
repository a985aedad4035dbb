"""The command `watch`."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Annotated, Literal

import typer

from reviewbot.commands.options import (
    CacheFolder,
    Memory,
    NoCache,
    NoPictures,
    Quiet,
    Renderer,
    SettingsFile,
    Workers,
    options_for,
    wish_for,
)


def watch(
    repositories: Annotated[
        list[str], typer.Argument(metavar="REPO_OR_URL...", help="Paths, or addresses to fetch.")
    ],
    branch: Annotated[
        list[str] | None,
        typer.Option("--branch", metavar="PATTERN", help="Branches; all if none is named."),
    ] = None,
    requests: Annotated[
        bool, typer.Option("--requests", help="Pull and merge requests as well.")
    ] = False,
    since: Annotated[
        str | None,
        typer.Option(
            "--since", metavar="REV|all", help="Begin there the first time, not at what is there."
        ),
    ] = None,
    every: Annotated[
        float, typer.Option("--every", min=1.0, metavar="SECONDS", help="Time between looks.")
    ] = 60.0,
    once: Annotated[
        bool, typer.Option("--once", help="Look once, review what is new, and end.")
    ] = False,
    out: Annotated[
        Path, typer.Option("--out", metavar="DIR", help="One folder for each commit's report.")
    ] = Path("reviewbot-watch"),
    state: Annotated[
        Path | None,
        typer.Option("--state", metavar="FILE", help="What was seen; DIR/watch.sqlite if left."),
    ] = None,
    settings: SettingsFile = None,
    no_pictures: NoPictures = False,
    workers: Workers = None,
    renderer: Renderer = "auto",
    cache: CacheFolder = None,
    no_cache: NoCache = False,
    memory: Memory = None,
    post: Annotated[
        bool, typer.Option("--post", help="Post on requests, and verdicts beside commits.")
    ] = False,
    host: Annotated[
        str | None, typer.Option("--host", metavar="github|gitlab|gitea|forgejo")
    ] = None,
    server: Annotated[
        str | None, typer.Option("--server", metavar="URL", help="The site, if not the address's.")
    ] = None,
    repo: Annotated[
        str, typer.Option("--repo", metavar="OWNER/NAME", help="If the address does not say it.")
    ] = "",
    log_format: Annotated[
        str, typer.Option("--log-format", metavar="text|json", help="Lines on standard error.")
    ] = "text",
    quiet: Quiet = False,
) -> None:
    """Review every new commit, each exactly once, until a signal ends it.

    Begins at what is there already, which is not reviewed; --since says otherwise. With --once,
    ends as `review` does: with status 1 where a finding is at or above the gate, and with 2 where
    something could not be looked at, reviewed or posted. The token comes from REVIEWBOT_TOKEN.
    """
    from reviewbot.errors import UsageError
    from reviewbot.publish.destination import TOKEN_VARIABLE
    from reviewbot.watch.log import logger
    from reviewbot.watch.news import Choice
    from reviewbot.watch.run import Asked, PostWish, run_watch

    form: Literal["text", "json"] = "json" if log_format == "json" else "text"
    if log_format != form:
        raise UsageError(f"--log-format {log_format}: give text or json")
    # No other process is to inherit it.
    token = os.environ.pop(TOKEN_VARIABLE, "")
    asked = Asked(
        repositories=tuple(repositories),
        choice=Choice(branches=tuple(branch or "*"), with_requests=requests, since=since),
        every=every,
        is_once=once,
        out=out,
        state=state,
        options=options_for(
            settings,
            wish_for(no_pictures, out),
            workers,
            renderer,
            quiet=True,  # a log, and no line of progress
            cache=cache,
            no_cache=no_cache,
            memory=memory,
        ),
        post=PostWish(host=host, server=server, repository=repo, token=token) if post else None,
    )
    raise typer.Exit(run_watch(asked, logger(form, is_quiet=quiet)))
