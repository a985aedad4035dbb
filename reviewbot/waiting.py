"""What is shown to a person who waits for reviews.

What draws it is loaded here, where something is drawn: most reviews run where nobody looks on.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from reviewbot.jobs import AssetReview


def with_progress(reviews: Iterable[AssetReview], count: int, show: bool) -> Iterator[AssetReview]:
    """The reviews, each counted on standard error as it comes. count  of all of them"""
    if not show:
        yield from reviews
        return
    from rich.console import Console  # noqa: PLC0415
    from rich.progress import (  # noqa: PLC0415
        BarColumn,
        MofNCompleteColumn,
        Progress,
        TextColumn,
        TimeRemainingColumn,
    )

    columns = (
        TextColumn("reviewing"),
        BarColumn(),
        MofNCompleteColumn(),
        TimeRemainingColumn(),
        TextColumn("{task.fields[path]}", markup=False),
    )
    with Progress(*columns, console=Console(stderr=True), transient=True) as progress:
        task = progress.add_task("", total=count, path="")
        for review in reviews:
            progress.update(task, advance=1, path=review.entry.path)
            yield review
