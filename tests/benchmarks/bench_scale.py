"""Many assets in one repository, as whole processes.

Run by hand: python tests/benchmarks/bench_scale.py [MESHES [CHANGED]]   (2000 and 50 unless told)

A repository of MESHES meshes of about 1,000 faces: all of them checked, one of them changed and
reviewed, CHANGED of them changed and reviewed with pictures; each with nothing kept, and again
with what the first time kept. Prints wall seconds, processor seconds of all processes, and the
largest memory that all of them held together.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

from assets import write_pair

from reviewbot.cache.disk import contents
from reviewbot.history.writing import NewCommit, write_repository

FACES = 1000
PAUSE = 0.1  # seconds between two looks at the memory


def build(folder: Path, meshes: int, changed: int) -> tuple[str, ...]:
    """Three commits: all meshes, one of them changed, and more of them changed."""
    before, after = (path.read_bytes() for path in write_pair(folder / "pair", FACES))

    def prop(data: bytes, number: int) -> tuple[str, bytes]:
        moved = data.replace(b" 0.4", b" 0.4%04d" % number)
        return f"props/{number // 100:03}/prop_{number:05}.obj", moved

    versions: list[dict[str, bytes | None]] = [
        dict(prop(before, number) for number in range(meshes)),
        dict([prop(after, 0)]),
        dict(prop(after, number) for number in range(1, changed + 1)),
    ]
    return write_repository(
        folder / "repository",
        tuple(
            NewCommit(
                message=f"Version {number}",
                author="Ines Okafor",
                email="ines@example.org",
                when=datetime(2024, 3, 1 + number, tzinfo=UTC),
                files=files,
            )
            for number, files in enumerate(versions)
        ),
    )


def checked_out(folder: Path, meshes: int) -> Path:
    """The first commit's files in a folder."""
    subprocess.run(
        ["git", "worktree", "add", "--quiet", str(folder / "work"), "HEAD~2"],
        cwd=folder / "repository",
        check=True,
    )
    assert len(list((folder / "work").rglob("*.obj"))) == meshes
    return folder / "work"


def tree_memory(process: int) -> int:
    """Bytes that a process and all below it hold, each page shared counted for each."""
    return sum(resident(one) for one in family(process))


def family(process: int) -> Iterator[int]:
    yield process
    for children in Path(f"/proc/{process}/task").glob("*/children"):
        try:
            for child in children.read_text().split():
                yield from family(int(child))
        except OSError:
            continue


def resident(process: int) -> int:
    try:
        pages = int(Path(f"/proc/{process}/statm").read_text().split()[1])
    except (OSError, IndexError):
        return 0
    return pages * os.sysconf("SC_PAGE_SIZE")


def timed(name: str, *arguments: str, cache: Path) -> float:
    """Runs the command and prints what it took; wall seconds."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    start = time.perf_counter()
    process = subprocess.Popen(
        [sys.executable, "-m", "reviewbot", *arguments, "--quiet"],
        env={**os.environ, "REVIEWBOT_CACHE": str(cache)},
    )
    most, done = 0, threading.Event()

    def watch() -> None:
        nonlocal most
        while not done.wait(PAUSE):
            most = max(most, tree_memory(process.pid))

    watcher = threading.Thread(target=watch)
    watcher.start()
    status = process.wait()
    wall = time.perf_counter() - start
    done.set()
    watcher.join()
    if status not in (0, 1):
        raise SystemExit(f"failed: {' '.join(arguments)}")
    now = resource.getrusage(resource.RUSAGE_CHILDREN)
    processor = now.ru_utime + now.ru_stime - used.ru_utime - used.ru_stime
    print(f"  {name:44} {wall:8.2f} s {processor:8.2f} s of processor {most / 1e6:8.0f} MB")
    sys.stdout.flush()
    return wall


def twice(name: str, *arguments: str, folder: Path) -> None:
    cache = folder / "kept" / name.replace(" ", "-")
    first = timed(f"{name}, nothing kept", *arguments, cache=cache)
    second = timed(f"{name}, again", *arguments, cache=cache)
    held = contents(cache)
    print(
        f"    again in {100 * second / first:.1f} % of the time; kept: {held.entries} entries,"
        f" {held.size / 1e6:.1f} MB"
    )


def main() -> None:
    meshes, changed = [*map(int, sys.argv[1:]), 2000, 50][:2] if sys.argv[1:] else (2000, 50)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        commits = build(folder, meshes, changed)
        work = checked_out(folder, meshes)
        out = ("--out", str(folder / "out"))
        repository = str(folder / "repository")
        print(f"{meshes:,} meshes of {FACES:,} faces on {len(os.sched_getaffinity(0))} cores")
        one = ("review", repository, "--head", commits[1], *out)
        twice("one changed asset", *one, folder=folder)
        twice("one changed asset without pictures", *one, "--no-pictures", folder=folder)
        many = ("review", repository, "--head", commits[2], *out)
        twice(f"{changed} changed assets with pictures", *many, folder=folder)
        twice(f"{changed} changed assets without pictures", *many, "--no-pictures", folder=folder)
        twice(f"all {meshes:,} measured", "check", str(work), *out, "--no-pictures", folder=folder)


if __name__ == "__main__":
    main()
