"""Similarities of the UV plane, many at once, as complex numbers: u + iv.

A map carries z to a z + b, or to a conj(z) + b where it mirrors.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from reviewbot.mesh import BoolArray, FloatArray, IndexArray

ComplexArray = npt.NDArray[np.complex128]
Groups = npt.NDArray[np.intp]

ROUNDS = 12  # of reweighting
_SETTLED = 1e-10  # of a tile: a round that moves no map by more is the last
_EXACT = 1e-6  # of a tile: rounding, which counts as no misfit
_ROUNDED = 2e-6  # of a tile: both versions rounded to six decimals differ by 1.5e-6 at most
_NO_MISFIT = float(np.log(_EXACT))
_BETTER = 1.0  # what a mirrored map's misfit must be less by


@dataclass(frozen=True, slots=True, kw_only=True)
class UvMaps:
    """One map a group.

    turn      (G,) complex128 a: its length is the size, its angle the turn
    shift     (G,) complex128 b
    mirrored  (G,) bool
    """

    turn: ComplexArray
    shift: ComplexArray
    mirrored: BoolArray

    def carried(self, uv: ComplexArray, group: IndexArray) -> ComplexArray:
        base = np.where(self.mirrored[group], uv.conj(), uv)
        return np.asarray(self.turn[group] * base + self.shift[group])


def fit_uv_maps(before: ComplexArray, after: ComplexArray, group: IndexArray, count: int) -> UvMaps:
    """The map of each group that carries most of its UVs, however far off the others are.

    before, after  (N,) complex128 row to row; group (N,) int32 below `count`
    returns        a group without rows, or whose UVs all coincide, is only shifted
    source         least absolute deviations by reweighted least squares (Weiszfeld's method);
                   the closed form for two dimensions is a complex linear regression
    """
    groups = group.astype(np.intp)  # what sums by group are made with: else each one turns it anew
    plain = _fit(before, after, groups, count)
    misfit = _misfit(before, after, groups, plain)
    if (misfit - _BETTER <= _NO_MISFIT).all():  # nothing can fit better than that
        return UvMaps(turn=plain[0], shift=plain[1], mirrored=np.zeros(count, dtype=bool))
    mirrored = _fit(before.conj(), after, groups, count)
    better = _misfit(before.conj(), after, groups, mirrored) < misfit - _BETTER
    return UvMaps(
        turn=np.where(better, mirrored[0], plain[0]),
        shift=np.where(better, mirrored[1], plain[1]),
        mirrored=better,
    )


def _fit(
    source: ComplexArray, target: ComplexArray, group: Groups, count: int
) -> tuple[ComplexArray, ComplexArray]:
    x, y, u, v = _parts(source) + _parts(target)
    weight = np.ones(len(source))
    turn, shift = np.ones(count, dtype=complex), np.zeros(count, dtype=complex)
    for _ in range(ROUNDS):
        last_turn, last_shift = turn, shift
        total = np.maximum(np.bincount(group, weights=weight, minlength=count), 1e-300)
        middle = _sums(weight * x, weight * y, group, count) / total
        aim = _sums(weight * u, weight * v, group, count) / total
        # In real numbers: products of complex ones take twice as long.
        dx, dy = (z - each.take(group) for z, each in zip((x, y), _parts(middle), strict=True))
        du, dv = (z - each.take(group) for z, each in zip((u, v), _parts(aim), strict=True))
        spread = np.bincount(group, weights=weight * (dx * dx + dy * dy), minlength=count)
        mixed = _sums(weight * (dx * du + dy * dv), weight * (dx * dv - dy * du), group, count)
        turn = np.where(spread > 1e-18, mixed / np.where(spread > 1e-18, spread, 1), 1.0)
        shift = aim - turn * middle
        left = np.abs(turn.take(group) * source + shift.take(group) - target)
        is_off = np.bincount(group, weights=left > _ROUNDED, minlength=count) > 0
        moves = np.abs(turn - last_turn) + np.abs(shift - last_shift)
        if not (is_off & (moves > _SETTLED)).any():
            break
        weight = 1 / np.maximum(left, 1e-7)
    return turn, shift


def _parts(values: ComplexArray) -> tuple[FloatArray, FloatArray]:
    """Real and imaginary parts, each by itself in memory."""
    return np.ascontiguousarray(values.real), np.ascontiguousarray(values.imag)


def _sums(real: FloatArray, imaginary: FloatArray, group: Groups, count: int) -> ComplexArray:
    sums = (np.bincount(group, weights=one, minlength=count) for one in (real, imaginary))
    return np.asarray(next(sums) + 1j * next(sums))


def _misfit(
    source: ComplexArray,
    target: ComplexArray,
    group: Groups,
    fitted: tuple[ComplexArray, ComplexArray],
) -> FloatArray:
    """(G,) mean logarithm of the distances that a fit leaves, those below rounding all alike: so
    that how many are exact counts for more than how far off the others are."""
    turn, shift = fitted
    left = np.log(np.abs(turn.take(group) * source + shift.take(group) - target) + _EXACT)
    count = np.maximum(np.bincount(group, minlength=len(turn)), 1)
    return np.asarray(np.bincount(group, weights=left, minlength=len(turn)) / count)
