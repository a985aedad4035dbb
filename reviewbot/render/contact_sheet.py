"""Many assets on one sheet, the worst first: how a lead looks through a delivery."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from reviewbot.render.canvas import (
    GAP,
    NOTE,
    WIDTH,
    beside,
    fitted,
    flow,
    framed,
    label,
    sheet,
    text,
    under,
)
from reviewbot.render.colours import (
    BACKDROP,
    GREEN,
    INK,
    MUTED,
    ORANGE,
    PAPER,
    VERMILLION,
    Image,
    Rgb,
    light_of,
    srgb_from_linear,
)
from reviewbot.render.encoding import drawn_picture
from reviewbot.render.lines import over
from reviewbot.render.panels import empty_panel, scaled
from reviewbot.render.picture import Picture

Verdict = Literal["pass", "look", "stop"]
MOST = 40
_COLUMNS = 4
_ENLARGED = 1.5  # at most, where a picture is smaller than its card
_CARD = (WIDTH - 2 * GAP - (_COLUMNS - 1) * GAP) // _COLUMNS
_ORDER: dict[Verdict, int] = {"stop": 0, "look": 1, "pass": 2}
_COLOURS: dict[Verdict, Rgb] = {"stop": VERMILLION, "look": ORANGE, "pass": GREEN}


@dataclass(frozen=True, slots=True, kw_only=True)
class Card:
    """One asset.

    image    (H, W, 3) its picture, cropped, or None where it cannot be read
    weight   sorts assets of one verdict, the heavier first
    note     a few words: what is wrong, or what changed
    """

    name: str
    verdict: Verdict
    note: str
    image: Image | None
    weight: float = 0.0


def contact_sheet(cards: Sequence[Card], *, title: str) -> Picture:
    """All assets, stop before look before pass; beyond the fortieth they are only counted."""
    order = sorted(cards, key=lambda card: (_ORDER[card.verdict], -card.weight, card.name))
    body = [flow([_card(card) for card in order[:MOST]])]
    if len(order) > MOST:
        body.append(text(f"and {len(order) - MOST} more, no worse than these", colour=MUTED))
    counts = {verdict: sum(c.verdict == verdict for c in cards) for verdict in _ORDER}
    told = ", ".join(f"{count} {verdict}" for verdict, count in counts.items() if count)
    noun = "1 asset" if len(cards) == 1 else f"{len(cards)} assets, the worst first"
    return drawn_picture(
        sheet(title, f"{noun}: {told}", body),
        kind="contact-sheet",
        name="contact-sheet",
        caption=f"{noun}: {told}.",
        alt=f"Contact sheet, {noun}: {told}",
    )


def _card(card: Card) -> Image:
    height = round(_CARD * 0.8)
    if card.image is None:
        drawn = empty_panel("cannot be read", (height, _CARD))
    else:
        share = min(_CARD / card.image.shape[1], height / card.image.shape[0], _ENLARGED)
        small = scaled(card.image, max(1, int(card.image.shape[1] * share)))
        drawn = fitted(small, _CARD, height, across="middle", down="middle", background=BACKDROP)
    words = _CARD - 44
    note = text(f"{card.verdict}: {card.note}" if card.note else card.verdict, width=words)
    name = label(card.name, words, size=NOTE, weight="Semi Bold")
    told = under([name, fitted(note, words, 2 * name.shape[0])[: 2 * name.shape[0]]], gap=0)
    return under([framed(drawn), beside([badge(card.verdict), told], gap=10)], gap=6)


def badge(verdict: Verdict) -> Image:
    """The verdict as a shape and a colour: square, diamond, disc; as on the page and in texts."""
    y, x = (np.mgrid[0:34, 0:34] + 0.5 - np.array([17, 17])[:, None, None]).astype(np.float32)
    if verdict == "stop":
        distance = np.maximum(np.abs(x), np.abs(y)) - 12
    elif verdict == "look":
        distance = (np.abs(x) + np.abs(y) - 16) / np.float32(np.sqrt(2))
    else:
        distance = np.hypot(x, y) - 13
    light = np.broadcast_to(light_of(PAPER), (34, 34, 3)).astype(np.float32)
    for inset, colour in ((0.0, INK), (1.6, _COLOURS[verdict])):  # a dark rim on any ground
        light = over(light, np.clip(0.5 - distance - inset, 0, 1).astype(np.float32), colour)
    return srgb_from_linear(light)
