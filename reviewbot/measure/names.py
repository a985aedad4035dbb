"""Part names: low and high partners, and names that do not follow the pattern."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from reviewbot.mesh import Model
from reviewbot.settings import NameSettings, as_expression

Kind = Literal["low", "high"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Partner:
    """The file that holds the other kind of parts (see `partner_file`).

    kind  what it holds
    """

    model: Model
    kind: Kind


@dataclass(frozen=True, slots=True, kw_only=True)
class Pairs:
    """Which low part goes with which high part.

    pairs      (low name, high name), in the order of the low ones
    lone_low   low names without a partner
    lone_high  high names without a partner
    twice      names that more than one part has, so that nobody knows which one is meant
    """

    pairs: tuple[tuple[str, str], ...] = ()
    lone_low: tuple[str, ...] = ()
    lone_high: tuple[str, ...] = ()
    twice: tuple[str, ...] = ()


def base_name(name: str, suffix: str) -> str | None:
    """A name without its suffix, or None where it does not end in it; case counts."""
    return name.removesuffix(suffix) if suffix and name.endswith(suffix) else None


def find_pairs(names: Sequence[str], settings: NameSettings) -> Pairs:
    """The low and high parts of one file, paired by what stands before their suffixes.

    A file that holds one kind alone has no pairs and lacks none.
    """
    low = [(base, name) for name in names if (base := base_name(name, settings.low_suffix))]
    high = [(base, name) for name in names if (base := base_name(name, settings.high_suffix))]
    return _paired(low, high) if low and high else Pairs()


def find_pairs_between(
    low_names: Sequence[str], high_names: Sequence[str], settings: NameSettings
) -> Pairs:
    """The same of two files, one low and one high; part names may leave their suffix out."""
    low = [(base_name(name, settings.low_suffix) or name, name) for name in low_names]
    high = [(base_name(name, settings.high_suffix) or name, name) for name in high_names]
    return _paired(low, high)


def _paired(low: list[tuple[str, str]], high: list[tuple[str, str]]) -> Pairs:
    low_of, high_of = dict(low), dict(high)
    twice = [name for kind in (low, high) for (_, name), n in Counter(kind).items() if n > 1]
    return Pairs(
        pairs=tuple((name, high_of[base]) for base, name in low_of.items() if base in high_of),
        lone_low=tuple(name for base, name in low_of.items() if base not in high_of),
        lone_high=tuple(name for base, name in high_of.items() if base not in low_of),
        twice=tuple(twice),
    )


def partner_file(path: str, settings: NameSettings) -> tuple[str, Kind] | None:
    """The file that holds the other kind, by its name, and which kind that is.

    `a/x_low.obj` for `a/x_high.obj` and the other way round; None for a file whose name ends in
    neither suffix.
    """
    stem, dot, extension = path.rpartition(".")
    if not dot or "/" in extension:
        return None
    low, high = settings.low_suffix, settings.high_suffix
    base = base_name(stem, low)
    if base is not None:
        return f"{base}{high}.{extension}", "high"
    base = base_name(stem, high)
    return None if base is None else (f"{base}{low}.{extension}", "low")


def fits_pattern(name: str, pattern: str | None) -> bool:
    """Whether the whole of a name follows the settings' pattern; every name follows none."""
    return pattern is None or re.fullmatch(as_expression(pattern), name) is not None
