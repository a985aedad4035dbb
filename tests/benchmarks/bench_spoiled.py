"""Tens of thousands of spoiled files through the isolated reader: what became of them, how fast.

Run by hand: python tests/benchmarks/bench_spoiled.py [SHARE [SUFFIX...]]   (1, all, unless told)
SHARE scales how many files each format gets. All go through the isolated reader, except where a
native library gets a process a file: there, after the first hundred, each is read in a fork of one
process that has the library loaded, within the same limits, which saves starting it. Faults are a
reader's own exception, an answer that makes no sense, a crash, a hang, and an asking for a file
outside; crashes of native libraries are told apart. Files at fault are kept in the folder named.
`watch_spoiled.py` looks at what is opened.
"""

from __future__ import annotations

import importlib.util
import os
import resource
import signal
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from readers.mutations import spoiled_files

from reviewbot.errors import MeshReadError
from reviewbot.readers.formats import lone_reader, read_model
from reviewbot.readers.isolation import IsolatedReader
from reviewbot.readers.known import FORMATS
from reviewbot.readers.limits import limit_memory, open_nothing_more
from reviewbot.readers.references import inner_path

FILES = {
    ".obj": 20_000,
    ".gltf": 20_000,
    ".glb": 20_000,
    ".ply": 20_000,
    ".stl": 20_000,
    ".fbx": 20_000,
    ".usda": 10_000,
    ".usdc": 10_000,
    ".usdz": 10_000,
}
ISOLATED_NATIVE = 100
LIBRARIES = {".fbx": "ufbx", ".usda": "pxr", ".usdc": "pxr", ".usdz": "pxr"}
FAULTS = ("failed on it", "without an answer", "no sound mesh", "crashed", "seconds allowed")
ONE_THREAD = {"OPENBLAS_NUM_THREADS": "1", "PXR_WORK_THREAD_LIMIT": "1"}  # forks need it
MEMORY_MB, SECONDS = 512, 20.0


def outcome(reader: IsolatedReader, data: bytes, suffix: str) -> str:
    """ "read", "refused", or the fault."""

    def siblings(name: str) -> bytes | None:
        assert inner_path(name) == name
        return data

    try:
        reader.read(data, path=f"lamp{suffix}", siblings=siblings)
    except MeshReadError as error:
        if any(fault in error.reason for fault in FAULTS):
            return error.reason[:120]
        return "refused"
    return "read"


def forked_outcome(data: bytes, suffix: str) -> str:
    """As `outcome`, read in a fork of this process within the limits of a reading process."""
    answer, saying = os.pipe()
    child = os.fork()
    if not child:
        os.dup2(os.open(os.devnull, os.O_WRONLY), 2)
        signal.alarm(int(SECONDS))
        limit_memory(MEMORY_MB << 20)
        os.write(saying, _said(data, suffix).encode()[:200])
        os._exit(0)
    os.close(saying)
    with open(answer, "rb") as stream:
        said = stream.read().decode(errors="replace")
    _, status = os.waitpid(child, 0)
    if os.WIFSIGNALED(status):
        ended = signal.Signals(os.WTERMSIG(status))
        return "a hang" if ended == signal.SIGALRM else f"crashed ({ended.name})"
    return said


def _said(data: bytes, suffix: str) -> str:
    try:
        read_model(data, path=f"lamp{suffix}", siblings=lambda _: data, seal=open_nothing_more)
    except (MeshReadError, MemoryError, RecursionError):
        return "refused"
    except Exception as error:
        return f"the reader failed on it ({type(error).__name__}: {error})"
    return "read"


def spoil(reader: IsolatedReader, suffix: str, count: int, kept: Path) -> None:
    results: Counter[str] = Counter()
    start, slowest = time.perf_counter(), 0.0
    for number, data in enumerate(spoiled_files(count, suffix=suffix, seed=2)):
        begun = time.perf_counter()
        if suffix in LIBRARIES and number >= ISOLATED_NATIVE:
            result = forked_outcome(data, suffix)
        else:
            result = outcome(reader, data, suffix)
        slowest = max(slowest, time.perf_counter() - begun)
        results[result] += 1
        if result not in ("read", "refused"):
            (kept / f"{number}{suffix}").write_bytes(data)
    seconds = time.perf_counter() - start
    peak = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
    print(
        f"{suffix:6} {count:6} files in {seconds:6.1f} s, the slowest {slowest:.2f} s; "
        f"largest reading process so far {peak:.0f} MB"
    )
    for result, times in results.most_common():
        print(f"       {times:6} {result}", flush=True)


def main() -> None:
    if not ONE_THREAD.items() <= os.environ.items():
        os.execve(sys.executable, [sys.executable, *sys.argv], os.environ | ONE_THREAD)
    share = float(sys.argv[1]) if len(sys.argv) > 1 else 1.0
    kept = Path(tempfile.mkdtemp(prefix="spoiled-"))
    for suffix in sys.argv[2:] or FILES:
        library = LIBRARIES.get(suffix)
        if library and importlib.util.find_spec(library) is None:
            print(f"{suffix}: {library} is not installed")
            continue
        if library:
            lone_reader(FORMATS[suffix]).prepare()
        with IsolatedReader(memory_mb=MEMORY_MB, seconds=SECONDS) as reader:
            spoil(reader, suffix, round(share * FILES[suffix]), kept)
    print(f"files at fault, if any, are in {kept}")


if __name__ == "__main__":
    main()
