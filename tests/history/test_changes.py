"""The raw list of changes, as `git help diff-tree` describes it under 'Raw output format'."""

import pytest

from reviewbot.history.changes import parse_raw_changes

A, B, NONE = "a" * 40, "b" * 40, "0" * 40


def listed(*entries: tuple[str, ...]) -> bytes:
    return "".join(
        f":{head}\0" + "".join(f"{p}\0" for p in paths) for head, *paths in entries
    ).encode()


def everything(path: str) -> bool:
    return True


def only_obj(path: str) -> bool:
    return path.endswith(".obj")


@pytest.mark.parametrize(
    ("head", "paths", "status", "blobs"),
    [
        (f"000000 100644 {NONE} {A} A", ["jug.obj"], "added", (None, A)),
        (f"100644 000000 {A} {NONE} D", ["jug.obj"], "removed", (A, None)),
        (f"100644 100644 {A} {B} M", ["jug.obj"], "changed", (A, B)),
        (f"100644 100755 {A} {B} M", ["jug.obj"], "changed", (A, B)),
        (f"100644 100644 {A} {A} R100", ["mug.obj", "jug.obj"], "renamed", (A, A)),
        (f"100644 100644 {A} {B} R071", ["mug.obj", "jug.obj"], "renamed", (A, B)),
        (f"120000 100644 {A} {B} T", ["jug.obj"], "added", (None, B)),
        (f"100644 120000 {A} {B} T", ["jug.obj"], "removed", (A, None)),
        (f"100644 160000 {A} {B} T", ["jug.obj"], "removed", (A, None)),
    ],
)
def test_a_file_changes(
    head: str, paths: list[str], status: str, blobs: tuple[str | None, str | None]
) -> None:
    (changed,) = parse_raw_changes(listed((head, *paths)), everything)
    assert (changed.status, changed.before_blob, changed.after_blob) == (status, *blobs)
    assert changed.path == "jug.obj"
    assert changed.before_path == (None if status == "added" else paths[0])


@pytest.mark.parametrize(
    "head",
    [
        f"100644 100755 {A} {A} M",  # the mode alone
        f"120000 120000 {A} {B} M",  # a link turned elsewhere
        f"160000 160000 {A} {B} M",  # a submodule moved on
        f"000000 120000 {NONE} {A} A",
        f"160000 000000 {A} {NONE} D",
        f"120000 160000 {A} {B} T",
    ],
)
def test_no_file_changes(head: str) -> None:
    assert parse_raw_changes(listed((head, "jug.obj")), everything) == ()


@pytest.mark.parametrize(
    ("before", "after", "status"),
    [
        ("jug.obj", "jug.bak", "removed"),
        ("jug.bak", "jug.obj", "added"),
        ("jug.bak", "jug.old", None),
        ("mug.obj", "jug.obj", "renamed"),
    ],
)
def test_a_rename_counts_as_far_as_it_is_wanted(
    before: str, after: str, status: str | None
) -> None:
    found = parse_raw_changes(listed((f"100644 100644 {A} {B} R090", before, after)), only_obj)
    assert [changed.status for changed in found] == ([status] if status else [])


def test_files_come_in_the_order_of_their_paths() -> None:
    raw = listed(
        (f"100644 100644 {A} {A} R100", "a.obj", "z.obj"), (f"100644 100644 {A} {B} M", "b.obj")
    )
    assert [changed.path for changed in parse_raw_changes(raw, everything)] == ["b.obj", "z.obj"]


def test_nothing_listed_is_nothing_changed() -> None:
    assert parse_raw_changes(b"", everything) == ()
