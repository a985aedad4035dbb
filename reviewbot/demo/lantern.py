"""The harbour storm lantern of Saltmarsh Bench, a prop workshop that we made up.

About 34 cm tall with its handle up. It stands with the middle of its bottom on the origin, its
front towards +z.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from reviewbot.demo.detail import Detail, spot
from reviewbot.demo.lantern_foot import base, filler, maker_plate, rivets, tank, underside
from reviewbot.demo.lantern_light import burner, cage_bars, cage_rings, collar, globe, wick_wheel
from reviewbot.demo.lantern_top import arch, cap, finial, grip, handle, leaning, lugs
from reviewbot.demo.parts import NamedPiece
from reviewbot.demo.shapes import Band, Piece, lathe, tube

HERO = 1.25  # what the camera looks at gets more texture ...
HIDDEN = 0.35  # ... and what nobody sees very little


def lantern(detail: Detail, *, handle_lean: float = 0.0) -> tuple[NamedPiece, ...]:
    """All parts, from the bottom up.

    handle_lean  how far the handle's top leans towards +x, metres
    """
    return (
        NamedPiece(name="base", material="iron", piece=base(detail)),
        NamedPiece(name="underside", material="iron", piece=underside(detail), density=HIDDEN),
        NamedPiece(name="tank", material="brass", piece=tank(detail), density=HERO),
        NamedPiece(name="rivets", material="brass", piece=rivets(detail)),
        NamedPiece(name="plate", material="brass", piece=maker_plate(detail), density=HERO),
        NamedPiece(name="filler", material="brass", piece=filler(detail)),
        NamedPiece(name="collar", material="brass", piece=collar(detail)),
        NamedPiece(name="wick_wheel", material="brass", piece=wick_wheel(detail)),
        NamedPiece(name="burner", material="brass", piece=burner(detail)),
        NamedPiece(name="globe", material="glass", piece=globe(detail)),
        NamedPiece(name="cage_bars", material="iron", piece=cage_bars(detail)),
        NamedPiece(name="cage_rings", material="iron", piece=cage_rings(detail)),
        NamedPiece(name="cap", material="iron", piece=cap(detail)),
        NamedPiece(name="finial", material="iron", piece=finial(detail)),
        NamedPiece(name="lugs", material="iron", piece=lugs(detail)),
        NamedPiece(name="handle", material="iron", piece=handle(detail, lean=handle_lean)),
        NamedPiece(name="grip", material="wood", piece=grip(detail, lean=handle_lean)),
    )


def blocked_out() -> tuple[NamedPiece, ...]:
    """The first rough: plain turned bodies of the right size, with sharp edges."""
    bodies = {
        "base": ("iron", [(0.0772, 0), (0.0772, 0.0080), (0.0680, 0.0220)]),
        "tank": ("brass", [(0.0650, 0.0220), (0.0680, 0.0640), (0.0460, 0.0840)]),
        "collar": ("brass", [(0.0430, 0.0840), (0.0430, 0.0980), (0.0590, 0.1080)]),
        "globe": ("glass", [(0.0480, 0.1060), (0.0590, 0.1480), (0.0440, 0.2080)]),
        "cap": (
            "iron",
            [
                *[(0.0420, 0.2080), (0.0745, 0.2080), (0.0420, 0.2260), (0.0410, 0.2540)],
                *[(0.0520, 0.2540), (0.0380, 0.2725), (0.0080, 0.2830)],
            ],
        ),
    }
    parts = [
        NamedPiece(name=name, material=material, piece=_plain_body(line))
        for name, (material, line) in bodies.items()
    ]
    path = leaning(arch(np.linspace(0, np.pi, 9)), 0.0)
    rod = tube(path, np.full(len(path), 0.0030), sides=4, plane=(0, 0, 1))
    return (*parts, NamedPiece(name="handle", material="iron", piece=rod))


def _plain_body(line: Sequence[tuple[float, float]]) -> Piece:
    return lathe(
        [
            Band(outline=spot(*line[0]), layout="disc", cap="ladder"),
            Band(outline=np.array(line)),
            Band(outline=spot(*line[-1]), layout="disc", cap="ladder"),
        ],
        around=16,
    )


# Knocks that the sculpt shows: middle, how far they reach, how deep, all in metres.
_DENTS: Sequence[tuple[tuple[float, float, float], float, float]] = (
    ((0.0580, 0.0500, 0.0320), 0.0110, 0.0016),
    ((-0.0630, 0.0560, 0.0170), 0.0080, 0.0011),
    ((-0.0350, 0.2105, 0.0620), 0.0130, 0.0018),
    ((0.0300, 0.2690, 0.0280), 0.0120, 0.0014),
)


def dented(piece: Piece) -> Piece:
    """A piece with the sculpt's knocks pressed in towards the lantern's axis."""
    points = piece.points
    inwards = -points * [1, 0, 1]
    length = np.linalg.norm(inwards, axis=1, keepdims=True)
    inwards = np.divide(inwards, length, out=np.zeros_like(points), where=length > 0)
    depth = np.zeros(len(points))
    for middle, reach, deepest in _DENTS:
        distance = np.linalg.norm(points - middle, axis=1)
        depth += deepest * np.exp(-((distance / reach) ** 2))
    return replace(piece, points=points + depth[:, None] * inwards)
