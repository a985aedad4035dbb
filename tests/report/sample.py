"""A review as it comes out of real work: a harbour storm lantern, re-exported with faults.

The studio, the prop and its file names are invented. `hostile_report` carries names that try to
become markup, links, mentions or hidden text.
"""

from __future__ import annotations

import io
import math

from PIL import Image, ImageDraw

from reviewbot.report.report import (
    AssetEntry,
    ChangeEntry,
    DistributionEntry,
    FindingEntry,
    PartEntry,
    PictureEntry,
    Report,
    ViewEntry,
)

FRAMES = 16
SIDE = 256

HOSTILE_NAMES = [
    "`code`",
    "``",
    "a|b|c",
    "\\",
    "\\`",
    "lamp`\\`|x",
    "**bold**",
    "_under_score_",
    "*",
    "~~gone~~",
    "# heading",
    "> quote",
    "- item",
    "1. item",
    "[link](http://evil.example)",
    "![picture](http://evil.example/x.png)",
    "[ref]: http://evil.example",
    "<http://evil.example>",
    "http://evil.example/path",
    "https://evil.example",
    "www.evil.example",
    "ftp://evil.example",
    "someone@evil.example",
    "mailto:someone@evil.example",
    "xmpp:someone@evil.example",
    "@someone",
    "@team/lead please approve",
    "#12",
    "owner/repo#12",
    "GH-12",
    "0123456789abcdef0123456789abcdef01234567",
    "<script>alert(1)</script>",
    "<img src=x onerror=alert(1)>",
    "<!-- hidden -->",
    "</details>",
    "<details open>",
    "&lt;b&gt;",
    "&#64;someone",
    "javascript:alert(1)",
    "$x^2$",
    "$$",
    ":warning:",
    "line\nbreak",
    "line\r\n\r\n# new block",
    "tab\there",
    "\u202egnp.dezirohtua",
    "\u2066isolate\u2069",
    "zero\u200bwidth",
    "soft\u00adhyphen",
    "no\u00a0break",
    "\u3164",
    "a\ufeffb",
    "\u2028",
    "bell\x07",
    "\x1b[31mred",
    "\x00",
    " lead and trail ",
    "   ",
    "z" + "\u0301" * 30,
    "x" * 5000,
    "===",
    "---",
    "| a | b |\n|---|---|",
    "```\nfence",
    "[^1]",
    "- [ ] task",
    "[!WARNING]",
    "{{ 7 * 7 }}",
    "{% raw %}",
    '" onmouseover="alert(1)',
    "' onfocus='alert(1)",
    "قنديل",
    "../../etc/passwd",
    "lamp.obj; rm -rf /",
    "--upload-pack=x",
    "😀 lamp",
]


def _png(picture: Image.Image) -> bytes:
    out = io.BytesIO()
    picture.save(out, "PNG")
    return out.getvalue()


def _draw_lantern(draw: ImageDraw.ImageDraw, left: int, top: int, side: int, turn: float) -> None:
    """A lantern drawn in flat shapes, its handle turned by `turn` radians."""
    middle = left + side / 2
    swing = math.cos(turn) * side * 0.22
    draw.arc(
        [middle - abs(swing) - 1, top + side * 0.08, middle + abs(swing) + 1, top + side * 0.5],
        180,
        360,
        fill="#4a5560",
        width=max(2, side // 48),
    )
    body = [middle - side * 0.2, top + side * 0.32, middle + side * 0.2, top + side * 0.82]
    draw.rectangle(body, fill="#c9ced3", outline="#4a5560", width=max(1, side // 96))
    bar = middle + math.sin(turn) * side * 0.14
    draw.line([bar, body[1], bar, body[3]], fill="#7c8791", width=max(2, side // 40))
    draw.rectangle(
        [middle - side * 0.26, top + side * 0.82, middle + side * 0.26, top + side * 0.9],
        fill="#9aa5ae",
    )
    draw.polygon(
        [
            (middle - side * 0.24, top + side * 0.32),
            (middle + side * 0.24, top + side * 0.32),
            (middle, top + side * 0.2),
        ],
        fill="#9aa5ae",
    )


def _view(turn: float, *, stretched: float = 1.0) -> Image.Image:
    picture = Image.new("RGB", (SIDE, SIDE), "#eef0f2")
    _draw_lantern(ImageDraw.Draw(picture), 0, 0, int(SIDE * stretched), turn)
    return picture


def _difference() -> Image.Image:
    picture = Image.new("RGB", (SIDE, SIDE), "#eef0f2")
    ImageDraw.Draw(picture).ellipse([90, 20, 170, 90], fill="#5e3c99")
    return picture


def _sprite(rows: int) -> Image.Image:
    sheet = Image.new("RGB", (FRAMES * 128, rows * 128), "#eef0f2")
    draw = ImageDraw.Draw(sheet)
    for row in range(rows):
        for column in range(FRAMES):
            turn = 2 * math.pi * column / FRAMES
            _draw_lantern(draw, column * 128, row * 128, 128 - 8 * row, turn)
    return sheet


def _uv_sheet(*, handle: bool) -> Image.Image:
    sheet = Image.new("RGB", (768, 768), "white")
    draw = ImageDraw.Draw(sheet)
    for index in range(0, 768, 96):
        draw.line([index, 0, index, 768], fill="#e4e7ea")
        draw.line([0, index, 768, index], fill="#e4e7ea")
    draw.rectangle([40, 40, 360, 360], outline="#0072b2", width=3)
    draw.rectangle([400, 60, 700, 240], outline="#e69f00", width=3)
    if handle:
        draw.rectangle([60, 420, 700, 480], outline="#009e73", width=3)
    return sheet


def _strip() -> Image.Image:
    strip = Image.new("RGB", (SIDE * 4, SIDE * 3), "#eef0f2")
    for column in range(4):
        turn = column * math.pi / 3
        strip.paste(_view(turn), (column * SIDE, 0))
        strip.paste(_view(turn, stretched=0.95), (column * SIDE, SIDE))
        strip.paste(_difference(), (column * SIDE, SIDE * 2))
    return strip


def _spot() -> Image.Image:
    picture = _view(0.4)
    ImageDraw.Draw(picture).ellipse([70, 20, 190, 110], outline="#d55e00", width=5)
    return picture


_DRAWN: dict[str, tuple[Image.Image, int, int]] = {}


def _drawn(kind: str) -> tuple[Image.Image, int, int]:
    """A picture of a kind with its columns and rows, drawn once."""
    if not _DRAWN:
        _DRAWN.update(
            {
                "strip": (_strip().resize((1656, 1242)), 1, 1),
                "view-before": (_view(0.3), 1, 1),
                "view-after": (_view(0.3, stretched=0.93), 1, 1),
                "view-difference": (_difference(), 1, 1),
                "turntable-frames": (_sprite(2), FRAMES, 2),
                "uv-sheet-before": (_uv_sheet(handle=True), 1, 1),
                "uv-sheet-after": (_uv_sheet(handle=False), 1, 1),
                "silhouette": (_view(0.0).resize((512, 512)), 1, 1),
                "spot": (_spot().resize((512, 512)), 1, 1),
            }
        )
    return _DRAWN[kind]


def picture(kind: str, file: str, caption: str, **more: str) -> PictureEntry:
    image, columns, rows = _drawn(kind)
    return PictureEntry(
        kind=kind,
        file=file,
        caption=caption,
        alt=more.pop("alt", caption),
        width=image.width,
        height=image.height,
        columns=columns,
        rows=rows,
        **more,
    )


def picture_bytes(report: Report) -> dict[str, bytes]:
    """Every picture the report names, as file name and bytes."""
    coded: dict[str, bytes] = {}
    files: dict[str, bytes] = {}
    for asset in report.assets:
        for entry in asset.pictures:
            if entry.kind not in coded:
                coded[entry.kind] = _png(_drawn(entry.kind)[0])
            files[entry.file] = coded[entry.kind]
    return files


def finding(code: str, severity: str, standing: str, message: str, **more: object) -> FindingEntry:
    return FindingEntry.model_validate(
        {"part": "", **more, "code": code, "severity": severity, "standing": standing}
        | {"message": message}
    )


def _lantern_pictures() -> tuple[PictureEntry, ...]:
    folder = "pictures/lantern"
    return (
        picture(
            "strip", f"{folder}-strip.png", "Four views: before, after, and where they differ."
        ),
        picture("view-before", f"{folder}-front-before.png", "Front, before.", view="front"),
        picture("view-after", f"{folder}-front-after.png", "Front, after.", view="front"),
        picture("view-difference", f"{folder}-front-diff.png", "Front, difference.", view="front"),
        picture("turntable-frames", f"{folder}-frames.png", "The lantern from all around."),
        picture("uv-sheet-before", f"{folder}-uv-before.png", "Tile 1001, before.", view="1001"),
        picture("uv-sheet-after", f"{folder}-uv-after.png", "Tile 1001, after.", view="1001"),
        picture("silhouette", f"{folder}-outline.png", "Outlines over each other, front."),
        picture(
            "spot",
            f"{folder}-spot-uv.png",
            "The handle, seen close.",
            part="handle",
            code="uv-missing",
        ),
        picture("spot", f"{folder}-spot-ngon.png", "The rim, seen close.", part="cap", code="ngon"),
    )


def _part(name: str, scale: float, *, lost: bool = False) -> PartEntry:
    before = {
        "faces": round(640 * scale),
        "triangles": 12,
        "quads": round(628 * scale),
        "ngons": 0,
        "area": 0.84213 * scale,
        "seam_length": 3.2 * scale,
        "stretch_l2": 1.0312,
        "density": 512.4 / scale,
        "importance": "normal",
    }
    after = dict(before, area=0.84213 * scale * 1.02)
    if lost:
        after.update(seam_length=0.0, stretch_l2=None, density=None)
    return PartEntry(
        name=name,
        before_name=name,
        form="same",
        unwrap="lost" if lost else "same",
        before=before,
        after=after,
    )


def _lantern() -> AssetEntry:
    names = ("body", "cap", "glass", "handle", "base", "rivets")
    return AssetEntry(
        path="props/storm_lantern/lantern_low.obj",
        before_path="props/storm_lantern/lantern_low.obj",
        state="changed",
        verdict="stop",
        summary="The handle's UVs are gone; everything else is as it was.",
        changes=(
            ChangeEntry(
                code="uv-lost",
                part="handle",
                message="handle lost its UVs: 96 faces had a place on the texture and have none.",
                value=96,
                unit="faces",
                at=(0.0, 0.41, 0.02),
            ),
            ChangeEntry(
                code="reshaped",
                part="cap",
                message="cap keeps its polygons; its points moved by up to 0.012 (2% of its size).",
                value=0.012,
            ),
        ),
        findings=(
            finding(
                "uv-missing",
                "stop",
                "new",
                "handle has 96 faces without UVs; every face needs a place on the texture.",
                part="handle",
                count=96,
                value=96.0,
                limit=0.0,
                unit="faces",
                at=(0.0, 0.41, 0.02),
            ),
            finding(
                "silhouette-change",
                "look",
                "new",
                "The outline from the front moved by 6 pixels; the cap causes it.",
                part="cap",
                value=0.962,
                limit=0.98,
            ),
            finding(
                "ngon",
                "look",
                "worse",
                "cap has 4 faces of more than four sides, 2 more than before; cut them into quads.",
                part="cap",
                count=4,
                at=(0.0, 0.33, 0.08),
            ),
            finding(
                "uv-stretch",
                "look",
                "same",
                "body stretches its texture by 1.8 on 7% of its area.",
                part="body",
                value=1.8,
                limit=1.5,
            ),
            finding(
                "tile-wasted", "note", "same", "41% of tile 1001 is used.", value=0.41, limit=0.5
            ),
            finding(
                "density-uneven",
                "look",
                "better",
                "base has 2.3 times the density of the body.",
                part="base",
                value=2.3,
                limit=2.0,
            ),
            *(
                finding(
                    "uneven-quads",
                    "note",
                    "new",
                    "The quads of this part differ much in size.",
                    part=part,
                    count=count,
                )
                for part, count in (("glass", 14), ("base", 9))
            ),
            finding(
                "loose-vertex", "note", "fixed", "glass has no loose points any more.", part="glass"
            ),
            finding(
                "uv-overlap",
                "note",
                "same",
                "rivets: 24 identical copies share one place on the texture.",
                part="rivets",
                count=24,
                accepted="stacked on purpose, until the hero version",
            ),
        ),
        parts=tuple(
            _part(name, 1 + index / 5, lost=name == "handle") for index, name in enumerate(names)
        ),
        before={"parts": 6, "faces": 3840, "width": 0.31, "height": 0.52, "depth": 0.31},
        after={"parts": 6, "faces": 3842, "width": 0.31, "height": 0.528, "depth": 0.31},
        views=(
            ViewEntry(
                name="front",
                ssim=0.981,
                ssim_worst=0.71,
                flip=0.02,
                flip_worst=0.3,
                silhouette_iou=0.962,
                outline_pixels=6.2,
                outline_share=0.012,
            ),
            ViewEntry(name="back", ssim=0.999, ssim_worst=0.98, silhouette_iou=0.999),
        ),
        pictures=_lantern_pictures(),
        distributions=(
            DistributionEntry(
                name="stretch",
                part="body",
                edges=(1.0, 1.1, 1.2, 1.4, 1.6, 2.0, 3.0),
                before=(0.62, 0.2, 0.1, 0.04, 0.03, 0.01),
                after=(0.58, 0.2, 0.11, 0.05, 0.04, 0.02),
            ),
            DistributionEntry(
                name="texel density",
                unit="px/unit",
                edges=(128, 256, 384, 512, 640, 768),
                before=(0.05, 0.15, 0.5, 0.25, 0.05),
                after=(0.05, 0.15, 0.5, 0.25, 0.05),
            ),
        ),
        notes=("Line 12: the material file lantern.mtl is not in the repository.",),
    )


def _scaled() -> AssetEntry:
    return AssetEntry(
        path="props/harbour/bollard.obj",
        before_path="props/harbour/bollard.obj",
        state="changed",
        verdict="look",
        summary="The bollard is 100 times as large: centimetres were exported as metres.",
        changes=(
            ChangeEntry(
                code="scale",
                part="",
                message="The whole asset is 100 times as large (centimetres read as metres).",
                value=100.0,
            ),
        ),
        findings=(
            finding(
                "odd-unit",
                "look",
                "new",
                "The asset is 92 units tall; the settings expect 0.1 to 5.",
                value=92.0,
                limit=5.0,
                unit="units",
            ),
        ),
        pictures=(
            picture(
                "turntable-frames", "pictures/bollard-frames.png", "The bollard from all around."
            ),
        ),
        before={"faces": 412, "height": 0.92},
        after={"faces": 412, "height": 92.0},
    )


def _quiet(index: int) -> AssetEntry:
    path = f"props/harbour/crate_{index:02d}.obj"
    return AssetEntry(
        path=path, before_path=path, state="same", verdict="pass", summary="Nothing changed."
    )


def _unreadable() -> AssetEntry:
    return AssetEntry(
        path="props/harbour/rope.obj",
        before_path=None,
        state="unreadable",
        verdict="stop",
        summary="The file cannot be read.",
        findings=(
            finding(
                "unreadable",
                "stop",
                "new",
                "Line 2041: a face names point 990, the file has 988; export it again.",
            ),
        ),
    )


def _added() -> AssetEntry:
    return AssetEntry(
        path="props/harbour/buoy.obj",
        before_path=None,
        state="added",
        verdict="pass",
        summary="A new file without faults.",
        parts=(
            PartEntry(
                name="buoy",
                before_name=None,
                form="added",
                unwrap="added",
                before=None,
                after={"faces": 320, "stretch_l2": 1.02},
            ),
        ),
        after={"faces": 320},
    )


def lantern_report() -> Report:
    """Several assets, findings of every severity and standing, all kinds of pictures."""
    return Report(
        tool="reviewbot 0.1.0",
        title="8 files of the harbour set",
        base="9f3c2b7a64d15e80c1f2a3b4c5d6e7f809a1b2c3",
        head="1b7d90e4f2a85c3361d0e9f8a7b6c5d4e3f2a1b0",
        verdict="stop",
        summary="The handle's UVs are gone, rope.obj cannot be read, the bollard grew 100 times.",
        fail_on="stop",
        assets=(_lantern(), _scaled(), _added(), _unreadable(), *(_quiet(i) for i in range(4))),
    )


def quiet_report() -> Report:
    """Nothing happened."""
    return Report(
        tool="reviewbot 0.1.0",
        title="4 files of the harbour set",
        verdict="pass",
        summary="Nothing changed.",
        fail_on="stop",
        assets=tuple(_quiet(index) for index in range(4)),
    )


def hostile_asset(name: str) -> AssetEntry:
    """An asset that carries one name wherever a name can stand."""
    said = f"The part {name} lost its UVs, {name} did."
    return AssetEntry(
        path=name,
        before_path=name,
        state="changed",
        verdict="stop",
        summary=said,
        changes=(ChangeEntry(code="uv-lost", part=name, message=said, unit=name, value=1.0),),
        findings=(
            finding("uv-missing", "stop", "new", said, part=name, value=1.0, unit=name),
            finding("uv-missing", "look", "same", name, part=name),
            finding("uv-missing", "note", "fixed", name, part="other"),
            finding("uv-overlap", "note", "same", name, part=name, accepted=name),
        ),
        parts=(
            PartEntry(
                name=name,
                before_name=name,
                form=name,
                unwrap=name,
                before={name: name, "faces": 2},
                after={name: f"{name}2", "faces": 3},
            ),
        ),
        views=(ViewEntry(name=name, ssim=0.5),),
        pictures=(
            picture("strip", "pictures/strip.png", said, part=name, alt=said),
            picture("spot", "pictures/spot.png", name, part=name, code="uv-missing", alt=name),
        ),
        distributions=(
            DistributionEntry(name=name, part=name, unit=name, edges=(0, 1, 2), after=(0.5, 0.5)),
        ),
        notes=(name, said),
    )


def hostile_report(*names: str) -> Report:
    """One asset for each name, the names in the report's own sentences too."""
    return Report(
        tool="reviewbot 0.1.0",
        title=f"1 file, {names[0]}",
        base=names[0],
        head=names[-1],
        verdict="stop",
        summary=f"{names[0]} broke.",
        fail_on="stop",
        assets=tuple(hostile_asset(name) for name in names),
    )


REPORTS = {
    "lantern": lantern_report(),
    "quiet": quiet_report(),
    "hostile": hostile_report(*HOSTILE_NAMES[:12]),
}
