"""The lantern's lower half: foot, oil tank and what is fixed to it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from reviewbot.demo.detail import Detail, edged, spot
from reviewbot.demo.shapes import (
    Band,
    Piece,
    curve,
    joined_outline,
    lathe,
    merged,
    placed,
    plate,
    turned,
)
from reviewbot.mesh import FloatArray

RIVETS = 12


def base(detail: Detail) -> Piece:
    """A flared foot with a lip, hollow underneath."""
    flare = curve([(0.0745, 0.0085), (0.0705, 0.0115), (0.0680, 0.0160)], detail.smooth)
    foot = edged([(0.0690, 0.0050, 0), (0.0690, 0, 0.0008), (0.0760, 0, 0)], detail)
    side = joined_outline(
        edged(
            [(0.0760, 0, 0), (0.0772, 0.0012, 0), (0.0772, 0.0070, 0.0010), (0.0745, 0.0085, 0)],
            detail,
        ),
        flare,
        edged(
            [
                (0.0680, 0.0160, 0),
                (0.0695, 0.0172, 0.0006),
                (0.0695, 0.0212, 0.0008),
                (0.0675, 0.0220, 0.0006),
                (0.0640, 0.0220, 0),
            ],
            detail,
        ),
    )
    return lathe(
        [
            Band(outline=foot),
            Band(outline=side),
        ],
        around=32 * detail.around,
    )


def underside(detail: Detail) -> Piece:
    """A cover let into the foot: nobody sees it once the lantern stands."""
    edge = edged([(0.0560, 0.0022, 0), (0.0686, 0.0022, 0.0008), (0.0686, 0.0046, 0)], detail)
    return lathe(
        [
            Band(outline=edge, layout="disc", cap="ladder"),
            Band(outline=spot(0.0686, 0.0046), layout="disc", cap="ladder"),
        ],
        around=24 * detail.around,
    )


def tank(detail: Detail) -> Piece:
    """The oil tank: a riveted band, a bulging wall, a rolled seam and a domed shoulder."""
    wall = joined_outline(
        edged(
            [
                (0.0625, 0.0205, 0),
                (0.0655, 0.0240, 0),
                (0.0672, 0.0252, 0.0006),
                (0.0672, 0.0338, 0.0006),
                (0.0655, 0.0350, 0.0005),
                (0.0655, 0.0370, 0),
            ],
            detail,
        ),
        curve([(0.0655, 0.0370), (0.0668, 0.0480), (0.0662, 0.0600)], detail.smooth // 2),
        edged([(0.0662, 0.0600, 0), (0.0662, 0.0620, 0.0006), (0.0682, 0.0630, 0)], detail),
    )
    roll = curve([(0.0682, 0.0630), (0.0692, 0.0645), (0.0680, 0.0661)], detail.smooth // 2)
    shoulder = joined_outline(
        curve(
            [(0.0655, 0.0664), (0.0610, 0.0722), (0.0540, 0.0770), (0.0478, 0.0792)], detail.smooth
        ),
        edged(
            [
                (0.0478, 0.0792, 0),
                (0.0466, 0.0798, 0.0005),
                (0.0460, 0.0835, 0.0008),
                (0.0400, 0.0840, 0),
            ],
            detail,
        ),
    )
    step = edged([(0.0680, 0.0661, 0), (0.0668, 0.0664, 0.0005), (0.0655, 0.0664, 0)], detail)
    return lathe(
        [
            Band(outline=joined_outline(wall, roll)),
            Band(outline=joined_outline(step, shoulder), layout="disc"),
        ],
        around=32 * detail.around,
    )


def rivets(detail: Detail) -> Piece:
    """Twelve alike round the tank's band; all lie on one place of the texture."""
    head = joined_outline(
        edged([(0.0034, -0.0006, 0), (0.0034, 0.0004, 0)], detail),
        curve([(0.0034, 0.0004), (0.0027, 0.0016), (0.0014, 0.0022)], detail.smooth // 2),
    )
    rivet = lathe(
        [
            Band(outline=spot(0.0034, -0.0006), layout="disc", cap="ladder"),
            Band(outline=head, layout="disc", cap="grid", bulge=0.0003),
        ],
        around=8 * detail.around,
    )
    rivet = placed(rivet, axis=(0, 0, 1), at=(0, 0.0295, 0.0672))
    angles = 2 * np.pi * (np.arange(RIVETS) + 0.5) / RIVETS
    copies = merged([turned(rivet, angle) for angle in angles.tolist()])
    shell = np.tile(rivet.shell, RIVETS)
    return replace(copies, shell=shell)


def maker_plate(detail: Detail) -> Piece:
    """The maker's plate on the tank's front: a raised rim and, in the sculpt, three waves."""
    across, up = map(_finer, _PLATE_LINES) if detail.carved else _PLATE_LINES
    x, y = np.meshgrid(0.0238 * across, 0.0088 * up)  # metres from the middle
    border = np.minimum(0.0238 - np.abs(x), 0.0088 - np.abs(y))
    relief = np.interp(border, [0, 0.0008, 0.0018, 0.0030], [0.0016, 0.0019, 0.0019, 0.0015])
    if detail.carved:
        relief += 0.0003 * _waves(x, y)
    return plate(radius=0.0660, angles=0.36 * across, heights=0.0485 + 0.0088 * up, relief=relief)


_PLATE_LINES = (
    np.array([-1, -0.966, -0.924, -0.874, -0.44, 0, 0.44, 0.874, 0.924, 0.966, 1]),
    np.array([-1, -0.909, -0.795, -0.659, 0, 0.659, 0.795, 0.909, 1]),
)


def _finer(lines: FloatArray) -> FloatArray:
    """Lines no more than a thirtieth or so apart, the given ones among them."""
    gaps = [max(1, round(gap / 0.03)) for gap in np.diff(lines).tolist()]
    pieces = [
        np.linspace(start, end, count, endpoint=False)
        for start, end, count in zip(lines, lines[1:], gaps, strict=False)
    ]
    return np.concatenate([*pieces, lines[-1:]])


def _waves(x: FloatArray, y: FloatArray) -> FloatArray:
    """Three rows of waves, 0 to 1, in the plate's field."""
    crest = 0.0006 * np.sin(x / 0.0019)
    rows = [np.exp(-(((y - low - crest) / 0.0009) ** 2)) for low in (-0.0034, 0.0, 0.0034)]
    fade = np.clip((0.0200 - np.abs(x)) / 0.0020, 0, 1) * np.clip(
        (0.0060 - np.abs(y)) / 0.0010, 0, 1
    )
    return np.asarray(np.max(rows, axis=0) * fade)


def filler(detail: Detail) -> Piece:
    """The knurled filler cap, leaning out of the tank's shoulder."""
    knurl = np.array(
        [
            (0.0106, 0.0050, 0),
            (0.0108, 0.0056, 0.0003),
            (0.0108, 0.0096, 0.0003),
            (0.0104, 0.0104, 0),
        ]
    )
    side = joined_outline(
        edged(
            [
                (0.0085, -0.0040, 0),
                (0.0085, 0.0030, 0.0004),
                (0.0100, 0.0030, 0.0004),
                (0.0100, 0.0044, 0.0004),
                (0.0106, 0.0050, 0),
            ],
            detail,
        ),
        knurl,
    )
    lid = edged(
        [
            (0.0104, 0.0104, 0),
            (0.0092, 0.0112, 0.0004),
            (0.0070, 0.0112, 0.0004),
            (0.0062, 0.0108, 0),
        ],
        detail,
    )
    piece = lathe(
        [
            Band(outline=spot(0.0085, -0.0040), layout="disc", cap="ladder"),
            Band(outline=side, teeth=detail.teeth),
            Band(outline=lid, layout="disc", cap="grid"),
        ],
        around=detail.knurl,
    )
    angle = np.radians(38)
    out = np.array([np.sin(angle), 0, np.cos(angle)])
    return placed(piece, axis=0.55 * out + [0, 0.85, 0], at=0.0570 * out + [0, 0.0752, 0])
