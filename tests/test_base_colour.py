"""Base colour pictures at a commit and on a disk: shown, or missed in words."""

from __future__ import annotations

import datetime
import io
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from repositories import Repository

from reviewbot.errors import RendererUnavailableError
from reviewbot.history.sources import DiskSource, GitSource, Source, opened
from reviewbot.jobs import AssetJob, AssetReview
from reviewbot.making import make_review
from reviewbot.render.backends import choose_renderer
from reviewbot.settings import Settings

SHEET = """mtllib lamp.mtl
v 0 0 0
v 1 0 0
v 1 0 -1
v 0 0 -1
vt 0 0
vt 1 0
vt 1 1
vt 0 1
usemtl brass
f 1/1 2/2 3/3 4/4
"""
LIBRARY = b"newmtl brass\nmap_Kd ../maps/brass.png\n"


def png(colour: tuple[int, int, int], size: int = 8) -> bytes:
    buffer = io.BytesIO()
    Image.new("RGB", (size, size), colour).save(buffer, "PNG")
    return buffer.getvalue()


@pytest.fixture
def repository(tmp_path: Path) -> Repository:
    made = Repository(tmp_path / "studio")
    made.folder.mkdir()
    made.git("init", "--quiet", "--template=", "--initial-branch=main")
    return made


def at_commit(repository: Repository, commit: str, path: str) -> GitSource:
    blob = repository.git("rev-parse", f"{commit}:{path}").decode().strip()
    return GitSource(
        path=path,
        repository=repository.folder,
        commit=commit,
        raw_path=path.encode(),
        blob=blob,
    )


def reviewed(before: Source | None, after: Source, *, pictures: str = "none") -> AssetReview:
    settings = Settings()
    small = settings.pictures.model_copy(update={"views": 8, "size": 96})
    job = AssetJob(
        path=after.path,
        before=before,
        after=after,
        settings=settings.model_copy(update={"pictures": small}),
        pictures=pictures,
        renderer="auto",
        detail="full",
        acceptances=(),
        today=datetime.date(2024, 5, 1),
    )
    return make_review(job).review


def missing(review: AssetReview) -> list[tuple[str, str]]:
    found = [f for f in review.entry.findings if f.code == "texture-missing"]
    return [(f.standing, f.message) for f in found]


FILES = {"props/lamp.obj": SHEET.encode(), "props/lamp.mtl": LIBRARY}


def test_a_picture_lost_in_a_commit_is_found_missing_there(repository: Repository) -> None:
    first = repository.commit({**FILES, "maps/brass.png": png((200, 120, 40))})
    repository.git("rm", "--quiet", "maps/brass.png")
    second = repository.commit()
    before, after = (at_commit(repository, c, "props/lamp.obj") for c in (first, second))
    assert missing(reviewed(None, before)) == []
    ((standing, message),) = missing(reviewed(before, after))
    assert standing == "new"
    assert message.startswith(
        "'lamp.mtl' names the picture '../maps/brass.png' for material 'brass', but it is not in "
        "the repository at this commit;"
    )


def test_nothing_above_the_repository_is_looked_at(repository: Repository) -> None:
    (repository.folder.parent / "outside.png").write_bytes(png((9, 9, 9)))
    library = b"newmtl brass\nmap_Kd ../../outside.png\n"
    commit = repository.commit({"props/lamp.obj": SHEET.encode(), "props/lamp.mtl": library})
    with opened(at_commit(repository, commit, "props/lamp.obj")) as file:
        assert file.pictures("../props/lamp.mtl") == library
        assert file.pictures("../../outside.png") is None
        assert file.pictures("../.git/config") is None
    assert len(missing(reviewed(None, at_commit(repository, commit, "props/lamp.obj")))) == 1


def test_on_a_disk_the_working_tree_is_looked_at_and_no_more(repository: Repository) -> None:
    repository.commit({**FILES, "maps/brass.png": png((200, 120, 40))})
    (repository.folder.parent / "outside.png").write_bytes(png((9, 9, 9)))
    (repository.folder / "props/link.png").symlink_to(repository.folder.parent / "outside.png")
    here = DiskSource(path="lamp.obj", file=repository.folder / "props/lamp.obj")
    with opened(here) as file:
        assert file.pictures("../maps/brass.png") == png((200, 120, 40))
        assert file.pictures("../maps/gone.png") is None
        assert file.pictures("a" * 300 + ".png") is None
        assert file.siblings("a" * 300 + ".mtl") is None
        for name in ("../../outside.png", "link.png", "../.git/config"):
            with pytest.raises(Exception, match="leads out of the folder"):
                file.pictures(name)
    assert missing(reviewed(None, here)) == []


def test_a_lone_folder_is_not_left_and_the_picture_not_called_missing(tmp_path: Path) -> None:
    (tmp_path / "props").mkdir()
    for name, data in FILES.items():
        (tmp_path / name).write_bytes(data)
    here = DiskSource(path="lamp.obj", file=tmp_path / "props/lamp.obj")
    review = reviewed(None, here)
    assert missing(review) == []
    assert any("'../maps/brass.png' is not shown" in note for note in review.entry.notes)


def test_a_large_file_that_is_elsewhere_is_a_note(repository: Repository) -> None:
    pointer = (
        b"version https://git-lfs.github.com/spec/v1\noid sha256:" + b"a" * 64 + b"\nsize 12345\n"
    )
    commit = repository.commit({**FILES, "maps/brass.png": pointer})
    review = reviewed(None, at_commit(repository, commit, "props/lamp.obj"), pictures="none")
    assert missing(review) == []
    assert any("'../maps/brass.png' is not shown" in note for note in review.entry.notes)


def test_the_turntable_wears_the_picture_of_its_own_commit(repository: Repository) -> None:
    try:
        choose_renderer("auto")
    except RendererUnavailableError as error:
        pytest.skip(str(error))
    first = repository.commit({**FILES, "maps/brass.png": png((220, 30, 30))})
    second = repository.commit({"maps/brass.png": png((30, 30, 220))}, message="Paint it blue")
    third = repository.commit({"maps/brass.png": b"\x89PNG\r\n\x1a\nbroken"})
    sources = [at_commit(repository, c, "props/lamp.obj") for c in (first, second, third)]
    review = reviewed(sources[0], sources[1], pictures="all")
    frames = [p for p in review.entry.pictures if p.file.endswith("textured-frames.webp")]
    assert [picture.kind for picture in review.entry.pictures if picture.kind == "textured"]
    with Image.open(io.BytesIO(review.pictures[frames[0].file])) as image:
        pixels = np.asarray(image.convert("RGB")).astype(int)
    upper, lower = np.split(pixels, 2)
    assert ((upper[..., 0] - upper[..., 2]) > 80).any()
    assert not ((upper[..., 2] - upper[..., 0]) > 80).any()
    assert ((lower[..., 2] - lower[..., 0]) > 80).any()
    broken = reviewed(None, sources[2], pictures="all")
    assert not [picture for picture in broken.entry.pictures if picture.kind == "textured"]
    assert any("is no PNG" in note for note in broken.entry.notes)
