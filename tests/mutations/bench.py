"""The mutation bench: plants x re-exports x meshes, and how each was named.

    python tests/mutations/bench.py [--seed 1] [--rounds 1] [--built] [--plants WORD] [--wrong]

Prints, for each plant, how often it was planted and named by its code, how many changes were told
beside it, and every harmless re-export that raised a change. Ends with status 1 where a plant
went unnamed, a harmless export was taken for a change, or a whole-asset change was told as more
than one cause.
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import combinations, pairwise
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from _pytest.outcomes import Skipped
from mutations.plants import PLANTS, Plant
from mutations.reexports import REEXPORTS
from mutations.subjects import SOURCES, Subject, built, real

from reviewbot.compare.body import body_of, size_of
from reviewbot.compare.change import CODES, Change
from reviewbot.compare.comparison import compare_parts
from reviewbot.geometry.rigid import moved
from reviewbot.measure.shells import Shells, find_shells
from reviewbot.mesh import FloatArray, IndexArray, Model, Part
from reviewbot.settings import Settings

SETTINGS = Settings()


@dataclass(slots=True)
class Tally:
    """How one plant fared."""

    planted: int = 0
    named: int = 0
    beside: int = 0
    wrong: list[str] = field(default_factory=list)


@dataclass(frozen=True, slots=True, kw_only=True)
class Trial:
    """One comparison: what was planted, how it was exported, and what was told."""

    subject: str
    plants: tuple[Plant, ...]
    reexport: str
    told: tuple[Change, ...]

    @property
    def codes(self) -> list[str]:
        return [change.code for change in self.told]

    @property
    def missed(self) -> list[str]:
        return [plant.code for plant in self.plants if plant.code not in self.codes]

    @property
    def extra(self) -> list[str]:
        """Codes told that nothing planted explains."""
        allowed = {plant.code for plant in self.plants}.union(*(p.also for p in self.plants))
        return [code for code in self.codes if code not in allowed]

    @property
    def is_wrong(self) -> bool:
        if self.missed or (not self.plants and self.told):
            return True
        return any(plant.whole for plant in self.plants) and len(self.plants) == 1 < len(self.told)

    def line(self) -> str:
        names = " + ".join(plant.name for plant in self.plants) or "nothing"
        told = "; ".join(f"{c.code} [{c.part}] {c.message}" for c in self.told[:4]) or "nothing"
        return f"{self.subject}: {names} ({self.reexport}) -> {told}"


Measured = list[tuple[Part, Shells]]


def measured(model: Model) -> Measured:
    return [(part, find_shells(part)) for part in model.parts]


def told_of(before: Measured, after: Model) -> tuple[Change, ...]:
    return compare_parts(before, measured(after), SETTINGS).changes


def quiet_trials(subject: Subject, seed: int) -> Iterator[Trial]:
    """The subject against each harmless export of itself."""
    before = measured(subject.model)
    for name, reexport in REEXPORTS.items():
        after = reexport(subject.model, np.random.default_rng(seed))
        yield Trial(subject=subject.name, plants=(), reexport=name, told=told_of(before, after))


def planted_trials(
    subject: Subject, plants: Iterable[Sequence[Plant]], reexports: Sequence[str], seed: int
) -> Iterator[Trial]:
    """The subject against versions with each group of plants, each in each export."""
    before = measured(subject.model)
    for group in plants:
        model = planted(subject.model, group, seed)
        if model is None:
            continue
        for name in reexports:
            after = REEXPORTS[name](model, np.random.default_rng(seed))
            yield Trial(
                subject=subject.name,
                plants=tuple(group),
                reexport=name,
                told=told_of(before, after),
            )


def planted(model: Model, group: Sequence[Plant], seed: int) -> Model | None:
    """The model with all plants of a group; None where one finds no ground, or where nobody could
    tell afterwards that it was planted: see `is_blurred`, `shows`."""
    after, parts = _with_plants(model, group, seed)
    if after is None:
        return None
    for (one, own), (other, others) in combinations(zip(group, parts, strict=True), 2):
        meet = {*own} & {*others} or "" in own or "" in others
        if meet and is_blurred(one, other):
            return None
    names = {plant.name for plant in group}
    if len(model.parts) == 1 and names & PLACED and names & BENT:
        return None
    step = 1e-5 * (size_of([body_of(*one) for one in measured(model)]) or 1.0)
    if all(plant.whole for plant in group) and _polygons(model, step) == _polygons(after, step):
        return None
    if len(group) > 1 and not all(
        shows(model, group, row, after, seed) for row in range(len(group))
    ):
        return None
    return after


def _polygons(model: Model, step: float) -> Counter[tuple[object, ...]]:
    """The polygons of a model by what they are, points to a step: a box that was turned onto itself
    is the box it was, its faces in another order."""
    found: Counter[tuple[object, ...]] = Counter()
    for part in model.parts:
        points = moved(part.points, part.transform)
        columns = [
            np.round(points[part.corner_point] / step),
            _at_corners(part.uvs, part.corner_uv, 2),
            _at_corners(part.normals @ part.transform[:3, :3].T, part.corner_normal, 3),
        ]
        rows = [*map(tuple, (np.concatenate(columns, axis=1) + 0.0).tolist())]
        materials = [*part.materials, None]  # -1, no material, is the last one
        for face, (start, end) in enumerate(pairwise(part.face_start.tolist())):
            first = min(range(start, end), key=rows.__getitem__, default=start)
            ring = (*rows[first:end], *rows[start:first])
            found[part.name, materials[part.face_material[face]], ring] += 1
    return found


def _at_corners(values: FloatArray, index: IndexArray, width: int) -> FloatArray:
    """(C, width) values to a thousandth at corners, 0 where a corner has none."""
    return np.round(np.concatenate([values, np.zeros((1, width))])[index], 3)


def _with_plants(
    model: Model, group: Sequence[Plant], seed: int, leave_out: int = -1
) -> tuple[Model | None, list[tuple[str, ...]]]:
    """The model with the plants but one, and the parts each touched. Each draws on its own, so
    that leaving one out changes nothing about the others. Parts go by the names they had at
    first."""
    touched: list[tuple[str, ...]] = []
    first = {part.name: part.name for part in model.parts}
    for row, plant in enumerate(group):
        if row == leave_out:
            continue
        done = plant.plant(model, np.random.default_rng([seed, row]))
        if done is None:
            return None, []
        old, (model, parts) = model, done
        if len(old.parts) == len(model.parts):
            for one, other in zip(old.parts, model.parts, strict=True):
                first.setdefault(other.name, first.get(one.name, one.name))
        touched.append(tuple(first.get(name, name) for name in parts))
    return model, touched


def shows(model: Model, group: Sequence[Plant], row: int, after: Model, seed: int) -> bool:
    """Whether a plant makes a difference of its own kind beside the others.

    It does not where another undid or buried it: seams cut on UVs that are gone, a part renamed
    and then removed.
    """
    without, _ = _with_plants(model, group, seed, leave_out=row)
    if without is None:
        return True  # the others stand on it
    return group[row].code in {change.code for change in told_of(measured(without), after)}


def is_blurred(one: Plant, other: Plant) -> bool:
    """Whether two changes to one part leave one and the same trace, so that which of them
    happened cannot be told from the outcome."""
    if one.code == other.code:
        return True
    ours, theirs = {one.code, one.name}, {other.code, other.name}
    return any(
        (a in ours and b in theirs) or (a in theirs and b in ours)
        for a, others in BLURS
        for b in others
    )


_UVS = ("uv-flipped", "uv-mirrored", "uv-moved", "uv-tile-moved", "seams-cut", "seams-sewn",
        "uv-reshaped")  # fmt: skip
_POLYGONS = ("triangulated", "subdivided", "faces-added", "faces-removed", "faces-merged")
# By code or, where only one way to do it is hidden, by the plant's name.
BLURS: tuple[tuple[str, tuple[str, ...]], ...] = (
    # A new part is new whatever else was done to it, and so are new UVs.
    ("part-added", tuple(CODES)),
    ("uv-added", (*_UVS, "uv-lost")),
    # Of polygons laid anew none can be followed, nor the cuts, seams and corners on them; how far
    # the surface went is told with them. Where they face, and what covers them, is told besides.
    ("retopologised", (*_UVS, *_POLYGONS, "reshaped", "part-moved", "normals-changed")),
    ("retopologised", ("some wound back", "smoothing split")),
    # A part that was split and joined again is as it was, a piece that is gone was removed faces,
    # and pieces and wholes are named anew by nature.
    ("part-split", ("parts-joined", "part-renamed", "part-removed")),
    ("parts-joined", ("part-renamed", "part-removed")),
    # A whole that is moved carries what was joined to it, which may be one of several copies.
    ("parts-joined", ("part-moved",)),
    # Triangles that are paired again may be the faces they were cut from.
    ("triangles paired", ("triangulated",)),
    # A piece that was cut out lies elsewhere by nature, wherever it is moved to.
    ("shells moved", ("seams-cut",)),
    # Sewn again, a cut is undone.
    ("seams-cut", ("seams-sewn",)),
    # Each shell lies anywhere, on any tile, once all are packed anew.
    ("repacked", ("uv-tile-moved",)),
    # Of UVs on the next tile a flip about the tile they were on is one about the axis.
    ("UVs flipped along U", ("uv-tile-moved",)),
    # Normals follow the form, and the faces.
    ("normals-changed", ("reshaped", "triangulated")),
    # An unwelded part welded again is as it was.
    ("unwelded", ("welded",)),
)


# A lone part that is bent all over has no size, place or handedness of its own left to compare;
# another unit and other axes show all the same.
PLACED = {"scaled by 1.7", "scaled about its middle", "shifted", "mirrored", "mirrored, rewound"}
BENT = {"stretched", "twisted", "subdivided, smooth", "thinned out"}


def drawn_groups(size: int, count: int, seed: int) -> list[tuple[Plant, ...]]:
    """Groups of plants of different codes; at most one renames, joins or lays out anew."""
    rng = np.random.default_rng(seed)
    groups: list[tuple[Plant, ...]] = []
    while len(groups) < count:
        group = tuple(PLANTS[k] for k in rng.choice(len(PLANTS), size=size, replace=False))
        if len({plant.code for plant in group}) == size:
            groups.append(group)
    return groups


def subjects(*, only_built: bool) -> Iterator[Subject]:
    yield from built()
    if only_built:
        return
    for source in SOURCES:
        try:
            yield from real(source())
        except Skipped as reason:
            print(f"left out: {reason}", file=sys.stderr)


def main() -> int:
    options = _options()
    everything: list[Trial] = []
    chosen = [plant for plant in PLANTS if options.plants in plant.name]
    for subject in subjects(only_built=options.built):
        if options.only not in subject.name:
            continue
        for seed in range(options.seed, options.seed + options.rounds):
            for trial in _trials(subject, chosen, seed, options.groups):
                everything.append(trial)
                if trial.is_wrong or (options.extra and trial.plants and trial.extra):
                    print("WRONG" if trial.is_wrong else "beside", trial.line(), flush=True)
        print(subject.name, file=sys.stderr, flush=True)
    return report(everything)


def _trials(subject: Subject, chosen: Sequence[Plant], seed: int, groups: int) -> Iterator[Trial]:
    """Each plant alone and the harmless exports, or drawn pairs and triples of plants."""
    some: list[Sequence[Plant]] = [(plant,) for plant in chosen]
    if groups:
        some = [*drawn_groups(2, groups, seed), *drawn_groups(3, groups, seed)]
    else:
        yield from quiet_trials(subject, seed)
    yield from planted_trials(subject, some, ("same", "everything at once"), seed)


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--rounds", type=int, default=1)
    parser.add_argument("--built", action="store_true", help="only meshes built in code")
    parser.add_argument("--plants", default="", help="only plants whose name holds this")
    parser.add_argument("--groups", type=int, default=0, help="so many pairs and triples instead")
    parser.add_argument("--only", default="", help="only meshes whose name holds this")
    parser.add_argument("--extra", action="store_true", help="list changes told beside a plant")
    return parser.parse_args()


def report(trials: Sequence[Trial]) -> int:
    tallies: dict[str, Tally] = defaultdict(Tally)
    for trial in trials:
        for plant in trial.plants:
            tally = tallies[plant.name]
            tally.planted += 1
            tally.named += plant.code not in trial.missed
            tally.beside += len(trial.extra)
    for name, tally in tallies.items():
        share = tally.named / tally.planted
        print(f"{name:28}{tally.planted:5}  named {share:7.1%}  beside {tally.beside}")
    wrong = [trial for trial in trials if trial.is_wrong]
    beside = [trial for trial in trials if trial.plants and trial.extra]
    quiet = [trial for trial in trials if not trial.plants]
    planted = [trial for trial in trials if trial.plants]
    named = sum(not trial.missed for trial in planted)
    print(
        f"{len(planted)} planted, {named} named in full; {len(beside)} with other causes beside; "
        f"{len(quiet)} harmless, {sum(bool(t.told) for t in quiet)} false alarms"
    )
    return 1 if wrong else 0


if __name__ == "__main__":
    raise SystemExit(main())
