"""The command `init`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer


def init(
    folder: Annotated[Path, typer.Argument(metavar="[DIR]", help="A repository's top.")] = Path(),
    action: Annotated[
        str | None,
        typer.Option(
            "--action", metavar="OWNER/NAME@SHA", help="Where workflows get reviewbot from."
        ),
    ] = None,
    force: Annotated[
        bool, typer.Option("--force", help="Replace files that are there already.")
    ] = False,
    hook: Annotated[
        bool, typer.Option("--hook", help="Install the local commit hook, and nothing else.")
    ] = False,
) -> None:
    """Set up a repository: workflows for pull requests, settings, attributes for large files.

    Each file is explained; what is there already is left alone unless --force is given.
    """
    from reviewbot.setting_up.actions import parse_action
    from reviewbot.setting_up.hook import install_hook
    from reviewbot.setting_up.writing import set_up

    if hook:
        lines = install_hook(folder)
    else:
        named = None if action is None else parse_action(action)
        lines = set_up(folder, action=named, force=force)
    for line in lines:
        typer.echo(line)
