"""The whole review beside the hand-written script, as whole processes on the same two files.

Run by hand: python tests/benchmarks/bench_review.py [QUADS ...]   (10000 100000 unless told)
Prints wall seconds, processor seconds and the largest process's memory, the median of three runs
after one that does not count; then what the script itself works on, the files already read; then
the stages of one review. All run as installed programs do, their modules compiled before.
"""

from __future__ import annotations

import os
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import TypeVar

from assets import write_pair

from reviewbot.checks.rules import MESH_RULES, run_rules
from reviewbot.checks.subject import Subject
from reviewbot.compare.comparison import compare
from reviewbot.cores import thread_count
from reviewbot.geometry.rays import _shared
from reviewbot.measure.examine import examine
from reviewbot.publish.folder import write_report
from reviewbot.readers.formats import read_model
from reviewbot.report.assemble import AssetFacts, Judged, asset_entry
from reviewbot.report.pictured import (
    PictureSettings,
    begin_scenes,
    compared_views,
    draw_asset,
)
from reviewbot.report.report import Report
from reviewbot.settings import Settings

T = TypeVar("T")

HERE = Path(__file__).parent
RUNS = 3
_COMPILING = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}


def timed(command: list[str]) -> tuple[float, float, float]:
    """Wall and processor seconds, and peak MB of one run; its output is thrown away."""
    start = time.perf_counter()
    process = subprocess.Popen(
        command, env=_COMPILING, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )
    _, status, usage = os.wait4(process.pid, 0)
    wall = time.perf_counter() - start
    if os.waitstatus_to_exitcode(status) not in (0, 1):
        raise SystemExit(f"failed: {' '.join(command)}")
    return wall, usage.ru_utime + usage.ru_stime, usage.ru_maxrss / 1024


def compared(quads: int, folder: Path) -> None:
    before, after = map(str, write_pair(folder, quads))
    review = [
        *(sys.executable, "-m", "reviewbot", "compare", before, after, "--quiet", "--no-cache")
    ]
    commands = {
        "hand-written script": [
            sys.executable,
            str(HERE / "reference_script.py"),
            before,
            after,
            str(folder / "script"),
        ],
        "review, everything on": [*review, "--out", str(folder / "review")],
        "review, no pictures": [*review, "--no-pictures", "--json", str(folder / "report.json")],
    }
    for command in commands.values():
        timed(command)  # it finds its files read and its modules compiled from here on
    runs: dict[str, list[tuple[float, float, float]]] = {name: [] for name in commands}
    for _ in range(RUNS):
        for name, command in commands.items():
            runs[name].append(timed(command))
    print(f"\n{quads:,} quads, each version")
    yardstick = statistics.median(wall for wall, _, _ in runs["hand-written script"])
    for name, figures in runs.items():
        wall, processor, memory = (
            statistics.median(column) for column in zip(*figures, strict=True)
        )
        print(
            f"  {name:24} {wall:7.2f} s  {processor:7.2f} s of processor  {memory:7.0f} MB"
            f"   {yardstick / wall:5.2f} times as fast as the script"
        )


def own_work(quads: int, folder: Path) -> None:
    """16 views of both versions, SSIM and silhouettes alone, wall seconds in either."""
    before, after = write_pair(folder, quads)
    script = [sys.executable, str(HERE / "reference_script.py"), before, after, folder / "script"]
    settings = Settings()
    old, new = (
        examine(read_model(path.read_bytes(), path=str(path)), settings) for path in (before, after)
    )
    comparison = compare(old, new, settings)
    wish = PictureSettings(path=str(after), settings=settings, renderer="auto")
    theirs, ours = [], []
    for _ in range(RUNS):
        said = subprocess.run(script, check=True, capture_output=True, text=True).stdout
        theirs.append(float(said.splitlines()[-1].split()[0]))
        _shared.clear()  # the trees for rays that measuring has built already
        start = time.perf_counter()
        with ThreadPoolExecutor(thread_count()) as pool:
            scenes = begin_scenes(old, new, pool)
        compared_views(old, new, comparison, wish, scenes=scenes)
        ours.append(time.perf_counter() - start)
    yardstick, mine = statistics.median(theirs), statistics.median(ours)
    print(
        f"  views, SSIM and silhouettes alone: script {yardstick:.2f} s, here {mine:.2f} s", end=""
    )
    print(f"   {yardstick / mine:5.2f} times as fast")


def staged(quads: int, folder: Path) -> None:
    """The stages of one review, one after the other in this process, wall and processor seconds."""
    before, after = write_pair(folder, quads)
    settings = Settings()
    times: list[tuple[str, float, float]] = []

    def stage(name: str, work: Callable[[], T]) -> T:
        wall, processor = time.perf_counter(), time.process_time()
        result = work()
        spent = time.perf_counter() - wall, time.process_time() - processor
        times.append((name, *spent))
        return result

    models = stage(
        "load", lambda: [read_model(p.read_bytes(), path=str(p)) for p in (before, after)]
    )
    old, new = stage("measure", lambda: [examine(model, settings) for model in models])
    comparison = stage("compare", lambda: compare(old, new, settings))
    subject = Subject(path=str(after), examination=new, settings=settings)
    findings = stage("findings", lambda: run_rules(subject, MESH_RULES))
    wish = PictureSettings(path=str(after), settings=settings, renderer="auto")
    with ThreadPoolExecutor(thread_count()) as pool:
        scenes = begin_scenes(old, new, pool)
        drawn = stage(
            "pictures", lambda: draw_asset(old, new, comparison, findings, wish, scenes=scenes)
        )
    files = {f"pictures/a/{one.name}{one.suffix}": one for one in drawn.album.pictures}
    facts = AssetFacts(
        path=str(after),
        before_path=str(before),
        before=old,
        after=new,
        mended=None,
        comparison=comparison,
        changes=tuple(Judged(what=one, accepted=None) for one in comparison.changes),
        findings=tuple(Judged(what=one, accepted=None) for one in findings),
        differences=drawn.album.differences,
        pictures=tuple(files.items()),
    )

    def report() -> None:
        entry = asset_entry(facts)
        whole = Report(
            tool="benchmark",
            title="benchmark",
            verdict=entry.verdict,
            summary=entry.summary,
            fail_on="stop",
            assets=(entry,),
        )
        write_report(whole, {name: one.data for name, one in files.items()}, folder / "stages")

    stage("report", report)
    for name, wall, processor in times:
        print(f"    {name:10} {wall:7.2f} s  {processor:7.2f} s of processor")


def main() -> None:
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    wanted = [int(word) for word in sys.argv[1:]] or [10_000, 100_000]
    with tempfile.TemporaryDirectory() as folder:
        for quads in wanted:
            compared(quads, Path(folder))
            own_work(quads, Path(folder))
            staged(quads, Path(folder))


if __name__ == "__main__":
    main()
