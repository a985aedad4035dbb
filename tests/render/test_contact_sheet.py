"""The worst asset comes first."""

from __future__ import annotations

import io

import numpy as np
from PIL import Image

from reviewbot.render.canvas import paper
from reviewbot.render.contact_sheet import MOST, Card, contact_sheet


def card(name: str, verdict: str, weight: float = 0.0, grey: int = 128) -> Card:
    image = paper(60, 90, (grey, grey, grey))
    return Card(name=name, verdict=verdict, note="a note", image=image, weight=weight)


def test_the_worst_comes_first() -> None:
    cards = [
        card("fine", "pass", grey=10),
        card("bad", "stop", 1, grey=50),
        card("worst", "stop", 5, grey=90),
        card("doubtful", "look", grey=30),
    ]
    picture = contact_sheet(cards, title="Delivery")
    image = np.asarray(Image.open(io.BytesIO(picture.data)))[..., 0]
    columns = {}
    for grey in (10, 30, 50, 90):
        counts = np.count_nonzero(image == grey, axis=0)
        columns[grey] = int(np.flatnonzero(counts > 60).mean())
    assert sorted(columns, key=columns.get) == [90, 50, 30, 10]
    assert picture.caption == "4 assets, the worst first: 2 stop, 1 look, 1 pass."


def test_unreadable_assets_have_a_card_too() -> None:
    blank = Card(name="broken.obj", verdict="stop", note="cannot be read", image=None)
    assert "1 stop" in contact_sheet([blank], title="x").caption


def test_beyond_forty_they_are_counted() -> None:
    many = [card(f"{k}", "pass") for k in range(MOST + 9)]
    forty = contact_sheet(many[:MOST], title="x")
    more = contact_sheet(many, title="x")
    assert more.height - forty.height < 80
    assert more.caption.startswith("49 assets")
