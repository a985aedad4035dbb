"""The command `demo`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from reviewbot.commands.options import NoPictures, Quiet, Renderer, Workers, options_for


def demo(
    out: Annotated[Path, typer.Option("--out", metavar="DIR", help="Folder to make.")] = Path(
        "demo"
    ),
    no_pictures: NoPictures = False,
    workers: Workers = None,
    renderer: Renderer = "auto",
    quiet: Quiet = False,
) -> None:
    """Build the demo repository, review each of its commits and write the reports.

    Ends with status 1: the demo's faults are planted, and are to be found.
    """
    from reviewbot.demo.run import run_demo

    options = options_for(None, "none" if no_pictures else "all", workers, renderer, quiet)
    result = run_demo(out, options)
    if not quiet:
        typer.echo(result.text)
    raise typer.Exit(result.status)
