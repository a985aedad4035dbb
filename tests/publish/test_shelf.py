"""Pictures on their way: the same wherever they lie."""

from pathlib import Path

from hypothesis import given
from hypothesis import strategies as st

from reviewbot.publish.shelf import Shelf


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
