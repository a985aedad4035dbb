"""Records come back as they were, and only what their annotations allow comes back at all."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, fields, is_dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Literal

import numpy as np
import pytest
from kept import write_prop
from shapes import cube, sphere

from reviewbot.cache.records import Packer, UnknownFormError, Unpacker
from reviewbot.measure.examine import Examination, examine
from reviewbot.mesh import FloatArray, Model
from reviewbot.readers.formats import read_model
from reviewbot.settings import Settings


@dataclass(frozen=True, slots=True, kw_only=True)
class Leaf:
    name: str
    values: FloatArray


@dataclass(frozen=True, slots=True, kw_only=True)
class Tree:
    kind: Literal["oak", "fir"]
    height: float
    rings: int | None
    bark: bytes | None
    is_old: bool
    leaves: tuple[Leaf, ...]
    place: tuple[float, float]
    counts: Mapping[tuple[str, int], int]


def tree() -> Tree:
    leaf = Leaf(name="ä\ud800", values=np.array([[1.0, np.nan], [-np.inf, 0.0]]))
    return Tree(
        kind="oak",
        height=np.float64(np.inf),
        rings=np.int32(7),
        bark=b"\x00rough",
        is_old=np.bool_(True),
        leaves=(leaf, Leaf(name="", values=np.zeros((0, 3))), leaf),
        place=(1.0, 2.0),
        counts=MappingProxyType({("a", 1): 2}),
    )


def there_and_back(value: object, form: type) -> object:
    packer = Packer()
    text = json.dumps(packer.pack(value, form))
    return Unpacker(packer.blobs).unpack(json.loads(text), form)


def assert_same(one: object, other: object) -> None:
    assert type(one) is type(other) or isinstance(one, np.generic)
    if is_dataclass(one):
        for field in fields(one):
            assert_same(getattr(one, field.name), getattr(other, field.name))
    elif isinstance(one, np.ndarray):
        assert (one.dtype, one.shape) == (other.dtype, other.shape)
        assert one.tobytes() == other.tobytes()
    elif isinstance(one, tuple):
        assert len(one) == len(other)
        for first, second in zip(one, other, strict=True):
            assert_same(first, second)
    else:
        assert one == other or repr(one) == repr(other)


def test_records_come_back():
    back = there_and_back(tree(), Tree)
    assert_same(tree(), back)
    assert back.leaves[0] is back.leaves[2]


@pytest.mark.parametrize("name", ["cube", "sphere", "empty"])
def test_measures_come_back(name):
    parts = {
        "cube": (cube(), sphere(12, 6, name="ball_high")),
        "sphere": (sphere(24, 12),),
        "empty": (),
    }[name]
    model = Model(parts=parts, format="obj")
    measured = examine(model, Settings())
    back = there_and_back(measured, Examination)
    assert_same(measured, back)
    assert all(one.part is part for one, part in zip(back.parts, back.model.parts, strict=True))


def test_a_read_file_comes_back(tmp_path: Path):
    data = write_prop(tmp_path).read_bytes()
    measured = examine(read_model(data, path="lid_low.obj"), Settings())
    assert_same(measured, there_and_back(measured, Examination))


def spoiled(change) -> None:
    packer = Packer()
    table = json.loads(json.dumps(packer.pack(tree(), Tree)))
    change(table["record"], packer.blobs)
    Unpacker(packer.blobs).unpack(table, Tree)


SPOILT = {
    "another choice": lambda record, _: record.__setitem__(0, "palm"),
    "text for a number": lambda record, _: record.__setitem__(1, "high"),
    "a list for a number": lambda record, _: record.__setitem__(1, [1]),
    "a number for text": lambda record, _: record[5][0]["record"].__setitem__(0, 5),
    "a blob too far": lambda record, _: record.__setitem__(3, 99),
    "a blob from behind": lambda record, _: record.__setitem__(3, -1),
    "a field too few": lambda record, _: record.pop(),
    "a field too many": lambda record, _: record.append(1),
    "objects": lambda record, _: record[5][0]["record"][1]["array"].__setitem__(0, "|O"),
    "another shape": lambda record, _: record[5][0]["record"][1]["array"].__setitem__(1, [9, 9]),
    "an array for a record": lambda record, _: record[5].__setitem__(0, {"array": ["<f8", [0], 0]}),
    "a later record": lambda record, _: record[5].__setitem__(0, 3),
    "an array met as a record": lambda record, _: record[5].__setitem__(2, 0),
    "three places": lambda record, _: record[6].append(1.0),
    "no mapping": lambda record, _: record.__setitem__(7, 5),
    "a cut blob": lambda _, blobs: blobs.__setitem__(0, blobs[0][:-1]) or blobs.pop(),
}


@pytest.mark.parametrize("change", SPOILT)
def test_what_is_no_such_record_is_refused(change):
    with pytest.raises(UnknownFormError):
        spoiled(SPOILT[change])


def test_arrays_of_objects_are_never_packed():
    with pytest.raises(UnknownFormError):
        Packer().pack(Leaf(name="", values=np.array([object()])), Leaf)
