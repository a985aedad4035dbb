"""The demo from end to end: build the repository, review every commit, write the reports."""

from __future__ import annotations

import re
import shutil
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from jinja2 import Environment, PackageLoader, StrictUndefined

from reviewbot.demo.scenario import Step, build_repository
from reviewbot.errors import UsageError
from reviewbot.publish.folder import write_report
from reviewbot.report.plain_text import plain_sentence
from reviewbot.report.wording import VERDICT_SYMBOLS
from reviewbot.runs import Options, Reviewed, carry_out, plan_repository

MARK = ".reviewbot-demo"  # a folder with this in it is ours to make anew


@dataclass(frozen=True, slots=True, kw_only=True)
class DemoResult:
    """What to print, and the exit status: 1, since faults are planted."""

    text: str
    status: int


def run_demo(folder: Path, options: Options) -> DemoResult:
    """Make the demo in `folder`, anew if it holds an earlier one.

    Raises UsageError where it holds something else.
    """
    _clear(folder)
    repository = folder / "lantern"
    steps = build_repository(repository)
    plans = [plan_repository(repository, None, step.commit, options) for step in steps]
    lines, entries, status = [], [], 0
    for number, (step, reviewed) in enumerate(
        zip(steps, carry_out(plans, options), strict=True), start=1
    ):
        name = f"{number:02}-{_slug(step.title)}"
        write_report(reviewed.report, reviewed.pictures, folder / "reviews" / name)
        entries.append(_entry(step, reviewed, f"reviews/{name}/report.html"))
        lines.append("{symbol} {verdict:4} {title}\n       {summary}".format(**entries[-1]))
        status = max(status, reviewed.status)
    index = folder / "index.html"
    index.write_text(_page(entries), encoding="utf-8")
    lines += ["", f"repository: {repository}", f"page:       {index}"]
    return DemoResult(text="\n".join(lines), status=status)


def _clear(folder: Path) -> None:
    if folder.exists() and not folder.is_dir():
        raise UsageError(f"{folder} is a file: give a folder")
    if folder.is_dir() and any(folder.iterdir()):
        if not (folder / MARK).is_file():
            raise UsageError(f"{folder} holds something else: give a new folder with --out")
        shutil.rmtree(folder)
    folder.mkdir(parents=True, exist_ok=True)
    (folder / MARK).write_text("made by `reviewbot demo`, which makes it anew\n", encoding="utf-8")


def _slug(title: str) -> str:
    return re.sub(r"[^a-z0-9]+", "-", title.lower()).strip("-")[:40].strip("-")


def _entry(step: Step, reviewed: Reviewed, link: str) -> dict[str, str]:
    verdict = reviewed.report.verdict
    return {
        "symbol": VERDICT_SYMBOLS[verdict],
        "verdict": verdict,
        "title": step.title,
        "summary": plain_sentence(reviewed.report.summary),
        "link": link,
    }


def _page(entries: Sequence[dict[str, str]]) -> str:
    environment = Environment(
        loader=PackageLoader("reviewbot.demo"), autoescape=True, undefined=StrictUndefined
    )
    return environment.get_template("index.html").render(steps=entries)
