"""A small prop with all that a mesh may refer to, and jobs on it, for the tests of the cache."""

from __future__ import annotations

import datetime
import io
from dataclasses import replace
from pathlib import Path

from PIL import Image

from reviewbot.cache.disk import Cache, Place
from reviewbot.history.sources import DiskSource
from reviewbot.jobs import AssetJob
from reviewbot.settings import Settings

LID = """\
mtllib lid.mtl
o lid_low
v 0 0 0
v 1 0 0
v 1 1 0
v 0 1 0
vt 0 0
vt 1 0
vt 1 1
vt 0 1
usemtl brass
f 1/1 2/2 3/3 4/4
"""


def write_prop(folder: Path) -> Path:
    """An OBJ with a material file, a picture and a high partner beside it; the OBJ."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "lid_low.obj").write_text(LID)
    (folder / "lid.mtl").write_text("newmtl brass\nmap_Kd brass.png\n")
    (folder / "brass.png").write_bytes(picture(200))
    (folder / "lid_high.obj").write_text(LID.replace("lid_low", "lid_high"))
    return folder / "lid_low.obj"


def picture(shade: int) -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (8, 8), (shade, shade // 2, 20)).save(out, "PNG")
    return out.getvalue()


def job_on(before: Path | None, after: Path | None) -> AssetJob:
    old, new = (
        None if file is None else DiskSource(path="props/lid_low.obj", file=file)
        for file in (before, after)
    )
    return AssetJob(
        path="props/lid_low.obj",
        before=old,
        after=new,
        settings=Settings(),
        pictures="none",
        renderer="auto",
        detail="full",
        acceptances=(),
        today=datetime.date(2024, 5, 1),
    )


def pictured(job: AssetJob) -> AssetJob:
    small = job.settings.pictures.model_copy(update={"views": 4, "size": 64})
    settings = job.settings.model_copy(update={"pictures": small})
    return replace(job, pictures="all", settings=settings)


def cache_in(folder: Path, *, most_mb: int = 64) -> tuple[Cache, list[str]]:
    """A cache, and what it says."""
    said: list[str] = []
    return Cache(place=Place(folder=folder, most_mb=most_mb), say=said.append), said
