"""The oil can that belongs to the lantern: a second, smaller prop of the same workshop."""

from __future__ import annotations

import numpy as np

from reviewbot.demo.detail import Detail, edged, spot
from reviewbot.demo.lantern import HERO
from reviewbot.demo.parts import NamedPiece
from reviewbot.demo.shapes import Band, Piece, curve, joined_outline, lathe, tube


def oil_can(detail: Detail) -> tuple[NamedPiece, ...]:
    """All parts: about 19 cm tall, the spout towards +x and the handle towards -x."""
    return (
        NamedPiece(name="can_body", material="brass", piece=_body(detail), density=HERO),
        NamedPiece(name="can_spout", material="brass", piece=_spout(detail)),
        NamedPiece(name="can_handle", material="iron", piece=_handle(detail)),
    )


def _body(detail: Detail) -> Piece:
    """A tinsmith's cone on a rolled foot, with a screwed neck."""
    side = joined_outline(
        edged(
            [
                (0.0400, 0, 0),
                (0.0412, 0.0012, 0),
                (0.0412, 0.0048, 0.0008),
                (0.0398, 0.0056, 0.0006),
                (0.0398, 0.0300, 0),
                (0.0398, 0.0560, 0),
            ],
            detail,
        ),
        edged(
            [
                (0.0398, 0.0560, 0),
                (0.0398, 0.0580, 0.0006),
                (0.0410, 0.0588, 0.0006),
                (0.0410, 0.0606, 0),
            ],
            detail,
        ),
    )
    shoulder = joined_outline(
        edged([(0.0410, 0.0606, 0), (0.0402, 0.0614, 0.0005), (0.0392, 0.0616, 0)], detail),
        curve(
            [(0.0392, 0.0616), (0.0330, 0.0700), (0.0220, 0.0800), (0.0120, 0.0860)], detail.smooth
        ),
    )
    neck = edged(
        [
            (0.0120, 0.0860, 0),
            (0.0120, 0.0880, 0),
            (0.0132, 0.0884, 0.0006),
            (0.0132, 0.0960, 0.0008),
            (0.0080, 0.0975, 0),
        ],
        detail,
    )
    under = edged([(0.0370, 0.0012, 0), (0.0374, 0, 0.0003), (0.0400, 0, 0)], detail)
    return lathe(
        [
            Band(outline=under, layout="disc", cap="ladder"),
            Band(outline=side),
            Band(outline=shoulder, layout="disc"),
            Band(outline=neck),
            Band(outline=spot(0.0080, 0.0975), layout="disc", cap="ladder"),
        ],
        around=32 * detail.around,
    )


def _spout(detail: Detail) -> Piece:
    """A long tapering spout that leans out over the foot."""
    line = curve(
        [
            (0.0000, 0.0950, 0.0068),
            (0.0000, 0.1030, 0.0064),
            (0.0120, 0.1260, 0.0050),
            (0.0330, 0.1550, 0.0034),
            (0.0540, 0.1760, 0.0024),
            (0.0680, 0.1860, 0.0020),
        ],
        detail.smooth,
    )
    path = np.column_stack([line[:, 0], line[:, 1], np.zeros(len(line))])
    return tube(path, line[:, 2], sides=2 * detail.rod, plane=(0, 0, -1))


def _handle(detail: Detail) -> Piece:
    """A bent rod from the shoulder to the foot."""
    line = curve(
        [
            (-0.0300, 0.0720),
            (-0.0480, 0.0790),
            (-0.0640, 0.0730),
            (-0.0667, 0.0560),
            (-0.0620, 0.0330),
            (-0.0500, 0.0200),
            (-0.0380, 0.0150),
        ],
        1 + detail.smooth // 2,
    )
    path = np.column_stack([line, np.zeros(len(line))])
    return tube(path, np.full(len(path), 0.0024), sides=detail.rod + 2, plane=(0, 0, -1))
