"""Entries on a disk: several processes, a full or locked disk, damage, and growth."""

import errno
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import pytest
from kept import cache_in

from reviewbot.cache.disk import Contents, contents, trim

MB = 1 << 20


def files_of(folder: Path) -> list[Path]:
    return sorted(folder.glob("??/*.kept"))


def test_what_was_put_is_found_again(tmp_path):
    cache, said = cache_in(tmp_path / "kept")
    assert cache.get("a") is None
    cache.put("a", {"x": 1}, [b"one", b""])
    assert cache.get("a") == ({"x": 1}, [b"one", b""])
    assert (contents(tmp_path / "kept").entries, said) == (1, [])


def test_looking_makes_no_folder(tmp_path):
    cache, _ = cache_in(tmp_path / "kept")
    cache.get("a")
    assert contents(tmp_path / "kept") == Contents(entries=0, size=0, oldest=None)
    assert not (tmp_path / "kept").exists()


@pytest.mark.skipif(os.name != "posix", reason="rights are kept otherwise there")
def test_the_folder_is_its_owners_alone(tmp_path):
    cache, _ = cache_in(tmp_path / "kept")
    cache.put("a", {})
    assert (tmp_path / "kept").stat().st_mode & 0o077 == 0


@pytest.mark.parametrize("damage", ["cut", "altered", "swapped", "foreign"])
def test_a_damaged_entry_is_thrown_away_and_said_once(tmp_path, damage):
    cache, said = cache_in(tmp_path)
    cache.put("a", {"x": 1}, [b"some bytes"])
    cache.put("b", {"x": 2}, [b"more bytes"])
    one, other = files_of(tmp_path)
    whole = one.read_bytes()
    changed = {
        "cut": whole[:-3],
        "altered": whole[:-1] + bytes([whole[-1] ^ 1]),
        "swapped": other.read_bytes(),
        "foreign": b"\x80\x04 something else",
    }
    one.write_bytes(changed[damage])
    other.write_bytes(changed[damage] if damage != "swapped" else whole)
    assert (cache.get("a"), cache.get("b")) == (None, None)
    assert len(said) == 1
    assert "thrown away" in said[0]
    assert files_of(tmp_path) == []


WRITER = """
import sys
from pathlib import Path
from reviewbot.cache.disk import Cache, Place

cache = Cache(place=Place(folder=Path(sys.argv[1])), say=lambda line: sys.exit(line))
for turn in range(60):
    for key in "abcd":
        found = cache.get(key)
        if found is not None and found != ({"key": key}, [key.encode() * 50_000]):
            sys.exit(f"half an entry under {key}")
        cache.put(key, {"key": key}, [key.encode() * 50_000])
"""


def test_processes_writing_the_same_keys_never_see_half_an_entry(tmp_path):
    command = [sys.executable, "-c", WRITER, str(tmp_path)]
    writers = [subprocess.Popen(command, stderr=subprocess.PIPE) for _ in range(3)]
    assert [writer.communicate()[1] for writer in writers] == [b"", b"", b""]
    assert [writer.returncode for writer in writers] == [0, 0, 0]
    assert len(files_of(tmp_path)) == 4
    assert list(tmp_path.glob("??/*.part")) == []


def test_a_full_disk_is_said_once_and_costs_nothing_else(tmp_path, monkeypatch):
    cache, said = cache_in(tmp_path)
    cache.put("a", {"x": 1})

    def full(*_args: object, **_more: object) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(tempfile, "mkstemp", full)
    for key in "bcd":
        cache.put(key, {})
    assert len(said) == 1
    assert "No space left" in said[0]
    assert cache.get("a") == ({"x": 1}, [])


def test_a_file_that_may_not_grow_leaves_nothing_half_written(tmp_path):
    """By a limit of the system itself, as a full disk would, in the middle of a write."""
    script = (
        "import resource, signal, sys; from pathlib import Path\n"
        "from reviewbot.cache.disk import Cache, Place\n"
        "signal.signal(signal.SIGXFSZ, signal.SIG_IGN)\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (20_000, 20_000))\n"
        "cache = Cache(place=Place(folder=Path(sys.argv[1])), say=print)\n"
        "cache.put('small', {}); cache.put('large', {}, [b'x' * 100_000]); cache.put('b', {})\n"
        "assert cache.get('small') and not cache.get('large')"
    )
    command = [sys.executable, "-c", script, str(tmp_path)]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    assert done.stdout.count("\n") == 1
    assert "nothing is kept" in done.stdout
    assert len(files_of(tmp_path)) == 1
    assert list(tmp_path.glob("??/*.part")) == []


def test_a_folder_that_cannot_be_made_is_said_once(tmp_path):
    (tmp_path / "kept").write_text("a file stands in the way")
    cache, said = cache_in(tmp_path / "kept")
    cache.put("a", {})
    cache.put("b", {})
    assert cache.get("a") is None
    assert len(said) == 1


def aged(folder: Path, keys: str, *, size: int) -> None:
    """Entries of about a size, the first named used longest ago."""
    for age, key in enumerate(reversed(keys)):
        before = set(files_of(folder))
        cache_in(folder)[0].put(key, {}, [bytes(size)])
        (new,) = set(files_of(folder)) - before
        os.utime(new, (time.time() - 10_000 * (age + 1),) * 2)


def test_what_was_used_last_stays(tmp_path):
    aged(tmp_path, "abcdefghij", size=MB)
    cache, _ = cache_in(tmp_path)
    assert cache.get("a") is not None  # the oldest, used again
    out = trim(tmp_path, 5 * MB)
    kept = [key for key in "abcdefghij" if cache.get(key) is not None]
    assert kept == ["a", "h", "i", "j"]  # below nine tenths of the limit
    assert out.entries == 6
    assert contents(tmp_path).size <= 5 * MB


def test_nothing_goes_while_there_is_room(tmp_path):
    aged(tmp_path, "abc", size=MB)
    assert trim(tmp_path, 4 * MB) == Contents(entries=0, size=0, oldest=None)
    assert contents(tmp_path).entries == 3


def test_clearing_leaves_what_is_not_ours(tmp_path):
    aged(tmp_path, "abc", size=10)
    (tmp_path / "holiday.jpg").write_bytes(b"not ours")
    assert trim(tmp_path, 0).entries == 3
    assert contents(tmp_path).entries == 0
    assert (tmp_path / "holiday.jpg").exists()


def test_unfinished_files_of_processes_that_are_gone_are_swept(tmp_path):
    aged(tmp_path, "a", size=10)
    folder = files_of(tmp_path)[0].parent
    (folder / "old.part").write_bytes(b"x")
    (folder / "new.part").write_bytes(b"x")
    os.utime(folder / "old.part", (0, 0))
    trim(tmp_path, MB)
    assert [file.name for file in folder.glob("*.part")] == ["new.part"]


def test_a_cache_stays_about_its_size_by_itself(tmp_path):
    cache, said = cache_in(tmp_path, most_mb=4)
    for number in range(40):
        cache.put(str(number), {}, [bytes(MB // 4)])
    assert contents(tmp_path).size <= 4.5 * MB
    assert (cache.get("39") is not None, said) == (True, [])
