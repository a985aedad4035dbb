"""A period made by hand: three assets, one of them removed, with findings of every fate."""

from __future__ import annotations

import numpy as np
from report.sample import finding

from reviewbot.render.encoding import png_bytes
from reviewbot.report.progress import (
    AssetProgress,
    PersonEntry,
    Progress,
    TrackedEntry,
    VersionEntry,
)
from reviewbot.report.report import AssetEntry, ChangeEntry, PictureEntry, Report

START, END = "1" * 40, "9" * 40
OPEN_BORDER = "An edge is open; close it."
LOST = "This part has no UVs; unwrap it."


def version(
    day: int, state: str, *, faces: int = 100, stops: int | None = 0, looks: int | None = 0,
    subject: str = "Export again", author: str = "Runa Eskildsen", path: str = "props/lamp.obj",
) -> VersionEntry:  # fmt: skip
    measures = None
    if stops is not None:
        measures = {
            "faces": faces,
            "stretch_l2": 1.3 - day / 100,
            "seam_length": 12.5,
            "tile_use": day / 50,
        }
    return VersionEntry(
        commit=f"{day:040x}", when=f"2025-03-{day}T12:00:00+01:00", author=author,
        subject=subject, path=path, state=state, summary="Nothing changed.", stops=stops,
        looks=looks, measures=measures,
    )  # fmt: skip


def tracked(
    fate: str, part: str = "grip", *, opened: int | None = 25, ended: int | None = None,
    message: str = LOST, code: str = "uv-missing", severity: str = "stop",
    path: str = "props/lamp.obj", days: float = 2.0,
) -> TrackedEntry:  # fmt: skip
    def when(day: int | None) -> str | None:
        return None if day is None else f"2025-03-{day}T12:00:00+01:00"

    return TrackedEntry(
        path=path, code=code, severity=severity, part=part, message=message, fate=fate,
        opened=when(opened), opened_by=None if opened is None else f"{opened:040x}",
        ended=when(ended), ended_by=None if ended is None else f"{ended:040x}",
        days=days, commits=3,
    )  # fmt: skip


def picture(kind: str, file: str, caption: str) -> PictureEntry:
    return PictureEntry(kind=kind, file=file, caption=caption, alt=caption, width=600, height=200)


def lamp() -> AssetEntry:
    files = "pictures/lamp-1/"
    return AssetEntry(
        path="props/lamp.obj",
        before_path="props/old_lamp.obj",
        state="changed",
        verdict="stop",
        summary="The grip's UVs are gone; everything else is as it was.",
        changes=(ChangeEntry(code="uv-lost", part="grip", message="The UVs are gone."),),
        findings=(finding("uv-missing", "stop", "new", LOST, part="grip"),),
        pictures=(
            picture("strip", files + "strip.png", "Start over end."),
            picture("film-strip", files + "film-strip.png", "Three versions."),
            picture("progress", files + "measures.png", "The measures."),
            picture("film", files + "film.png", "Three versions in motion."),
        ),
    )


def progress(**more: object) -> Progress:
    fields: dict[str, object] = {
        "since": "2025-03-24T00:00:00+01:00",
        "until": "2025-03-31T00:00:00+02:00",
        "zone": "Europe/Oslo",
        "commits": 5,
        "merges": 1,
        "people": (
            PersonEntry(name="Runa Eskildsen", commits=4, assets=2),
            PersonEntry(name="Mateo Wilkowski", commits=1, assets=1),
        ),
        "assets": (
            AssetProgress(
                path="props/lamp.obj",
                versions=(
                    version(24, "start", subject="As the period began", author=""),
                    version(25, "changed", stops=1, faces=140),
                    version(27, "renamed", stops=1, looks=2, faces=120),
                ),
            ),
            AssetProgress(
                path="props/jar.obj",
                versions=(
                    version(24, "start", path="props/jar.obj"),
                    version(28, "removed", stops=None, looks=None, path="props/jar.obj"),
                ),
            ),
        ),
        "findings": (
            tracked("opened"),
            tracked("opened", "hood"),
            tracked("standing", opened=None, message=OPEN_BORDER, code="open-border",
                    severity="look", days=7.0),
            tracked("mended", opened=None, ended=27, message="A face is doubled."),
            tracked("passing", ended=26, message="The unit is odd.", severity="look"),
            tracked("gone", opened=None, ended=28, path="props/jar.obj", message="Was open."),
        ),
    }  # fmt: skip
    return Progress(**{**fields, **more})


def period_report(**more: object) -> Report:
    fields: dict[str, object] = {
        "tool": "reviewbot test",
        "title": "24 to 30 March 2025",
        "base": START,
        "head": END,
        "verdict": "stop",
        "summary": "2 assets touched; 5 commits and 1 merge by 2 people. 3 findings are open.",
        "fail_on": "stop",
        "assets": (
            lamp(),
            AssetEntry(
                path="props/jar.obj", before_path="props/jar.obj", state="removed",
                verdict="pass", summary="The file was removed.",
            ),
        ),
        "pictures": (picture("contact-sheet", "pictures/contact-sheet.png", "Every asset."),),
        "progress": progress(),
    }  # fmt: skip
    return Report(**{**fields, **more})


def period_pictures() -> dict[str, bytes]:
    report = period_report()
    entries = [*report.pictures, *(one for asset in report.assets for one in asset.pictures)]
    return {
        one.file: png_bytes(np.full((one.height, one.width, 3), 40 * at, np.uint8))
        for at, one in enumerate(entries)
    }
