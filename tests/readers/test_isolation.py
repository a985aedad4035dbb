"""A stranger's file can cost its own review and nothing else."""

from __future__ import annotations

import io
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
import real_meshes
import shapes
from readers.spellings import Spelling, model_values, spelled

from reviewbot.errors import MeshReadError
from reviewbot.mesh import Model
from reviewbot.readers import process
from reviewbot.readers.formats import lone_reader, read_model
from reviewbot.readers.isolation import IsolatedReader
from reviewbot.readers.known import FORMATS, is_mesh_path
from reviewbot.readers.wire import send

CUBE = spelled([shapes.cube()], Spelling())
TOO_LONG = b"\x1a" + bytes(7) + b'{"sizes": [1099511627776]}'


@pytest.fixture(scope="module")
def reader() -> Iterator[IsolatedReader]:
    with IsolatedReader(memory_mb=512, seconds=20) as reader:
        yield reader


def message(head: dict[str, object]) -> bytes:
    stream = io.BytesIO()
    send(stream, head)
    return stream.getvalue()


def outcome(read: Callable[..., Model], data: bytes, path: str) -> object:
    try:
        return model_values(read(data, path=path))
    except MeshReadError as error:
        return error.line, error.reason


def refusal(
    reader: IsolatedReader, data: bytes, path: str = "lamp.obj", **options
) -> MeshReadError:
    with pytest.raises(MeshReadError) as caught:
        reader.read(data, path=path, **options)
    assert caught.value.path == path
    return caught.value


@contextmanager
def reader_running(
    code: str, *, memory_mb: int = 256, seconds: float = 20
) -> Iterator[IsolatedReader]:
    """A reader whose first process runs `code` where it would read a file."""
    patched = (
        "import os, sys, signal, time, socket; import reviewbot.readers.worker as worker\n"
        "def read_model(data, *, path, siblings, seal):\n"
        f"    {code}\n"
        "worker.read_model = read_model\n"
        "worker.main()"
    )
    starts = [process.start_code().split("from ")[0] + "\n" + patched]
    start_process = subprocess.Popen

    def started(command: list[str], **options: Any) -> subprocess.Popen[bytes]:
        command[3] = starts.pop() if starts else command[3]
        return start_process(command, **options)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(process.subprocess, "Popen", started)
        with IsolatedReader(memory_mb=memory_mb, seconds=seconds) as reader:
            yield reader


def test_reads_as_in_process(reader: IsolatedReader) -> None:
    data = b"mtllib a.mtl\n" + CUBE + b"usemtl a\ns 3\nf 1 2 3\nwibble\n"
    files = {"a.mtl": b"newmtl a\nmap_Kd a.png"}
    apart = reader.read(data, path="x/lamp.obj", siblings=files.get)
    here = read_model(data, path="x/lamp.obj", siblings=files.get)
    assert model_values(apart) == model_values(here)
    assert (apart.notes, apart.materials) == (here.notes, here.materials)
    assert apart.materials[0].base_colour_file == "a.png"


def test_real_files_read_as_in_process(reader: IsolatedReader) -> None:
    for path in real_meshes.assimp_models(".obj", ".gltf", ".glb", ".ply", ".stl"):
        data = path.read_bytes()
        if len(data) > 200_000:
            continue  # nothing new at some cost
        assert outcome(reader.read, data, path.name) == outcome(read_model, data, path.name)


def test_arrays_arrive_frozen(reader: IsolatedReader) -> None:
    (part,) = reader.read(CUBE, path="lamp.obj").parts
    with pytest.raises(ValueError, match="read-only"):
        part.points[0, 0] = 1


def test_a_broken_file_keeps_its_line_and_reason(reader: IsolatedReader) -> None:
    error = refusal(reader, CUBE + b"f 1 2 99\n")
    assert error.line == CUBE.count(b"\n") + 1
    assert "point 99" in error.reason


def test_an_unknown_format_is_refused_at_once(reader: IsolatedReader) -> None:
    assert "no known mesh format" in refusal(reader, b"", "lamp.txt").reason


def test_a_failing_look_up_passes_through_and_the_next_file_is_read(reader: IsolatedReader) -> None:
    def failing(name: str) -> bytes | None:
        raise RuntimeError(name)

    with pytest.raises(RuntimeError, match=r"a\.mtl"):
        reader.read(b"mtllib a.mtl\n" + CUBE, path="lamp.obj", siblings=failing)
    assert reader.read(CUBE, path="lamp.obj").parts


@pytest.mark.parametrize(
    ("code", "said"),
    [
        ("os.kill(os.getpid(), signal.SIGSEGV)", "crashed on it (SIGSEGV)"),
        ("os.abort()", "crashed on it (SIGABRT)"),
        ("os.kill(os.getpid(), signal.SIGKILL)", "for want of memory"),
        ("os._exit(3)", "ended without an answer"),
        ("raise ValueError('odd')", "failed on it (ValueError: odd)"),
        ("return read_model(data, path=path, siblings=siblings, seal=seal)", "nested too deeply"),
        ("return b'x' * (1 << 29)", "needs more than the 256 MB of memory allowed"),
        ("return open('/etc/hostname').read()", "Too many open files"),
        ("return open('/tmp/new', 'w')", "Too many open files"),
        ("return socket.socket()", "Too many open files"),
        ("return siblings('../outside.mtl')", "the reader ended without an answer"),
        ("os.write(3, b'junk' * 100)", "the reader ended without an answer"),
        (f"os.write(3, {message({'kind': 'model', 'parts': [{}]})!r})", "no sound mesh"),
        (f"os.write(3, {message({'kind': 'error', 'line': 'x'})!r})", "no sound mesh"),
        (f"os.write(3, {TOO_LONG!r})", "the reader ended without an answer"),
    ],
)
def test_whatever_a_file_does_is_its_own_finding(code: str, said: str) -> None:
    with reader_running(code) as reader:
        assert said in refusal(reader, CUBE).reason


def test_the_next_file_is_read_after_a_crash() -> None:
    with reader_running("os.abort()") as reader:
        refusal(reader, CUBE)
        assert reader.read(CUBE, path="lamp.obj").parts


def test_a_hang_ends_in_time() -> None:
    with reader_running("time.sleep(60)", seconds=0.7) as reader:
        started = time.monotonic()
        assert "more than the 0.7 seconds" in refusal(reader, CUBE).reason
        assert time.monotonic() - started < 10


def test_a_want_of_memory_in_the_real_reader_is_said() -> None:
    with IsolatedReader(memory_mb=64, seconds=30) as reader:
        assert "64 MB" in refusal(reader, b"v 1 2 3\n" * 5_000_000).reason
        assert reader.read(CUBE, path="lamp.obj").parts


def test_the_process_is_given_no_secrets(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("HARBOUR_TOKEN", "secret")
    with reader_running("raise ValueError(sorted(os.environ))") as reader:
        assert "HARBOUR" not in refusal(reader, CUBE).reason


def test_nothing_is_imported_from_the_current_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in ("numpy", "reviewbot", "json", "sitecustomize"):
        (tmp_path / f"{name}.py").write_text("raise SystemExit('imported')")
    monkeypatch.chdir(tmp_path)
    with IsolatedReader(memory_mb=256, seconds=20) as reader:
        assert reader.read(CUBE, path="lamp.obj").parts


def test_threads_share_a_reader(reader: IsolatedReader) -> None:
    models: list[Model] = []
    threads = [
        threading.Thread(target=lambda: models.append(reader.read(CUBE, path="lamp.obj")))
        for _ in range(8)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(models) == 8


def assert_ends(pid: int) -> None:
    """The process is gone within a few seconds."""
    for _ in range(100):
        try:
            os.kill(pid, 0)
        except ProcessLookupError:
            return
        time.sleep(0.05)
    os.kill(pid, signal.SIGKILL)
    pytest.fail("the reading process outlives its owner")


def test_the_process_ends_with_its_owner() -> None:
    code = (
        "from reviewbot.readers.isolation import IsolatedReader\n"
        "import os, time\n"
        "reader = IsolatedReader(memory_mb=256, seconds=20).__enter__()\n"
        f"reader.read({CUBE!r}, path='a.obj')\n"
        "print(reader._shared._child.pid, flush=True); os._exit(0)"
    )
    assert_ends(int(subprocess.check_output([sys.executable, "-c", code])))


def test_every_format_has_its_reader() -> None:
    for suffix, form in FORMATS.items():
        if form.library is None:
            with pytest.raises(MeshReadError):  # by its reader, which takes this for no mesh
                read_model(b"\0", path=f"a{suffix}")
        else:
            read = lone_reader(form).read
            assert suffix[1:4] in read.__name__  # type: ignore[attr-defined]


def test_a_reading_process_loads_only_what_reads() -> None:
    loaded = subprocess.run(
        [sys.executable, "-c", "import sys, reviewbot.readers.worker; print(*sys.modules)"],
        capture_output=True,
        text=True,
        check=True,
    ).stdout.split()
    assert "reviewbot.readers.obj" in loaded
    for name in ("reviewbot.readers.usd", "reviewbot.readers.fbx", "pydantic", "git", "scipy"):
        assert name not in loaded


def test_suffixes_choose_the_reader() -> None:
    assert is_mesh_path("props/Lamp.OBJ")
    assert not is_mesh_path("props/obj")
    assert not is_mesh_path("props/lamp.obj.txt")
    assert all(is_mesh_path(f"a{suffix}") for suffix in FORMATS)


def test_a_process_started_ahead_reads_the_first_file() -> None:
    process.start_ahead()
    (early,) = process._ready
    with IsolatedReader(memory_mb=256, seconds=20) as reader:
        assert reader.read(CUBE, path="a.obj").parts
        assert reader._shared is not None
        assert reader._shared._child is early
        assert process._ready == []


def test_a_process_started_ahead_in_vain_ends_with_its_owner() -> None:
    code = (
        "from reviewbot.readers import process; import os\n"
        "process.start_ahead(); print(process._ready[0].pid, flush=True); os._exit(0)"
    )
    assert_ends(int(subprocess.check_output([sys.executable, "-c", code])))
