"""Spoiled files end as a model or as a refusal, never in a fault of a reader or its process.

A reader's own exception would be refused with "the reader failed on it"; that counts as a fault.
The benchmark `bench_spoiled.py` does the same with some twenty thousand files.
"""

from __future__ import annotations

import importlib.util
from collections.abc import Iterator

import numpy as np
import pytest
from readers.mutations import seeds, spoiled_files

from reviewbot.errors import MeshReadError
from reviewbot.mesh import Model
from reviewbot.readers.isolation import IsolatedReader
from reviewbot.readers.references import inner_path

LIBRARIES = {".fbx": "ufbx", ".usda": "pxr"}
FAULTS = ("failed on it", "without an answer", "no sound mesh", "crashed", "seconds allowed")


@pytest.fixture(scope="module")
def reader() -> Iterator[IsolatedReader]:
    with IsolatedReader(memory_mb=1024, seconds=30) as reader:
        yield reader


def outcome(reader: IsolatedReader, data: bytes, suffix: str) -> Model | str:
    """The model, or why there is none."""

    def siblings(name: str) -> bytes | None:
        assert inner_path(name) == name
        return data

    try:
        return reader.read(data, path=f"lamp{suffix}", siblings=siblings)
    except MeshReadError as error:
        return error.reason


@pytest.mark.parametrize("suffix", [".obj", ".gltf", ".glb", ".ply", ".stl"])
def test_spoiled_files_are_read_or_refused(reader: IsolatedReader, suffix: str) -> None:
    refused = 0
    for data in spoiled_files(120, suffix=suffix, seed=1):
        result = outcome(reader, data, suffix)
        if isinstance(result, str):
            refused += 1
            assert not any(fault in result for fault in FAULTS), (result, data)
        else:
            assert all(np.isfinite(part.face_start).all() for part in result.parts)
    assert refused > 20, "the faults are too mild to show anything"


@pytest.mark.parametrize("suffix", [".fbx", ".usda"])
@pytest.mark.slow
def test_spoiled_files_of_native_readers_cost_only_themselves(
    reader: IsolatedReader, suffix: str
) -> None:
    """A native library may crash on one; that must be said, and the next sound file be read."""
    if importlib.util.find_spec(LIBRARIES[suffix]) is None:
        pytest.skip(f"the optional library {LIBRARIES[suffix]} is not installed")
    for data in spoiled_files(25, suffix=suffix, seed=1):
        result = outcome(reader, data, suffix)
        assert isinstance(result, Model) or "failed on it" not in result, (result, data)
    assert isinstance(outcome(reader, seeds(suffix)[0], suffix), Model)
