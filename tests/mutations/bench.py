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
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from _pytest.outcomes import Skipped
from mutations.plants import PLANTS, Plant
from mutations.reexports import REEXPORTS
from mutations.subjects import SOURCES, Subject, built, real

from reviewbot.compare.change import Change
from reviewbot.compare.comparison import compare_parts
from reviewbot.measure.shells import Shells, find_shells
from reviewbot.mesh import Model, Part
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
        model = planted(subject.model, group, np.random.default_rng(seed))
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


def planted(model: Model, group: Sequence[Plant], rng: np.random.Generator) -> Model | None:
    """The model with all plants of a group; None where one cannot be planted, or where one on the
    same part would leave nothing to see of another."""
    touched: list[tuple[str, tuple[str, ...]]] = []
    for plant in group:
        done = plant.plant(model, rng)
        if done is None:
            return None
        model, parts = done
        if any(hides(code, plant.code) and {*own} & {*parts} for code, own in touched):
            return None
        touched.append((plant.code, parts))
    return model


def hides(code: str, other: str) -> bool:
    """Whether of two changes to one part one leaves no trace, or both leave one and the same."""
    return code == other or {code, other} in CLASHES


_UVS = (
    "uv-flipped",
    "uv-mirrored",
    "uv-moved",
    "uv-tile-moved",
    "seams-cut",
    "seams-sewn",
    "uv-reshaped",
)
_POLYGONS = ("triangulated", "subdivided", "faces-added", "faces-removed", "faces-merged")
CLASHES = [
    *({"part-removed", code} for code in (*_UVS, *_POLYGONS, "reshaped", "part-moved", "uv-lost",
      "part-added", "part-renamed", "winding-flipped", "unwelded", "welded", "material-changed",
      "normals-changed", "smoothing-changed", "parts-joined", "part-split", "retopologised")),
    *({gone, code} for gone in ("uv-lost", "uv-added") for code in (*_UVS, "retopologised")),
    *({"retopologised", code} for code in (*_UVS, *_POLYGONS, "reshaped", "winding-flipped",
      "unwelded", "welded", "smoothing-changed", "normals-changed", "part-moved")),
    *({"subdivided", code} for code in (*_UVS, *_POLYGONS, "reshaped", "normals-changed")),
    *({one, other} for one in _POLYGONS for other in (*_POLYGONS, "normals-changed")),
    {"uv-mirrored", "uv-flipped"}, {"uv-moved", "uv-mirrored"}, {"uv-moved", "seams-cut"},
    {"uv-moved", "seams-sewn"}, {"seams-cut", "seams-sewn"}, {"uv-reshaped", "uv-moved"},
    {"uv-reshaped", "seams-cut"}, {"uv-reshaped", "seams-sewn"}, {"uv-reshaped", "uv-mirrored"},
    {"part-renamed", "part-split"}, {"part-renamed", "parts-joined"},
    {"part-split", "parts-joined"}, {"part-added", "parts-joined"}, {"unwelded", "welded"},
    {"part-moved", "offset"}, {"part-moved", "parts-joined"}, {"part-moved", "part-split"},
    {"reshaped", "normals-changed"},
]  # fmt: skip


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
