"""Tens of thousands of spoiled files through the isolated reader: what became of them, how fast.

Run by hand: python tests/benchmarks/bench_spoiled.py [SHARE [SUFFIX...]]   (1, all, unless told)
SHARE scales how many files each format gets: 20,000 where one process reads them all, fewer where
a native library takes a process a file. Faults are a reader's own exception, an answer that makes
no sense, a crash, a hang, and an asking for a file outside; crashes of native libraries are told
apart. Files at fault are kept in the folder named. `watch_spoiled.py` looks at what is opened.
"""

from __future__ import annotations

import importlib.util
import resource
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from readers.mutations import spoiled_files

from reviewbot.errors import MeshReadError
from reviewbot.readers.isolation import IsolatedReader
from reviewbot.readers.references import inner_path

FILES = {
    ".obj": 20_000,
    ".gltf": 20_000,
    ".glb": 20_000,
    ".ply": 20_000,
    ".stl": 20_000,
    ".fbx": 6_000,
    ".usda": 2_000,
    ".usdc": 2_000,
    ".usdz": 2_000,
}
LIBRARIES = {".fbx": "ufbx", ".usda": "pxr", ".usdc": "pxr", ".usdz": "pxr"}
FAULTS = ("failed on it", "without an answer", "no sound mesh", "crashed", "allowed")
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


def spoil(reader: IsolatedReader, suffix: str, count: int, kept: Path) -> None:
    results: Counter[str] = Counter()
    start, slowest = time.perf_counter(), 0.0
    for number, data in enumerate(spoiled_files(count, suffix=suffix, seed=2)):
        begun = time.perf_counter()
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
    share = float(sys.argv[1]) if len(sys.argv) > 1 else 1.0
    kept = Path(tempfile.mkdtemp(prefix="spoiled-"))
    for suffix in sys.argv[2:] or FILES:
        library = LIBRARIES.get(suffix)
        if library and importlib.util.find_spec(library) is None:
            print(f"{suffix}: {library} is not installed")
            continue
        with IsolatedReader(memory_mb=MEMORY_MB, seconds=SECONDS) as reader:
            spoil(reader, suffix, round(share * FILES[suffix]), kept)
    print(f"files at fault, if any, are in {kept}")


if __name__ == "__main__":
    main()
