"""How stretch and texel density are spread over the surface of an asset, version by version."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor

import numpy as np

from reviewbot.cores import thread_count
from reviewbot.measure.density import middle_of
from reviewbot.measure.examine import Examination, PartExamination
from reviewbot.mesh import FloatArray
from reviewbot.report.report import DistributionEntry

# Up to how many times a length may be off. The last bin holds everything above it too.
_STRETCH_EDGES = np.array([1, 1.05, 1.1, 1.25, 1.5, 2, 3, 4])
# Density in steps of half a doubling, as sizes of maps go, round the middle of the surface.
_DENSITY_STEPS = 2.0 ** (np.arange(-6, 7) / 2)

Values = tuple[FloatArray, FloatArray]
Shares = Future[tuple[float, ...] | None]


def distributions(
    before: Examination | None, after: Examination | None
) -> tuple[DistributionEntry, ...]:
    """Stretch and texel density by share of the mapped surface; none where nothing is mapped.

    Sculpted parts are left out. What lies outside the bins counts into the first or last of them.
    """
    versions = before, after
    stretch = [_values(version, lambda part: part.stretch.face_worst) for version in versions]
    density = [_values(version, lambda part: part.density.of_face) for version in versions]
    with ThreadPoolExecutor(thread_count()) as pool:
        of_stretch = _begin(stretch, _STRETCH_EDGES, pool)
        edges = _density_edges(density)  # meanwhile: it takes as long
        of_density = _begin(density, edges, pool)
    found = (
        _entry("UV stretch (1: none)", "", of_stretch, _STRETCH_EDGES),
        _entry("texel density", "texels per unit", of_density, edges),
    )
    return tuple(entry for entry in found if entry is not None)


def _begin(
    versions: list[Values | None], edges: FloatArray, pool: ThreadPoolExecutor
) -> list[Shares]:
    """The shares of each version, being worked out; none for bins that are none."""
    if not len(edges) or (np.diff(edges) <= 0).any():
        return []
    return [pool.submit(_shares, version, edges) for version in versions]


def _values(
    version: Examination | None, take: Callable[[PartExamination], FloatArray]
) -> Values | None:
    """(F,) figures of all faces that have one, and (F,) their areas; None where there is none."""
    parts = [part for part in version.parts if part.textured] if version else []
    if not parts:
        return None
    values = np.concatenate([take(part) for part in parts])
    areas = np.concatenate([part.surface.face_area for part in parts])
    known = ~np.isnan(values) & (areas > 0)
    return (values[known], areas[known]) if known.any() else None


def _density_edges(versions: list[Values | None]) -> FloatArray:
    """Bins round the middle density, rounded so that they can be read; empty for no density."""
    newest = next((version for version in reversed(versions) if version is not None), None)
    middle = middle_of(*newest) if newest is not None else np.nan
    if not np.isfinite(middle):
        return np.empty(0)
    digits = 2 - int(np.floor(np.log10(middle)))
    return np.round(middle * _DENSITY_STEPS, digits)


def _entry(
    name: str, unit: str, shares: list[Shares], edges: FloatArray
) -> DistributionEntry | None:
    of_versions = [one.result() for one in shares]
    if all(one is None for one in of_versions):
        return None
    before, after = of_versions
    return DistributionEntry(
        name=name, unit=unit, edges=tuple(edges.tolist()), before=before, after=after
    )


def _shares(version: Values | None, edges: FloatArray) -> tuple[float, ...] | None:
    if version is None:
        return None
    values, areas = version
    within = np.clip(values, edges[0], edges[-1])
    weight, _ = np.histogram(within, bins=edges, weights=areas)
    return tuple((weight / areas.sum()).tolist())
