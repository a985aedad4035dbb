"""The lantern's middle: burner, glass and the cage round it."""

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
    turned,
)
from reviewbot.mesh import FloatArray

BARS = 6


def collar(detail: Detail) -> Piece:
    """The burner's collar: a pierced drum under a flared dish that holds the glass."""
    drum = edged(
        [
            (0.0430, 0.0800, 0),
            (0.0430, 0.0852, 0.0005),
            (0.0418, 0.0858, 0.0005),
            (0.0418, 0.0875, 0),
            (0.0418, 0.0915, 0),
            (0.0418, 0.0955, 0),
            (0.0418, 0.0972, 0.0005),
            (0.0430, 0.0978, 0.0005),
            (0.0430, 0.0990, 0),
        ],
        detail,
    )
    first = int(np.flatnonzero(np.isclose(drum[:, 1], 0.0875))[0])
    flare = curve([(0.0430, 0.0990), (0.0490, 0.1012), (0.0570, 0.1032)], detail.smooth // 2)
    rim = edged(
        [
            (0.0570, 0.1032, 0),
            (0.0588, 0.1036, 0.0005),
            (0.0594, 0.1072, 0.0008),
            (0.0570, 0.1080, 0.0006),
            (0.0548, 0.1064, 0),
        ],
        detail,
    )
    dish = edged([(0.0548, 0.1064, 0), (0.0525, 0.1050, 0.0006), (0.0440, 0.1050, 0)], detail)
    return lathe(
        [
            Band(
                outline=drum,
                vents=Vents(
                    count=12,
                    columns=detail.around,
                    rows=(first, first + 2),
                    inset=(0.12, 0.08),
                    depth=0.003,
                ),
            ),
            Band(outline=flare),
            Band(outline=rim),
            Band(outline=dish, layout="disc"),
        ],
        around=24 * detail.around,
    )


def wick_wheel(detail: Detail) -> Piece:
    """The little wheel that turns the wick, on its spindle."""
    spindle = edged(
        [(0.0020, 0, 0), (0.0020, 0.0150, 0.0003), (0.0032, 0.0150, 0.0003), (0.0032, 0.0185, 0)],
        detail,
    )
    wheel = joined_outline(
        edged([(0.0032, 0.0185, 0), (0.0088, 0.0185, 0.0005), (0.0092, 0.0190, 0)], detail),
        np.array(
            [
                (0.0092, 0.0190, 0.0),
                (0.0095, 0.0196, 0.0006),
                (0.0095, 0.0214, 0.0006),
                (0.0092, 0.0220, 0),
            ]
        ),
    )
    face = edged(
        [
            (0.0092, 0.0220, 0),
            (0.0080, 0.0226, 0.0004),
            (0.0056, 0.0218, 0.0004),
            (0.0030, 0.0228, 0),
        ],
        detail,
    )
    piece = lathe(
        [
            Band(outline=spot(0.0020, 0.0), layout="disc", cap="ladder"),
            Band(outline=spindle),
            Band(outline=wheel, layout="disc", teeth=detail.teeth),
            Band(outline=face, layout="disc", cap="grid", bulge=0.0004),
        ],
        around=detail.knurl,
    )
    angle = np.radians(-42)
    out = np.array([np.sin(angle), 0, np.cos(angle)])
    return placed(piece, axis=out, at=0.0425 * out + [0, 0.0915, 0])


def burner(detail: Detail) -> Piece:
    """The wick's dome and tube behind the glass."""
    dome = joined_outline(
        edged([(0.0452, 0.1044, 0), (0.0452, 0.1062, 0.0006), (0.0430, 0.1072, 0)], detail),
        curve(
            [(0.0430, 0.1072), (0.0350, 0.1150), (0.0210, 0.1205), (0.0125, 0.1218)], detail.smooth
        ),
    )
    wick_tube = edged(
        [
            (0.0125, 0.1218, 0),
            (0.0088, 0.1226, 0.0006),
            (0.0088, 0.1300, 0),
            (0.0088, 0.1378, 0.0006),
            (0.0070, 0.1384, 0),
        ],
        detail,
    )
    return lathe(
        [
            Band(outline=dome, layout="disc"),
            Band(outline=wick_tube),
            Band(outline=spot(0.0070, 0.1384), layout="disc", cap="grid", bulge=0.0008),
        ],
        around=16 * detail.around,
    )


def globe(detail: Detail) -> Piece:
    """The glass: one open sheet whose ends stand in the collar's dish and in the cap."""
    glass = curve(
        [
            (0.0475, 0.1050),
            (0.0480, 0.1110),
            (0.0555, 0.1260),
            (0.0592, 0.1480),
            (0.0570, 0.1720),
            (0.0490, 0.1920),
            (0.0445, 0.2030),
            (0.0440, 0.2085),
        ],
        1 + detail.smooth // 3,
    )
    return lathe([Band(outline=joined_outline(glass))], around=32 * detail.around)


def _bar_path(detail: Detail) -> FloatArray:
    path = curve(
        [
            (0.0560, 0.1042),
            (0.0572, 0.1100),
            (0.0640, 0.1260),
            (0.0672, 0.1480),
            (0.0655, 0.1720),
            (0.0592, 0.1930),
            (0.0545, 0.2050),
            (0.0535, 0.2110),
        ],
        1 + detail.smooth // 3,
    )
    return np.column_stack([np.zeros(len(path)), path[:, 1], path[:, 0]])


def cage_bars(detail: Detail) -> Piece:
    """Six bars round the glass, none of them in the middle of the front."""
    path = _bar_path(detail)
    bar = tube(path, np.full(len(path), 0.0021), sides=detail.rod, plane=(-1, 0, 0))
    angles = 2 * np.pi * (np.arange(BARS) + 0.5) / BARS
    return merged([turned(bar, angle) for angle in angles.tolist()])


def cage_rings(detail: Detail) -> Piece:
    """Two rings that hold the bars together."""
    angle = 2 * np.pi * np.arange(32 * detail.around) / (32 * detail.around)
    rings = []
    for radius, height in ((0.0686, 0.1300), (0.0670, 0.1740)):
        path = np.stack(
            [radius * np.sin(angle), 0 * angle + height, radius * np.cos(angle)], axis=1
        )
        thick = np.full(len(path), 0.0017)
        rings.append(tube(path, thick, sides=detail.rod, plane=(0, 1, 0), is_ring=True))
    return merged(rings)
