"""The command `cache`."""

from __future__ import annotations

from typing import Annotated

import typer

from reviewbot.commands.options import CacheFolder


def cache(
    cache: CacheFolder = None,
    trim: Annotated[
        int | None,
        typer.Option("--trim", min=0, metavar="MB", help="Take out what was not used for longest."),
    ] = None,
    clear: Annotated[bool, typer.Option("--clear", help="Take out everything.")] = False,
) -> None:
    """Show what is kept of finished reviews, and where; make it smaller."""
    import os

    from reviewbot.cache.disk import contents
    from reviewbot.cache.disk import trim as trim_folder
    from reviewbot.cache.location import cache_place
    from reviewbot.cache.words import contents_text, trimmed_text
    from reviewbot.errors import UsageError

    if clear and trim is not None:
        raise UsageError("--clear and --trim: give one of them")
    place = cache_place(os.environ, cache)
    if place is None:
        typer.echo("nothing is kept: REVIEWBOT_CACHE is empty")
        return
    if clear or trim is not None:
        typer.echo(trimmed_text(trim_folder(place.folder, 0 if clear else (trim or 0) << 20)))
    typer.echo(contents_text(place, contents(place.folder)))
