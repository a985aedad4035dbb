"""Reading the same OBJ file by this project and by other libraries, each in a fresh process.

Run by hand: python tests/benchmarks/bench_reading.py [QUADS ...]   (10k, 100k and 1M unless told)
Prints the best of three: processor seconds from bytes on the disk to polygons in memory, without
imports, and the peak memory of the largest process. Missing libraries are said to be so;
`tinyobjloader` and `ufbx` are C++ and C parsers of polygons, `trimesh` makes triangles.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
from pathlib import Path

from assets import write_pair

RUNS = 3
MEASURED = """
import os, resource, sys, time
path = sys.argv[1]
{prepare}
start = time.process_time()
{load}
seconds = time.process_time() - start
used = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
seconds += used[1].ru_utime + used[1].ru_stime  # the reading process, its start too
print(seconds, max(use.ru_maxrss for use in used) / 1024, flush=True)
os._exit(0)  # some native libraries crash while they tidy up
"""
ISOLATED = (  # within the limits that hold unless the settings say otherwise
    "from reviewbot.readers.isolation import IsolatedReader\n"
    "from reviewbot.settings import FileSettings\n"
    "files = FileSettings()\n"
    "reader = IsolatedReader(memory_mb=files.memory_mb, seconds=files.seconds)",
    "reader.read(open(path, 'rb').read(), path=path); reader.__exit__(None, None, None)",
)
READERS = {
    "tinyobjloader (C++)": (
        "import tinyobjloader as t; reader = t.ObjReader(); config = t.ObjReaderConfig();"
        " config.triangulate = False",
        "assert reader.ParseFromFile(path, config)",
    ),
    "ufbx (C)": ("import ufbx", "ufbx.load_file(path)"),
    "reviewbot, in process": (
        "from reviewbot.readers.formats import read_model",
        "read_model(open(path, 'rb').read(), path=path)",
    ),
    "reviewbot, isolated": ISOLATED,
    "trimesh": ("import trimesh", "trimesh.load(path, process=False)"),
}


def measured(path: Path, prepare: str, load: str, runs: int = RUNS) -> str:
    """Processor seconds and peak MB of the best run, or that the library is missing."""
    code = MEASURED.format(prepare=prepare, load=load)
    results = []
    for _ in range(runs):
        done = subprocess.run(
            [sys.executable, "-c", code, str(path)], capture_output=True, text=True, check=False
        )
        if done.returncode:
            return "not here: " + (done.stderr.strip().splitlines() or ["no reason"])[-1][:80]
        results.append(tuple(map(float, done.stdout.split()[-2:])))
    return "{:7.3f} s {:6.0f} MB".format(*min(results))


def main() -> None:
    sizes = [int(word) for word in sys.argv[1:]] or [10_000, 100_000, 1_000_000]
    with tempfile.TemporaryDirectory() as folder:
        for quads in sizes:
            path, _ = write_pair(Path(folder), quads)
            print(f"\n{quads:,} quads, {path.stat().st_size / 1e6:.1f} MB")
            for name, (prepare, load) in READERS.items():
                print(f"  {name:24} {measured(path, prepare, load)}")


if __name__ == "__main__":
    main()
