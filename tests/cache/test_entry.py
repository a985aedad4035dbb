"""The form of an entry: what was put there comes back, and nothing else is taken for it."""

import math
import pickle

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reviewbot.cache.entry import BadEntryError, packed, unpacked

VALUES = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | st.text(),
    lambda inner: st.lists(inner) | st.dictionaries(st.text(), inner),
    max_leaves=10,
)
TABLES = st.dictionaries(st.text().filter(lambda name: name != "sizes"), VALUES, max_size=4)
BLOBS = st.lists(st.binary(max_size=50), max_size=4)


@given(key=st.text(), table=TABLES, blobs=BLOBS)
def test_what_was_packed_comes_back(key, table, blobs):
    assert unpacked(key, packed(key, table, blobs)) == (table, blobs)


def test_figures_that_are_no_numbers_come_back():
    table, _ = unpacked("key", packed("key", {"a": math.inf, "b": -math.inf, "c": math.nan}))
    assert (table["a"], table["b"], math.isnan(table["c"])) == (math.inf, -math.inf, True)


@given(table=TABLES, blobs=BLOBS, data=st.data())
def test_any_changed_byte_is_found(table, blobs, data):
    entry = bytearray(packed("key", table, blobs))
    at = data.draw(st.integers(0, len(entry) - 1))
    entry[at] ^= data.draw(st.integers(1, 255))
    with pytest.raises(BadEntryError):
        unpacked("key", bytes(entry))


@given(table=TABLES, blobs=BLOBS, data=st.data())
def test_a_cut_or_lengthened_entry_is_found(table, blobs, data):
    entry = packed("key", table, blobs)
    with pytest.raises(BadEntryError):
        unpacked("key", entry[: data.draw(st.integers(0, len(entry) - 1))])
    with pytest.raises(BadEntryError):
        unpacked("key", entry + data.draw(st.binary(min_size=1, max_size=20)))


@given(key=st.text(), other=st.text())
def test_an_entry_of_another_key_is_found(key, other):
    entry = packed(key, {"a": 1})
    if key != other:
        with pytest.raises(BadEntryError):
            unpacked(other, entry)


class Trap:
    """Unpickling one would run its reduction."""

    def __reduce__(self):
        return (pytest.fail, ("something was unpickled",))


@given(st.binary(max_size=200) | st.just(pickle.dumps(Trap())))
def test_foreign_bytes_are_refused(data):
    with pytest.raises(BadEntryError):
        unpacked("key", data)
