"""The command `post`."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Annotated

import typer


def post(
    report: Annotated[
        Path, typer.Argument(metavar="REPORT", help="A report's folder, or its report.json.")
    ],
    host: Annotated[
        str | None, typer.Option("--host", metavar="github|gitlab|gitea|forgejo")
    ] = None,
    repo: Annotated[str, typer.Option("--repo", metavar="OWNER/NAME")] = "",
    request: Annotated[
        int | None, typer.Option("--request", min=1, metavar="N", help="Else it is looked for.")
    ] = None,
    commit: Annotated[
        str, typer.Option("--commit", metavar="SHA", help="The request's newest commit.")
    ] = "",
    head_repo: Annotated[
        str | None,
        typer.Option("--head-repo", metavar="OWNER/NAME", help="Where that lies, if in a fork."),
    ] = None,
    server: Annotated[
        str | None, typer.Option("--server", metavar="URL", help="The site, if not the public one.")
    ] = None,
    settings: Annotated[
        Path | None,
        typer.Option("--settings", metavar="FILE", help="Judge by this gate, not the report's."),
    ] = None,
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Say what would be sent; send nothing.")
    ] = False,
) -> None:
    """Post a report on a pull or merge request; the token comes from REVIEWBOT_TOKEN.

    Without --host, the hosted job that this runs in says where. Everything in the report is
    checked as if a stranger had made it. Ends with status 0 once it is posted.
    """
    from reviewbot.publish.destination import Destination, hosted_job
    from reviewbot.publish.received import read_received
    from reviewbot.publish.sending import send
    from reviewbot.settings import read_settings

    destination = (
        hosted_job(os.environ)
        if host is None
        else Destination(
            host=host,
            server=server,
            repository=repo,
            number=request,
            head_commit=commit,
            head_repository=head_repo or repo,
        )
    )
    received = read_received(report.parent if report.name == "report.json" else report)
    for sentence in received.refused:
        typer.echo(f"reviewbot: {sentence}", err=True)
    told = received.report
    if settings is not None:
        told = told.model_copy(update={"fail_on": read_settings(settings).gate.fail_on})
    send(
        told,
        received.pictures,
        destination,
        environment=os.environ,
        say=typer.echo,
        is_dry=dry_run,
    )
