"""Twenty thousand spoiled files through the isolated reader: what became of them, how fast.

Run by hand: python tests/benchmarks/bench_spoiled.py [FILES]   (20000 unless told)
A native library takes a process a file, so each of those gets one file in a hundred. Faults are
a reader's own exception, an answer that makes no sense, a crash, a hang, and an asking for a file
outside; crashes of native libraries are told apart. Files at fault are kept in the folder named.
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

NATIVE = {".fbx": "ufbx", ".usda": "pxr"}
SUFFIXES = (".obj", ".gltf", ".glb", ".ply", ".stl")
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
    print(f"{suffix:6} {count:6} files in {seconds:6.1f} s, the slowest {slowest:.2f} s")
    for result, times in results.most_common():
        print(f"       {times:6} {result}")


def main() -> None:
    files = int(sys.argv[1]) if len(sys.argv) > 1 else 20_000
    kept = Path(tempfile.mkdtemp(prefix="spoiled-"))
    native = [s for s, library in NATIVE.items() if importlib.util.find_spec(library)]
    with IsolatedReader(memory_mb=MEMORY_MB, seconds=SECONDS) as reader:
        for suffix in SUFFIXES:
            spoil(reader, suffix, -(-files // len(SUFFIXES)), kept)
        for suffix in native:
            spoil(reader, suffix, files // 100, kept)
    peak = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
    print(f"largest reading process {peak:.0f} MB; files at fault, if any, are in {kept}")


if __name__ == "__main__":
    main()
