"""The demo's story: how the lantern came about, commit by commit, slips and their mending."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta, timezone
from functools import cache
from pathlib import Path

import numpy as np

from reviewbot.demo.detail import HIGH, LOW
from reviewbot.demo.house_rules import SETTINGS_TOML
from reviewbot.demo.lantern import blocked_out, dented, lantern
from reviewbot.demo.oil_can import oil_can
from reviewbot.demo.parts import bare_parts, unwrapped_parts
from reviewbot.demo.writer import Colour, ObjStyle, mtl_bytes, obj_bytes, shuffled
from reviewbot.errors import UsageError
from reviewbot.history.writing import NewCommit, write_repository
from reviewbot.mesh import Part

LANTERN_LOW = "props/lantern/lantern_low.obj"
LANTERN_HIGH = "props/lantern/lantern_high.obj"
OIL_CAN_LOW = "props/oil_can/oil_can_low.obj"
OIL_CAN_HIGH = "props/oil_can/oil_can_high.obj"

_GAP = 18 / 2048  # between shells, in tiles; the maps are 2048 pixels wide
_WIDER_GAP = 26 / 2048
_COLOURS = (
    Colour(name="iron", red=0.10, green=0.11, blue=0.13),
    Colour(name="brass", red=0.55, green=0.31, blue=0.07),
    Colour(name="glass", red=0.61, green=0.75, blue=0.75),
    Colour(name="wood", red=0.19, green=0.065, blue=0.02),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Planted:
    """A change or finding that a review of one commit must name.

    part  "" for the whole asset
    """

    code: str
    part: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One commit of the story.

    commit    its full id
    title     its subject
    path      the file that it is about
    changes   what happened, by cause
    findings  what is wrong with the file now and was not before
    is_quiet  the file differs, the model does not: nothing at all may be said
    """

    commit: str = ""
    title: str
    path: str = LANTERN_LOW
    changes: tuple[Planted, ...] = ()
    findings: tuple[Planted, ...] = ()
    is_quiet: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class _Planned:
    """A step and what its commit is made of."""

    step: Step
    author: str
    files: dict[str, bytes]


_STYLE = ObjStyle(heading="Saltmarsh Bench")
_OTHER_STYLE = ObjStyle(heading="Saltmarsh Bench, bench by the window", digits=8, line_end="\r\n")
_MODELLER = "Runa Eskildsen"
_SURFACER = "Mateo Wilkowski"
_DOMAIN = "saltmarsh-bench.example"


def build_repository(folder: Path) -> tuple[Step, ...]:
    """The story as a git repository: one branch, `main`, checked out; the same ids every time.

    Raises UsageError where the folder holds something already, RevisionError where git fails.
    """
    if folder.exists() and any(folder.iterdir()):
        raise UsageError(f"{folder} is not empty: give a new folder, or remove this one")
    planned = tuple(_story())
    commits = write_repository(folder, tuple(map(_new_commit, planned, _working_hours())))
    return tuple(
        replace(plan.step, commit=commit) for plan, commit in zip(planned, commits, strict=True)
    )


def _new_commit(planned: _Planned, when: datetime) -> NewCommit:
    first_name = planned.author.split()[0].lower()
    return NewCommit(
        message=planned.step.title + "\n",
        author=planned.author,
        email=f"{first_name}@{_DOMAIN}",
        when=when,
        files=planned.files,
    )


def _working_hours() -> Iterator[datetime]:
    """A moment on each working day; the clocks go forward within the story."""
    day = datetime(2025, 3, 17, 10, 12, tzinfo=UTC)
    while True:
        if day.weekday() < 5:
            summer = day >= datetime(2025, 3, 30, 1, tzinfo=UTC)
            yield day.astimezone(timezone(timedelta(hours=2 if summer else 1)))
        day += timedelta(hours=24, minutes=7)


def _story() -> Iterator[_Planned]:
    yield from _beginning()
    yield from _slips_of_export()
    yield from _slips_of_modelling()
    yield from _ending()


def _beginning() -> Iterator[_Planned]:
    yield _planned(
        Step(title="Block out the storm lantern", findings=(Planted(code="uv-missing"),)),
        bare_parts(blocked_out(), suffix="_low"),
        extra={
            "reviewbot.toml": SETTINGS_TOML.encode(),
            ".gitattributes": b"*.obj -text\n*.mtl -text\n",
            "props/lantern/lantern.mtl": mtl_bytes(_COLOURS, heading=_STYLE.heading),
        },
    )
    yield _planned(
        Step(
            title="Model the lantern: bevels, vents, cage, rivets",
            changes=(
                Planted(code="part-added", part="cage_bars_low"),
                Planted(code="part-added", part="rivets_low"),
            ),
        ),
        bare_parts(lantern(LOW), suffix="_low"),
    )
    yield _planned(
        Step(
            title="Unwrap the lantern and pack one tile",
            changes=(Planted(code="uv-added", part="tank_low"),),
        ),
        _lantern_low(),
    )
    sculpt = [replace(named, piece=dented(named.piece)) for named in lantern(HIGH)]
    yield _planned(
        Step(title="Sculpt the high version with its knocks", path=LANTERN_HIGH),
        bare_parts(sculpt, suffix="_high"),
    )


def _slips_of_export() -> Iterator[_Planned]:
    yield _planned(
        Step(title="Export again from the bench by the window", is_quiet=True),
        [shuffled(part) for part in reversed(_lantern_low())],
        style=_OTHER_STYLE,
        author=_SURFACER,
    )
    yield _planned(
        Step(
            title="Cut the tank's wall in two, it is easier to paint",
            changes=(Planted(code="seams-cut", part="tank_low"),),
        ),
        _changed(_lantern_low(), "tank_low", _with_a_cut_across),
        author=_SURFACER,
    )
    yield _planned(
        Step(
            title="Sew the tank's wall up again",
            changes=(Planted(code="seams-sewn", part="tank_low"),),
        ),
        _lantern_low(),
        author=_SURFACER,
    )
    yield _planned(
        Step(
            title="Export with the new preset",
            changes=(Planted(code="scale"),),
            findings=(Planted(code="odd-unit"),),
        ),
        [replace(part, points=part.points * 100) for part in _lantern_low()],
    )
    yield _planned(
        Step(title="Back to metres", changes=(Planted(code="scale"),)),
        _lantern_low(),
    )


def _slips_of_modelling() -> Iterator[_Planned]:
    yield _planned(
        Step(
            title="Clean up the handle's loops",
            changes=(Planted(code="uv-lost", part="handle_low"),),
            findings=(Planted(code="uv-missing", part="handle_low"),),
        ),
        _changed(_lantern_low(), "handle_low", _without_uvs),
    )
    yield _planned(
        Step(
            title="Put the handle's UVs back",
            changes=(Planted(code="uv-added", part="handle_low"),),
        ),
        _lantern_low(),
    )
    yield _planned(
        Step(
            title="Let the handle swing to one side",
            changes=(Planted(code="reshaped", part="handle_low"),),
            findings=(Planted(code="silhouette-change"),),
        ),
        _bent(_lantern_low()),
    )
    yield _planned(
        Step(
            title="Stand the handle upright again, as in the concept",
            changes=(Planted(code="reshaped", part="handle_low"),),
        ),
        _lantern_low(),
    )
    yield _planned(
        Step(
            title="Try another plate and tidy the foot",
            changes=(
                Planted(code="part-added", part="plate_copy_low"),
                Planted(code="faces-merged", part="base_low"),
            ),
            findings=(
                Planted(code="doubled-part", part="plate_copy_low"),
                Planted(code="ngon", part="base_low"),
            ),
        ),
        _with_stray_plate(_changed(_lantern_low(), "base_low", _with_merged_faces)),
    )
    yield _planned(
        Step(
            title="Remove the stray plate, cut the foot's face again",
            changes=(Planted(code="part-removed", part="plate_copy_low"),),
        ),
        _lantern_low(),
    )


def _ending() -> Iterator[_Planned]:
    yield _planned(
        Step(
            title="Pack again with more room between the shells",
            changes=tuple(Planted(code="uv-moved", part=part.name) for part in _lantern_low()),
        ),
        _lantern_low(gap=_WIDER_GAP),
        author=_SURFACER,
    )
    can_low = unwrapped_parts(oil_can(LOW), suffix="_low", gap=_GAP)
    can_high = bare_parts(oil_can(HIGH), suffix="_high")
    yield _planned(
        Step(title="Add the oil can", path=OIL_CAN_LOW),
        can_low,
        materials_file="oil_can.mtl",
        extra={
            OIL_CAN_HIGH: obj_bytes(can_high, materials_file="oil_can.mtl", style=_STYLE),
            "props/oil_can/oil_can.mtl": mtl_bytes(_COLOURS[:2], heading=_STYLE.heading),
        },
    )


def _planned(
    step: Step,
    parts: Sequence[Part],
    *,
    style: ObjStyle = _STYLE,
    author: str = _MODELLER,
    materials_file: str = "lantern.mtl",
    extra: dict[str, bytes] | None = None,
) -> _Planned:
    written = obj_bytes(parts, materials_file=materials_file, style=style)
    return _Planned(step=step, author=author, files={step.path: written, **(extra or {})})


@cache
def _lantern_low(*, gap: float = _GAP) -> tuple[Part, ...]:
    return unwrapped_parts(lantern(LOW), suffix="_low", gap=gap)


def _changed(parts: Sequence[Part], name: str, change: Callable[[Part], Part]) -> tuple[Part, ...]:
    return tuple(change(part) if part.name == name else part for part in parts)


_WALL_TOP, _WALL_MIDDLE = 0.06615, 0.0480  # of the tank, metres


def _with_a_cut_across(part: Part) -> Part:
    """The tank's wall in two strips, one above the other in the place of the one before."""
    quads = part.corner_point.reshape(-1, 4)
    height = part.points[quads][:, :, 1]
    is_wall = height.max(axis=1) < _WALL_TOP
    is_upper = is_wall & (height.min(axis=1) > _WALL_MIDDLE - 1e-6)
    uvs = part.uvs[part.corner_uv].reshape(-1, 4, 2)
    wall = uvs[is_wall].reshape(-1, 2)
    low, size = wall.min(axis=0), np.ptp(wall, axis=0)
    shrunk = 1 - _GAP / size.min()
    uvs[is_wall] = low + shrunk * (uvs[is_wall] - low)
    uvs[is_upper] += np.where(size == size.min(), _GAP, 0)
    return replace(
        part,
        uvs=uvs.reshape(-1, 2),
        corner_uv=np.arange(quads.size, dtype=np.int32),
    )


def _without_uvs(part: Part) -> Part:
    return replace(part, uvs=np.empty((0, 2)), corner_uv=np.empty(0, dtype=np.int32))


def _with_merged_faces(part: Part) -> Part:
    """Two neighbouring quads in the part's middle become one face of six corners."""
    quads = part.corner_point.reshape(-1, 4)
    side_by_side = (quads[:-1, 1] == quads[1:, 0]) & (quads[:-1, 2] == quads[1:, 3])
    candidates = np.flatnonzero(side_by_side)
    left = int(candidates[len(candidates) // 2])
    a = 4 * left
    corners = np.arange(len(part.corner_point))
    six = corners[[a, a + 1, a + 5, a + 6, a + 2, a + 3]]
    kept = np.concatenate([corners[:a], six, corners[a + 8 :]])
    sizes = np.concatenate(
        [np.diff(part.face_start)[:left], [6], np.diff(part.face_start)[left + 2 :]]
    )
    return replace(
        part,
        corner_point=part.corner_point[kept],
        corner_uv=part.corner_uv[kept],
        face_start=np.concatenate([[0], np.cumsum(sizes)]).astype(np.int32),
        corner_normal=np.empty(0, dtype=np.int32),
        face_material=part.face_material[1:],
        face_smoothing=np.ones(part.face_count - 1, dtype=np.int32),
    )


def _bent(parts: Sequence[Part]) -> tuple[Part, ...]:
    """The handle and its grip lean over; their UVs stay, as they do when points are dragged."""
    leaning = bare_parts(lantern(LOW, handle_lean=0.04), suffix="_low")
    return tuple(
        replace(part, points=moved.points) for part, moved in zip(parts, leaning, strict=True)
    )


def _with_stray_plate(parts: Sequence[Part]) -> tuple[Part, ...]:
    (plate,) = (part for part in parts if part.name == "plate_low")
    return (*parts, replace(plate, name="plate_copy_low"))
