"""The whole review beside the hand-written script, as whole processes on the same two files.

Run by hand: python tests/benchmarks/bench_review.py [QUADS ...]   (10000 100000 unless told)
Prints wall seconds, processor seconds and the largest process's memory; the median of three runs.
"""

from __future__ import annotations

import os
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from assets import write_pair

HERE = Path(__file__).parent
RUNS = 3


def timed(command: list[str]) -> tuple[float, float, float]:
    """Wall and processor seconds, and peak MB of one run; its output is thrown away."""
    start = time.perf_counter()
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    _, status, usage = os.wait4(process.pid, 0)
    wall = time.perf_counter() - start
    if os.waitstatus_to_exitcode(status) not in (0, 1):
        raise SystemExit(f"failed: {' '.join(command)}")
    return wall, usage.ru_utime + usage.ru_stime, usage.ru_maxrss / 1024


def compared(quads: int, folder: Path) -> None:
    before, after = map(str, write_pair(folder, quads))
    review = [sys.executable, "-m", "reviewbot", "compare", before, after, "--quiet"]
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


def main() -> None:
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    wanted = [int(word) for word in sys.argv[1:]] or [10_000, 100_000]
    with tempfile.TemporaryDirectory() as folder:
        for quads in wanted:
            compared(quads, Path(folder))


if __name__ == "__main__":
    main()
