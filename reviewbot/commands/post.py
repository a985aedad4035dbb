"""The command `post`."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from reviewbot.errors import UsageError

if TYPE_CHECKING:
    from reviewbot.report.report import Report


def post(
    report: Annotated[
        Path | None,
        typer.Argument(metavar="REPORT", help="A report's folder, or its report.json."),
    ] = None,
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
    remove: Annotated[
        bool, typer.Option("--remove", help="Drop a closed request's pictures instead.")
    ] = False,
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Say what would be sent; send nothing.")
    ] = False,
) -> None:
    """Post a report on a pull or merge request; the token comes from REVIEWBOT_TOKEN.

    Without --host, the hosted job that this runs in says where. Everything in the report is
    checked as if a stranger had made it. Ends with status 0 once it is posted.
    """
    from reviewbot.publish.destination import Destination, hosted_job, with_token_taken_out
    from reviewbot.publish.sending import drop_pictures, send

    environment = with_token_taken_out(os.environ)
    job = hosted_job(environment) if host is None else None
    if remove:
        drop_pictures(
            host=job.host if job else str(host),
            server=job.server if job else server,
            repository=job.repository if job else repo,
            number=request or (job.number if job else None),
            environment=environment,
            say=typer.echo,
            is_dry=dry_run,
        )
        return
    destination = job or Destination(
        host=str(host),
        server=server,
        repository=repo,
        number=request,
        head_commit=commit,
        head_repository=head_repo or repo,
    )
    told, pictures = _received(report, settings)
    send(told, pictures, destination, environment=environment, say=typer.echo, is_dry=dry_run)


def _received(folder: Path | None, settings: Path | None) -> tuple[Report, dict[str, bytes]]:
    """The report, checked, with the gate that judges it, and its pictures."""
    from reviewbot.publish.received import read_received
    from reviewbot.settings import read_settings

    if folder is None:
        raise UsageError("name the report to post: a folder that a review wrote")
    received = read_received(folder.parent if folder.name == "report.json" else folder)
    for sentence in received.refused:
        typer.echo(f"reviewbot: {sentence}", err=True)
    if settings is None:
        return received.report, received.pictures
    gate = read_settings(settings).gate.fail_on
    return received.report.model_copy(update={"fail_on": gate}), received.pictures
