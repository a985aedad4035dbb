"""What happened to the asset as a whole: sized, turned by right angles, reflected, shifted."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reviewbot.compare.change import Change
from reviewbot.compare.wording import degrees, figure, units
from reviewbot.geometry.rigid import (
    inverse,
    is_reflected,
    mirror_axis_of,
    mirroring,
    moved,
    nearest_signed_axes,
    scale_of,
    turn_of,
)
from reviewbot.mesh import FloatArray

SCALE_NOISE = 1e-4  # a factor nearer to 1, or to a known one, is that factor
RIGHT_ANGLE_NOISE = 1e-3

# Lengths in metres: the international yard and pound agreement of 1959 fixes 1 yd = 0.9144 m,
# so 1 ft = 0.3048 m and 1 in = 0.0254 m exactly; the metric ones are the SI's (BIPM brochure).
UNITS = {
    "millimetres": 0.001,
    "centimetres": 0.01,
    "inches": 0.0254,
    "decimetres": 0.1,
    "feet": 0.3048,
    "yards": 0.9144,
    "metres": 1.0,
    "kilometres": 1000.0,
}
# Which pairs are worth a name, the likeliest first: several pairs give the same factor.
NAMED_PAIRS = (
    ("centimetres", "metres"),
    ("millimetres", "metres"),
    ("inches", "centimetres"),
    ("millimetres", "centimetres"),
    ("inches", "metres"),
    ("feet", "metres"),
    ("inches", "feet"),
    ("feet", "centimetres"),
    ("inches", "millimetres"),
    ("feet", "yards"),
    ("yards", "metres"),
    ("metres", "kilometres"),
    ("centimetres", "kilometres"),
    ("feet", "millimetres"),
)
AXES = "XYZ"


@dataclass(frozen=True, slots=True, kw_only=True)
class WholeMove:
    """What happened to the asset as a whole.

    undo     (4, 4) carries the version after onto the version before
    changes  what is said of it
    """

    undo: FloatArray
    changes: tuple[Change, ...]


def named_factor(factor: float) -> str:
    """What a factor comes from, in words; "" for no known unit.

    >>> named_factor(100.0)
    'as when metres are written as centimetres'
    """
    for small, large in NAMED_PAIRS:
        ratio = UNITS[large] / UNITS[small]
        if abs(factor / ratio - 1) <= SCALE_NOISE:
            return f"as when {large} are written as {small}"
        if abs(factor * ratio - 1) <= SCALE_NOISE:
            return f"as when {small} are written as {large}"
    return ""


def snapped(undo: FloatArray) -> FloatArray:
    """The pose with its turn and factor set to exact ones where they are within rounding.

    The asset's place is left to the caller: the shift is as given.
    """
    scale, exact = scale_of(undo), undo.copy()
    turn = nearest_signed_axes(undo, RIGHT_ANGLE_NOISE)
    linear = undo[:3, :3] / scale if turn is None else turn
    ratios = [UNITS[a] / UNITS[b] for a in UNITS for b in UNITS]
    nearest = min(ratios, key=lambda ratio: abs(scale / ratio - 1))
    if abs(scale / nearest - 1) <= SCALE_NOISE:
        scale = nearest
    exact[:3, :3] = scale * linear
    return exact


def describe_whole(
    undo: FloatArray, before: FloatArray, laid: FloatArray, reach: float
) -> tuple[Change, ...]:
    """The changes that a whole-asset pose stands for.

    undo    (4, 4) carries the version after onto the version before
    before  (N, 3) finite points of the version before
    laid    (M, 3) those of the version after under `undo`: it may have been edited before it was
            sized or turned about its middle
    reach   in units of the version before: a shorter shift is none
    """
    forward = inverse(undo)
    scale = scale_of(forward)
    turn = nearest_signed_axes(forward, RIGHT_ANGLE_NOISE)
    changes = []
    if abs(scale - 1) > SCALE_NOISE:
        changes.append(_scale_change(scale, before))
    if turn is None:
        changes.append(_odd_turn_change(forward))
    else:
        changes += _turn_changes(turn)
    centres = np.concatenate([natural_centres(before), natural_centres(laid)])
    shift = _unexplained_shift(forward, centres)
    if np.linalg.norm(shift) > 2 * reach * scale:
        changes.append(_offset_change(shift))
    return tuple(changes)


def causes_of(undo: FloatArray, centres: FloatArray, reach: float) -> int:
    """How many changes a whole-asset pose stands for; arguments as in `describe_whole`, with the
    natural centres in place of the points."""
    forward = inverse(undo)
    scale = scale_of(forward)
    turn = nearest_signed_axes(forward, RIGHT_ANGLE_NOISE)
    turns = 1 if turn is None else len(_turn_changes(turn))
    shifted = np.linalg.norm(_unexplained_shift(forward, centres)) > 2 * reach * scale
    return int(abs(scale - 1) > SCALE_NOISE) + turns + int(shifted)


def _scale_change(factor: float, before: FloatArray) -> Change:
    size = float(np.linalg.norm(np.ptp(before, axis=0)))
    reason = named_factor(factor)
    how = f"{figure(factor)} times as large" if factor > 1 else f"{figure(factor)} times its size"
    return Change(
        code="scale",
        part="",
        message=f"The whole asset is {how}{', ' + reason if reason else ''} "
        f"(from {units(size)} across to {units(size * factor)}).",
        value=factor,
    )


def _turn_changes(turn: FloatArray) -> list[Change]:
    """A turn by right angles, a reflection, or both."""
    if not is_reflected(_as_pose(turn)):
        return [] if np.array_equal(turn, np.eye(3)) else [_axes_change(turn)]
    if np.array_equal(turn, -np.eye(3)):
        return [_mirror_change("all three axes")]
    axis = mirror_axis_of(_as_pose(turn))
    rest = np.rint(_as_pose(turn) @ mirroring(axis))[:3, :3]
    mirror = _mirror_change(AXES[axis])
    return [mirror] if np.array_equal(rest, np.eye(3)) else [_axes_change(rest), mirror]


def _as_pose(turn: FloatArray) -> FloatArray:
    pose = np.eye(4)
    pose[:3, :3] = turn
    return pose


def _mirror_change(axis: str) -> Change:
    return Change(
        code="mirror",
        part="",
        message=f"The whole asset was mirrored along {axis}: left is right now.",
    )


def _axes_change(turn: FloatArray) -> Change:
    angle, axis = turn_of(_as_pose(turn))
    names = [_axis_name(turn[:, k]) for k in range(3)]
    swaps = [f"{AXES[k]} became {names[k]}" for k in range(3) if names[k] != AXES[k]]
    up = _up_words(names)
    return Change(
        code="axes",
        part="",
        message=f"The whole asset was turned by {degrees(round(angle))}"
        f"{_about(axis)}: {up or ', '.join(swaps)}.",
        value=round(angle),
        unit="°",
    )


def _up_words(names: list[str]) -> str:
    """The one turn everybody knows by name: the up axis changed."""
    if names[0] == "X" and names[1].endswith("Z"):
        return "Y up became Z up" if names[1] == "Z" else "Z up became Y up"
    return ""


def _axis_name(direction: FloatArray) -> str:
    axis = int(np.argmax(np.abs(direction)))
    return f"{'-' if direction[axis] < 0 else ''}{AXES[axis]}"


def _about(axis: FloatArray) -> str:
    strongest = int(np.argmax(np.abs(axis)))
    return f" about {AXES[strongest]}" if abs(axis[strongest]) > 0.999 else ""


def _odd_turn_change(forward: FloatArray) -> Change:
    angle, axis = turn_of(forward)
    reflected = " and mirrored" if is_reflected(forward) else ""
    return Change(
        code="part-moved",
        part="",
        message=f"All parts together were turned by {degrees(angle)}{_about(axis)}{reflected}.",
        value=angle,
        unit="°",
    )


def _offset_change(shift: FloatArray) -> Change:
    steps = [
        f"{figure(abs(step))} along {'-' if step < 0 else ''}{AXES[k]}"
        for k, step in enumerate(shift.tolist())
        if abs(step) > 1e-3 * np.abs(shift).max()
    ]
    length = float(np.linalg.norm(shift))
    return Change(
        code="offset",
        part="",
        message=f"The whole asset was shifted by {units(length)} ({', '.join(steps)}).",
        value=length,
        unit="units",
    )


def natural_centres(points: FloatArray) -> FloatArray:
    """(5, 3) what an asset is sized and turned about: the origin, the middle of its box, the mean
    of its points, the middle of its bottom (Y up, Z up)."""
    low, high = points.min(axis=0), points.max(axis=0)
    middle = (low + high) / 2
    centres = [np.zeros(3), middle, points.mean(axis=0)]
    for up in (1, 2):
        bottom = middle.copy()
        bottom[up] = low[up]
        centres.append(bottom)
    return np.array(centres)


def _unexplained_shift(forward: FloatArray, centres: FloatArray) -> FloatArray:
    """What of the shift is left when sizes and turns happened about a natural centre."""
    shifts = moved(centres, forward) - centres
    if np.abs(forward[:3, :3] - np.eye(3)).max() <= SCALE_NOISE:
        return np.asarray(shifts[1])
    return np.asarray(shifts[int(np.argmin(np.linalg.norm(shifts, axis=1)))])
