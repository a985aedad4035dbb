"""The lantern's upper half: chimney, handle and grip."""

from __future__ import annotations

import numpy as np

from reviewbot.demo.detail import Detail, edged, spot
from reviewbot.demo.shapes import (
    Band,
    Piece,
    Vents,
    curve,
    joined_outline,
    lathe,
    merged,
    placed,
    tube,
)
from reviewbot.mesh import FloatArray


def cap(detail: Detail) -> Piece:
    """The chimney: a wide brim, a vented neck, a hood and a dome."""
    under = joined_outline(
        edged([(0.0400, 0.2065, 0), (0.0560, 0.2080, 0)], detail),
        curve([(0.0560, 0.2080), (0.0640, 0.2086), (0.0728, 0.2064)], detail.smooth // 2),
    )
    edge = edged(
        [
            (0.0728, 0.2064, 0),
            (0.0742, 0.2056, 0.0004),
            (0.0752, 0.2072, 0.0006),
            (0.0738, 0.2092, 0),
        ],
        detail,
    )
    brim = joined_outline(
        edge,
        curve(
            [(0.0738, 0.2092), (0.0640, 0.2135), (0.0520, 0.2190), (0.0440, 0.2260)], detail.smooth
        ),
    )
    neck = edged(
        [
            (0.0440, 0.2260, 0),
            (0.0418, 0.2268, 0.0006),
            (0.0412, 0.2292, 0),
            (0.0410, 0.2350, 0),
            (0.0408, 0.2408, 0),
            (0.0406, 0.2466, 0),
            (0.0404, 0.2490, 0.0005),
            (0.0420, 0.2500, 0.0005),
            (0.0420, 0.2530, 0.0005),
            (0.0410, 0.2540, 0),
        ],
        detail,
    )
    first = int(np.flatnonzero(np.isclose(neck[:, 1], 0.2292))[0])
    hood = edged([(0.0410, 0.2540, 0), (0.0505, 0.2528, 0), (0.0512, 0.2520, 0)], detail)
    dome = joined_outline(
        edged([(0.0512, 0.2520, 0), (0.0526, 0.2530, 0.0005), (0.0518, 0.2556, 0)], detail),
        curve(
            [
                (0.0518, 0.2556),
                (0.0470, 0.2640),
                (0.0380, 0.2725),
                (0.0240, 0.2795),
                (0.0080, 0.2822),
            ],
            detail.smooth,
        ),
    )
    vents = Vents(
        count=8,
        columns=2 * detail.around,
        rows=(first, first + 3),
        inset=(0.22, 0.03),
        depth=0.006,
    )
    return lathe(
        [
            Band(outline=under, layout="disc"),
            Band(outline=brim, layout="disc"),
            Band(outline=neck, vents=vents),
            Band(outline=hood),
            Band(outline=dome, layout="disc", cap="ladder"),
        ],
        around=32 * detail.around,
    )


def finial(detail: Detail) -> Piece:
    """The knob on the dome."""
    knob = joined_outline(
        edged(
            [
                (0.0114, 0.2805, 0),
                (0.0114, 0.2832, 0.0005),
                (0.0066, 0.2842, 0.0008),
                (0.0058, 0.2870, 0),
            ],
            detail,
        ),
        curve([(0.0058, 0.2870), (0.0090, 0.2906), (0.0084, 0.2950)], detail.smooth),
    )
    tip = curve([(0.0084, 0.2950), (0.0060, 0.2974), (0.0030, 0.2986)], detail.smooth)
    return lathe(
        [
            Band(outline=spot(0.0114, 0.2805), layout="disc", cap="ladder"),
            Band(outline=knob),
            Band(outline=tip, layout="disc", cap="grid", bulge=0.0003),
        ],
        around=16 * detail.around,
    )


def lugs(detail: Detail) -> Piece:
    """Two bosses on the chimney's neck that carry the handle."""
    side = edged(
        [
            (0.0078, 0, 0),
            (0.0078, 0.0090, 0.0006),
            (0.0058, 0.0098, 0.0006),
            (0.0058, 0.0180, 0.0006),
            (0.0074, 0.0186, 0.0006),
            (0.0074, 0.0212, 0),
        ],
        detail,
    )
    face = edged([(0.0074, 0.0212, 0), (0.0066, 0.0220, 0.0003), (0.0040, 0.0220, 0)], detail)
    boss = lathe(
        [
            Band(outline=spot(0.0078, 0), layout="disc", cap="ladder"),
            Band(outline=side),
            Band(outline=face, layout="disc", cap="grid"),
        ],
        around=8 * detail.around,
    )
    return merged(
        [placed(boss, axis=(sign, 0, 0), at=(sign * 0.0395, 0.2378, 0)) for sign in (1.0, -1.0)]
    )


def arch(turn: FloatArray) -> FloatArray:
    """(N, 2) the handle's round top. turn  radians from +x"""
    return np.stack([0.0742 * np.cos(turn), 0.2660 + 0.0700 * np.sin(turn)], axis=1)


def leaning(path: FloatArray, lean: float) -> FloatArray:
    """(N, 3) a line in the handle's plane, bent sideways from the lugs up to `lean` at the top."""
    rise = np.clip((path[:, 1] - 0.2378) / 0.0982, 0, 1)
    return np.column_stack([path[:, 0] + lean * rise**2, path[:, 1], np.zeros(len(path))])


def handle(detail: Detail, *, lean: float) -> Piece:
    """The bent rod, from inside one lug over the top into the other."""
    steps = 1 + detail.smooth // 2
    half = curve(
        [(0.0560, 0.2378), (0.0640, 0.2378), (0.0705, 0.2412), (0.0738, 0.2500), (0.0742, 0.2660)],
        steps,
    )
    round_top = arch(np.linspace(0, np.pi, 1 + 6 * steps)[1:-1])
    whole = np.concatenate([half, round_top, half[::-1] * [-1, 1]])
    path = leaning(whole, lean)
    return tube(path, np.full(len(path), 0.0024), sides=detail.rod + 2, plane=(0, 0, 1))


# Half of the grip's outline: how far from its middle, of its half length, and how thick, metres.
_GRIP = (
    (-1.000, 0.0034),
    (-0.985, 0.0062),
    (-0.900, 0.0072),
    (-0.800, 0.0070),
    (-0.765, 0.0058),
    (-0.730, 0.0070),
    (-0.400, 0.0082),
    (0.000, 0.0086),
)


def grip(detail: Detail, *, lean: float) -> Piece:
    """A turned wooden grip on the top of the handle."""
    half = np.array(_GRIP)
    line = np.concatenate([half, half[-2::-1] * [-1, 1]])
    if detail.carved:
        line = curve(line.tolist(), 3)
    path = leaning(arch(np.pi / 2 + np.radians(31) * line[:, 0]), lean)
    return tube(path, line[:, 1], sides=2 * detail.rod, plane=(0, 0, -1))
