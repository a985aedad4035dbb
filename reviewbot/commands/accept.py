"""The command `accept`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer


def accept(
    rules: Annotated[
        list[str], typer.Argument(metavar="RULE...", help="Codes of findings or changes.")
    ],
    why: Annotated[str, typer.Option("--why", metavar="TEXT", help="The reason, for the team.")],
    who: Annotated[str, typer.Option("--who", metavar="NAME", help="Who answers for it.")],
    path: Annotated[str, typer.Option("--path", metavar="PATTERN", help="Which files.")] = "*",
    part: Annotated[str, typer.Option("--part", metavar="PATTERN", help="Which parts.")] = "*",
    until: Annotated[
        str | None, typer.Option("--until", metavar="YYYY-MM-DD", help="Last day it holds.")
    ] = None,
    file: Annotated[
        Path | None, typer.Option("--file", metavar="FILE", help="The file of acceptances.")
    ] = None,
) -> None:
    """Accept a deliberate change or a tolerated finding, in a file that is to be committed."""
    from reviewbot.publish.acceptances import add_acceptances

    written = add_acceptances(rules, file=file, path=path, part=part, why=why, who=who, until=until)
    typer.echo(f"added to {written}; commit it, and reviews from the next commit on take note")
