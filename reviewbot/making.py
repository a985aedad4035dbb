"""What needs the libraries that measure and draw.

They take longer to load than a kept review takes to be found: they are loaded here, when something
has to be made.
"""

from __future__ import annotations

import atexit
from collections.abc import Sequence
from contextlib import closing
from dataclasses import dataclass
from functools import cache

from reviewbot.cache.disk import Cache, Place
from reviewbot.cache.reading import Notebook, Reading
from reviewbot.history.sources import Histories, Opener, opened
from reviewbot.jobs import AssetJob, AssetReview
from reviewbot.render.colours import Image
from reviewbot.render.picture import Picture
from reviewbot.report.report import AssetEntry


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """A review, and what was read for it.

    is_kept        it was found, not made
    said           what is to be said of the cache
    before, after  None for a version that there is none of, or no bytes
    """

    review: AssetReview
    is_kept: bool = False
    said: tuple[str, ...] = ()
    before: Reading | None = None
    after: Reading | None = None


def make_review(job: AssetJob, open_source: Opener = opened, *, place: Place | None = None) -> Made:
    """See `review.review_asset`. place  of measured versions; None to measure all anew"""
    from reviewbot.intake import Intake

    said: list[str] = []
    notes = Notebook(open_source)
    kept = None if place is None else Cache(place=place, say=said.append)
    with closing(Intake(job, notes, kept)) as intake:
        from reviewbot.measuring import Measuring

        with closing(Measuring(intake)) as measuring:
            from reviewbot.review import review_asset

            review = review_asset(measuring)
    return Made(
        review=review,
        said=tuple(said),
        before=notes.reading(job.before),
        after=notes.reading(job.after),
    )


def make_review_in_pool(job: AssetJob, *, place: Place | None = None) -> Made:
    """The same in a process that lives for one run only, so that repositories stay open in it."""
    return make_review(job, _histories().opened, place=place)


@cache
def _histories() -> Histories:
    histories = Histories()
    atexit.register(histories.close)
    return histories


def make_contact_picture(
    assets: Sequence[AssetEntry], covers: Sequence[Image | None], *, title: str
) -> Picture | None:
    """See `contact.contact_picture`."""
    from reviewbot.report.contact import contact_picture

    return contact_picture(assets, covers, title=title)
