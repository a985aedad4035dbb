"""How long finding the changed files takes in a history of 10,000 files.

    python tests/benchmarks/bench_history.py [FILES]

Each row is the median of five runs; the reference column is the bare git command alone.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import UTC, datetime
from functools import partial
from pathlib import Path

from reviewbot.history.git import changed_files, file_at, open_history, read_blobs
from reviewbot.history.writing import NewCommit, write_repository


def contents(count: int, *, version: int) -> dict[str, bytes]:
    body = b"".join(b"v %d 0 0\n" % n for n in range(100))
    return {
        f"props/{n // 100:03}/prop_{n:05}.obj": body + b"v %d %d 0\n" % (n, version)
        for n in range(count)
    }


def build(folder: Path, count: int) -> tuple[str, ...]:
    """Four commits: all files, one changed, all changed, all moved and changed."""
    last = contents(count, version=3)
    moved: dict[str, bytes | None] = {"moved/" + path: data for path, data in last.items()}
    versions: list[dict[str, bytes | None]] = [
        {**contents(count, version=1)},
        {"props/000/prop_00007.obj": b"v 1 2 3\n"},
        {**contents(count, version=2)},
        {**moved, **dict.fromkeys(last, None)},
    ]
    return write_repository(
        folder,
        tuple(
            NewCommit(
                message=f"Version {n}",
                author="Ines Okafor",
                email="ines@example.org",
                when=datetime(2024, 3, 1 + n, tzinfo=UTC),
                files=files,
            )
            for n, files in enumerate(versions)
        ),
    )


def seconds(work: Callable[[], object]) -> float:
    taken = []
    for _ in range(5):
        start = time.perf_counter()
        work()
        taken.append(time.perf_counter() - start)
    return statistics.median(taken)


def bare_git(folder: Path, commit: str) -> None:
    subprocess.run(
        ["git", "diff-tree", "-r", "-z", "--root", "-M50%", "-l20000", commit],
        cwd=folder,
        check=True,
        capture_output=True,
    )


def everything(path: str) -> bool:
    return bool(path)


def main(count: int) -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        commits = build(folder, count)
        with open_history(folder) as history:
            print(f"{count:,} files                    changed_files   git alone   found")
            for what, commit in zip(
                ("first commit", "one changed", "all changed", "all moved, edited"),
                commits,
                strict=True,
            ):
                found = changed_files(history, None, commit, everything).files
                ours = seconds(partial(changed_files, history, None, commit, everything))
                git = seconds(partial(bare_git, folder, commit))
                print(f"{what:<28} {ours:12.3f} s {git:9.3f} s {len(found):7,}")
            blobs = [file.after_blob or "" for file in found]
            every = seconds(lambda: list(read_blobs(history, blobs)))
            print(f"{'reading every blob':<28} {every:12.3f} s")
            path = found[-1].raw_path
            at = seconds(lambda: [file_at(history, commits[-1], path) for _ in range(100)])
            print(f"{'a file by path, 100 times':<28} {at:12.3f} s")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 10_000)
