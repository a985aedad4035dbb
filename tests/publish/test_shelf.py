"""Pictures on their way: the same wherever they lie."""

from pathlib import Path

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from reviewbot.publish.shelf import ImageShelf, Shelf


@given(st.dictionaries(st.text(), st.binary(max_size=20)), st.integers(0, 60))
def test_what_was_put_is_there_in_order(files, room):
    shelf = Shelf(in_memory=room)
    for name, data in files.items():
        shelf.put(name, data)
    assert list(shelf.items()) == list(files.items())
    assert len(shelf) == len(files)
    assert shelf.get("pictures/none") is None


def test_beyond_its_room_they_lie_on_the_disk_until_it_goes(tmp_path, monkeypatch):
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    shelf = Shelf(in_memory=100)
    for number in range(5):
        shelf.put(f"pictures/{number}", bytes([number]) * 40)
    on_disk = [file for file in tmp_path.rglob("*") if file.is_file()]
    assert sum(file.stat().st_size for file in on_disk) == 3 * 40
    assert shelf["pictures/4"] == bytes([4]) * 40
    del shelf
    assert list(Path(tmp_path).iterdir()) == []


@given(st.lists(st.none() | st.tuples(st.integers(0, 4), st.integers(1, 4)), max_size=6))
def test_images_come_back_in_order_and_stay(sizes):
    images = [
        None if size is None else np.arange(3 * size[0] * size[1], dtype=np.uint8).reshape(*size, 3)
        for size in sizes
    ]
    with ImageShelf() as shelf:
        for image in images:
            shelf.put(image)
        back = shelf.images()
    assert [None if one is None else one.tolist() for one in back] == [
        None if one is None else one.tolist() for one in images
    ]
    assert [None if one is None else one.shape for one in back] == [
        None if one is None else one.shape for one in images
    ]
