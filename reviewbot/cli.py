"""The command line. Progress goes to standard error, results to standard output.

Start-up stays short: each command imports what it needs when it runs.
"""

from __future__ import annotations

import os
import sys
import traceback
from dataclasses import dataclass
from pathlib import Path
from tempfile import NamedTemporaryFile
from typing import TYPE_CHECKING, Annotated, NoReturn

import typer

from reviewbot.errors import RendererUnavailableError, UsageError

if TYPE_CHECKING:
    from reviewbot.publish.destination import Destination
    from reviewbot.review import PictureWish
    from reviewbot.runs import Options, Plan, Reviewed

app = typer.Typer(
    name="reviewbot",
    help="Reviews 3D meshes kept in git: measures, pictures and compares every committed version.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
)

Out = Annotated[
    Path | None, typer.Option("--out", metavar="DIR", help="Write report and pictures there.")
]
Json = Annotated[
    str | None,
    typer.Option("--json", metavar="FILE", help="Write report.json there; - is standard output."),
]
Sarif = Annotated[
    Path | None, typer.Option("--sarif", metavar="FILE", help="Write the findings as SARIF 2.1.0.")
]
JUnit = Annotated[
    Path | None, typer.Option("--junit", metavar="FILE", help="Write the findings as JUnit XML.")
]
SettingsFile = Annotated[
    Path | None,
    typer.Option("--settings", metavar="FILE", help="Use these settings, not the repository's."),
]
NoPictures = Annotated[bool, typer.Option("--no-pictures", help="Measure and compare only.")]
Workers = Annotated[
    int | None, typer.Option("--workers", min=1, metavar="N", help="Processes; all cores if left.")
]
Renderer = Annotated[str, typer.Option("--renderer", metavar="auto|ray|gl", help="Back end.")]
Quiet = Annotated[bool, typer.Option("--quiet", help="No progress and no summary.")]

DEFAULT_OUT = Path("reviewbot-out")


@app.command()
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

    options = _options(None, "none" if no_pictures else "all", workers, renderer, quiet)
    result = run_demo(out, options)
    if not quiet:
        typer.echo(result.text)
    raise typer.Exit(result.status)


@app.command()
def check(
    paths: Annotated[list[Path], typer.Argument(metavar="PATH...", help="Files or folders.")],
    out: Out = None,
    json: Json = None,
    sarif: Sarif = None,
    junit: JUnit = None,
    settings: SettingsFile = None,
    no_pictures: NoPictures = False,
    workers: Workers = None,
    renderer: Renderer = "auto",
    quiet: Quiet = False,
) -> None:
    """Measure files, or all meshes in folders, as they stand."""
    from reviewbot.runs import plan_paths

    folder = _folder(out, json)
    options = _options(settings, _wish(no_pictures, folder), workers, renderer, quiet)
    asked = Asked(folder=folder, json=json, sarif=sarif, junit=junit, quiet=quiet)
    _finish(plan_paths(paths, options), options, asked)


@app.command()
def compare(
    before: Annotated[Path, typer.Argument(metavar="BEFORE")],
    after: Annotated[Path, typer.Argument(metavar="AFTER")],
    out: Out = None,
    json: Json = None,
    sarif: Sarif = None,
    junit: JUnit = None,
    settings: SettingsFile = None,
    no_pictures: NoPictures = False,
    workers: Workers = None,
    renderer: Renderer = "auto",
    quiet: Quiet = False,
) -> None:
    """Compare two files."""
    from reviewbot.runs import plan_two_files

    folder = _folder(out, json)
    options = _options(settings, _wish(no_pictures, folder), workers, renderer, quiet)
    asked = Asked(folder=folder, json=json, sarif=sarif, junit=junit, quiet=quiet)
    _finish(plan_two_files(before, after, options), options, asked)


@app.command()
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
    post: Annotated[
        bool, typer.Option("--post", help="Post on the request that this hosted job runs for.")
    ] = False,
) -> None:
    """Review the mesh files changed between two commits; the last commit if none is named."""
    from reviewbot.publish.destination import hosted_job
    from reviewbot.runs import plan_repository

    destination = hosted_job(os.environ) if post else None
    folder = _folder(out, json)
    options = _options(settings, _wish(no_pictures, folder), workers, renderer, quiet)
    asked = Asked(
        folder=folder,
        json=json,
        sarif=sarif,
        junit=junit,
        quiet=quiet,
        job_summary=os.environ.get("GITHUB_STEP_SUMMARY"),
        destination=destination,
    )
    _finish(plan_repository(repo, base, head, options), options, asked)


@app.command()
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


@app.command()
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


@app.command()
def formats() -> None:
    """List the formats, what each carries, and which can be read on this machine."""
    from reviewbot.readers.formats import formats_here

    for form in formats_here():
        state = "can be read here" if form.is_here else f"not here: {form.how_to_get}"
        typer.echo(f"{form.name} ({', '.join(form.suffixes)}): {state}\n    {form.carries}")


@app.command()
def schema() -> None:
    """Print the JSON Schema of report.json."""
    from reviewbot.report.json_report import schema_text

    typer.echo(schema_text())


def _folder(out: Path | None, json: str | None) -> Path | None:
    """Where the report goes: nowhere if only report.json was asked for."""
    return out or (DEFAULT_OUT if json is None else None)


def _wish(no_pictures: bool, folder: Path | None) -> PictureWish:
    """Without a folder to keep pictures in, views are compared all the same."""
    if no_pictures:
        return "none"
    return "figures" if folder is None else "all"


def _options(
    settings: Path | None,
    pictures: PictureWish,
    workers: int | None,
    renderer: str,
    quiet: bool,
) -> Options:
    from reviewbot.runs import Options, renderer_named

    return Options(
        settings_file=settings,
        pictures=pictures,
        workers=workers,
        renderer=renderer_named(renderer),
        show_progress=not quiet and sys.stderr.isatty(),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What is to be made of a review.

    json         a file's name; - is standard output
    job_summary  the file that a hosted job's page shows
    destination  the request to post on
    """

    folder: Path | None
    json: str | None
    sarif: Path | None
    junit: Path | None
    quiet: bool
    job_summary: str | None = None
    destination: Destination | None = None


def _finish(plan: Plan, options: Options, asked: Asked) -> NoReturn:
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
        _write_text(Path(str(asked.json)), to_json(reviewed.report))
    if asked.sarif is not None:
        _write_text(asked.sarif, to_sarif(reviewed.report))
    if asked.junit is not None:
        _write_text(asked.junit, to_junit(reviewed.report))


def _write_text(file: Path, text: str) -> None:
    try:
        file.write_text(text, encoding="utf-8")
    except OSError as error:
        raise UsageError(f"{file} cannot be written: {error.strerror}") from error


def _publish(reviewed: Reviewed, asked: Asked) -> None:
    from reviewbot.publish.job_summary import add_job_summary
    from reviewbot.publish.sending import send

    if asked.job_summary:
        add_job_summary(reviewed.report, Path(asked.job_summary))
    if asked.destination is not None:
        send(
            reviewed.report,
            reviewed.pictures,
            asked.destination,
            environment=os.environ,
            say=lambda line: typer.echo(line, err=True),
            is_dry=False,
        )


def main() -> None:
    """Entry point; expected failures end with one line and exit status 2."""
    try:
        app()
    except (UsageError, RendererUnavailableError) as error:
        sys.stderr.write(f"reviewbot: {error}\n")
        raise SystemExit(2) from None
    except KeyboardInterrupt:
        raise SystemExit(130) from None
    except BrokenPipeError:
        raise SystemExit(141) from None
    except Exception:
        # A fault of this tool: status 1 would read as a finding, and a traceback helps nobody here.
        with NamedTemporaryFile("w", prefix="reviewbot-", suffix=".log", delete=False) as log:
            traceback.print_exc(file=log)
        sys.stderr.write(f"reviewbot: a fault of reviewbot itself; please report {log.name}\n")
        raise SystemExit(2) from None
