"""The command `snapshot`."""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import Annotated

import typer

from reviewbot.commands.options import (
    CacheFolder,
    Cluster,
    Json,
    Memory,
    NoCache,
    NoPictures,
    Out,
    Quiet,
    Renderer,
    SettingsFile,
    Workers,
    folder_for,
    options_for,
)
from reviewbot.commands.outcome import write_text


def snapshot(
    repo: Annotated[Path, typer.Argument(metavar="[REPO]")] = Path(),
    since: Annotated[
        str | None,
        typer.Option(
            "--since",
            metavar="WHEN",
            help="A day, a moment, '7 days' or a revision; a week if left.",
        ),
    ] = None,
    until: Annotated[
        str | None, typer.Option("--until", metavar="WHEN", help="The end; now if left.")
    ] = None,
    zone: Annotated[
        str, typer.Option("--zone", metavar="NAME", help="Whose days are meant: Europe/Oslo ...")
    ] = "UTC",
    head: Annotated[
        str, typer.Option("--head", metavar="REV", help="Whose history is looked at.")
    ] = "HEAD",
    out: Out = None,
    json: Json = None,
    settings: SettingsFile = None,
    no_pictures: NoPictures = False,
    workers: Workers = None,
    renderer: Renderer = "auto",
    quiet: Quiet = False,
    cache: CacheFolder = None,
    no_cache: NoCache = False,
    memory: Memory = None,
    cluster: Cluster = None,
    issue: Annotated[
        int | None, typer.Option("--issue", min=1, metavar="N", help="Post on this issue.")
    ] = None,
    host: Annotated[
        str | None, typer.Option("--host", metavar="github|gitlab|gitea|forgejo")
    ] = None,
    post_to: Annotated[str, typer.Option("--repo", metavar="OWNER/NAME")] = "",
    server: Annotated[
        str | None, typer.Option("--server", metavar="URL", help="The site, if not the public one.")
    ] = None,
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Say what would be posted; post nothing.")
    ] = False,
) -> None:
    """Tell the progress of a period: every asset touched, from its start to its end.

    Days are those of --zone; commits are dated by their committer. A quiet period is one line.
    With --issue, the digest is one comment there, which the next one replaces; the token comes
    from REVIEWBOT_TOKEN. Ends with status 1 where a finding stands at or above the gate.
    """
    from datetime import UTC, datetime

    from reviewbot.publish.destination import IssueAddress, hosted_issue, with_token_taken_out
    from reviewbot.publish.folder import write_progress
    from reviewbot.publish.sending import send_progress
    from reviewbot.report.json_report import to_json
    from reviewbot.report.progress_text import progress_text
    from reviewbot.snapshot.period import Asked
    from reviewbot.snapshot.run import take_snapshot

    environment = with_token_taken_out(os.environ)
    address = None
    if issue is not None:
        named = IssueAddress(host=host or "", server=server, repository=post_to, number=issue)
        address = named if host else hosted_issue(environment, issue)
    folder = folder_for(out, json)
    is_pictured = not no_pictures and (folder is not None or address is not None)
    options = options_for(
        settings,
        "all" if is_pictured else "none",
        workers,
        renderer,
        quiet,
        cache=cache,
        no_cache=no_cache,
        memory=memory,
        cluster=cluster,
    )
    asked = Asked(since=since, until=until, head=head, zone=zone)
    taken = take_snapshot(repo, asked, options, now=datetime.now(UTC))
    if folder is not None:
        write_progress(taken.report, taken.pictures, folder)
    if json == "-":
        sys.stdout.write(to_json(taken.report))
    elif json is not None:
        write_text(Path(json), to_json(taken.report))
    if json != "-" and not quiet:
        typer.echo(progress_text(taken.report, folder))
    if address is not None:
        send_progress(
            taken.report,
            taken.pictures,
            address,
            environment=environment,
            say=lambda line: typer.echo(line, err=json == "-" or not dry_run),
            is_dry=dry_run,
        )
    raise typer.Exit(taken.status)
