"""What reading processes open while they read spoiled files, as the kernel sees it.

Run by hand: python tests/benchmarks/watch_spoiled.py [FILES]   (50 of each format unless told)
Needs `strace`. Every file, connection and program that a reading process asks for is held against
what it may have: libraries before it has given up the right to open more, and nothing afterwards.
A USD layer is parsed before that, since its library takes the binary form only from the disk,
where it gets a file of its own in a new folder; all that was opened until then is printed.
"""

from __future__ import annotations

import re
import subprocess
import sys
import tempfile
from collections import Counter
from pathlib import Path

CALLS = "open,openat,openat2,creat,socket,connect,execve,prlimit64,setrlimit,link,symlink,unlink"
_LINE = re.compile(r"^(\d+) +(\w+)\((.*)\) += (-?\d+)")
_PATH = re.compile(r'"([^"]*)"')
_RANDOM = re.compile(r"(?<=/)(tmp)?[a-z0-9_]{8}(?=/|$)")
_SEALED = re.compile(r"RLIMIT_NOFILE, \{rlim_cur=0")
OWN_PLACES = (
    *(sys.prefix, sys.base_prefix, str(Path(__file__).parents[2])),
    *("/usr/", "/lib", "/etc/ld.so.cache", "/etc/localtime", "/proc/", "/sys/", "/dev/null"),
)


def main() -> None:
    files = sys.argv[1] if len(sys.argv) > 1 else "50"
    with tempfile.TemporaryDirectory() as folder:
        log = Path(folder) / "calls"
        command = ["strace", "-f", "-qq", "-e", f"trace={CALLS}", "-e", "signal=none", "-o", log]
        subprocess.run([*command, sys.executable, __file__, "read", files], check=True)
        report(log.read_text(errors="replace"))


def read(files: int) -> None:
    """The reading that is watched, in a process of its own."""
    from bench_spoiled import FILES, MEMORY_MB, SECONDS, outcome
    from readers.mutations import spoiled_files

    from reviewbot.readers.isolation import IsolatedReader

    for suffix in FILES:
        with IsolatedReader(memory_mb=MEMORY_MB, seconds=SECONDS) as reader:
            for data in spoiled_files(files, suffix=suffix, seed=4):
                outcome(reader, data, suffix)


def report(log: str) -> None:
    sealed: set[str] = set()
    readers = set(re.findall(r'^(\d+) +execve\("[^"]*", \[[^\]]*"-P", "-c"', log, re.MULTILINE))
    before, after = Counter[str](), Counter[str]()
    for line in log.splitlines():
        found = _LINE.match(line)
        if not found or found[1] not in readers:
            continue
        process, call, values, result = found.groups()
        if _SEALED.search(values):
            sealed.add(process)
        elif call not in ("prlimit64", "setrlimit") and int(result) >= 0:
            path = (_PATH.findall(values) or [values])[0]
            if process in sealed:
                after[f"{call} {path}"] += 1
            elif not path.startswith(OWN_PLACES):
                before[f"{call} {_RANDOM.sub('*', path)}"] += 1
    print(f"{len(readers)} reading processes; {len(sealed)} gave up the right to open more,")
    print(f"and opened then: {dict(after) or 'nothing'}")
    print(f"all opened before, besides their own libraries: {dict(before) or 'nothing'}")


if __name__ == "__main__":
    if sys.argv[1:2] == ["read"]:
        sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
        read(int(sys.argv[2]))
    else:
        main()
