"""What is made of a finished review: files, a text, a post, and the exit status."""

from __future__ import annotations

import sys
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

import typer

from reviewbot.errors import UsageError

if TYPE_CHECKING:
    from reviewbot.publish.destination import Destination
    from reviewbot.runs import Options, Plan, Reviewed


@dataclass(frozen=True, slots=True, kw_only=True)
class Post:
    """Where a review is to be posted.

    environment  holds the token
    is_dry       say what would be sent, send nothing
    """

    destination: Destination
    environment: Mapping[str, str]
    is_dry: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What is to be made of a review.

    json         a file's name; - is standard output
    job_summary  the file that a hosted job's page shows
    post         where to post it
    """

    folder: Path | None
    json: str | None
    sarif: Path | None
    junit: Path | None
    quiet: bool
    job_summary: str | None = None
    post: Post | None = None


def finish(plan: Plan, options: Options, asked: Asked) -> NoReturn:
    """Review, write what was asked for, say the outcome, and end with the gate's status."""
    from reviewbot.report.json_report import to_json
    from reviewbot.report.terminal import to_text
    from reviewbot.runs import carry_out

    (reviewed,) = carry_out([plan], options)
    _write(reviewed, asked)
    if asked.json == "-":
        sys.stdout.write(to_json(reviewed.report))
    elif not asked.quiet:
        typer.echo(to_text(reviewed.report, asked.folder))
    _publish(reviewed, asked)
    raise typer.Exit(reviewed.status)


def _write(reviewed: Reviewed, asked: Asked) -> None:
    from reviewbot.publish.folder import write_report
    from reviewbot.report.json_report import to_json
    from reviewbot.report.junit import to_junit
    from reviewbot.report.sarif import to_sarif

    if asked.folder is not None:
        write_report(reviewed.report, reviewed.pictures, asked.folder)
    if asked.json not in (None, "-"):
        write_text(Path(str(asked.json)), to_json(reviewed.report))
    if asked.sarif is not None:
        write_text(asked.sarif, to_sarif(reviewed.report))
    if asked.junit is not None:
        write_text(asked.junit, to_junit(reviewed.report))


def write_text(file: Path, text: str) -> None:
    """Raises UsageError where the file cannot be written."""
    try:
        file.write_text(text, encoding="utf-8")
    except OSError as error:
        raise UsageError(f"{file} cannot be written: {error.strerror}") from error


def _publish(reviewed: Reviewed, asked: Asked) -> None:
    if asked.job_summary:
        from reviewbot.publish.job_summary import add_job_summary

        add_job_summary(reviewed.report, Path(asked.job_summary))
    if asked.post is not None:
        from reviewbot.publish.sending import send

        send(
            reviewed.report,
            reviewed.pictures,
            asked.post.destination,
            environment=asked.post.environment,
            say=lambda line: typer.echo(line, err=True),
            is_dry=asked.post.is_dry,
        )
