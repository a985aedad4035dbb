"""The pictures of a digest: each asset's way, its figures, and all assets on one sheet."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from reviewbot.jobs import PICTURE_FOLDER
from reviewbot.render.canvas import beside, fitted
from reviewbot.render.colours import BACKDROP, Image
from reviewbot.render.contact_sheet import Card, Verdict, contact_sheet
from reviewbot.render.film import chosen_frames
from reviewbot.render.panels import empty_panel, scaled
from reviewbot.render.picture import Picture
from reviewbot.report.picture_entries import picture_entry
from reviewbot.report.plain_text import visible
from reviewbot.report.progress import AssetProgress, VersionEntry
from reviewbot.report.progress_plots import asset_plot, findings_plot
from reviewbot.report.progress_words import short_day
from reviewbot.report.report import AssetEntry, PictureEntry, Report
from reviewbot.report.wording import counted
from reviewbot.review import picture_file
from reviewbot.runs import Law, Options, in_processes
from reviewbot.snapshot.drawing import Film, FilmJob, Shot, draw_film
from reviewbot.snapshot.trip import Told

MOST_PICTURED = 40  # assets, those with the most versions first
_WEIGHT = {"stop": 100.0, "look": 1.0, "note": 0.0}
_COVER = 190  # pixels: start and end stand side by side on a card


def with_pictures(
    report: Report, told: Sequence[Told], law: Law, options: Options
) -> tuple[Report, dict[str, bytes]]:
    """The report with its pictures, and their bytes by file; as it is where none are wanted."""
    progress = report.progress
    if progress is None or options.pictures != "all" or not told:
        return report, {}
    chosen = _chosen(told)
    jobs = [_film_job(told[at], progress.assets[at], law, options) for at in chosen]
    films = dict(zip(chosen, in_processes(draw_film, jobs, options), strict=True))
    files: dict[str, bytes] = {}

    paths = [entry.path for entry in report.assets]

    def kept(at: int, pictures: Sequence[Picture]) -> tuple[PictureEntry, ...]:
        # Two assets may have had one path, one after the other.
        path = paths[at] if paths.index(paths[at]) == at else f"{paths[at]} {at}"
        names = [picture_file(path, picture.name, picture.suffix) for picture in pictures]
        files.update((name, picture.data) for name, picture in zip(names, pictures, strict=True))
        return tuple(map(picture_entry, names, pictures))

    assets = tuple(
        entry.model_copy(update={"pictures": kept(at, _pictures(films[at], way))})
        if at in films
        else entry
        for at, (entry, way) in enumerate(zip(report.assets, progress.assets, strict=True))
    )
    overall = [_sheet(report, films), *findings_plot(progress)]
    names = [f"{PICTURE_FOLDER}/{picture.name}{picture.suffix}" for picture in overall]
    files.update((name, picture.data) for name, picture in zip(names, overall, strict=True))
    remarks = report.remarks
    if len(chosen) < len(told):
        left = counted(len(told) - len(chosen), "asset")
        remarks += (f"{left} with the fewest versions are not pictured.",)
    whole = {
        "assets": assets,
        "pictures": tuple(map(picture_entry, names, overall)),
        "remarks": remarks,
    }
    return report.model_copy(update=whole), files


def _chosen(told: Sequence[Told]) -> list[int]:
    order = sorted(range(len(told)), key=lambda at: (-len(told[at].steps), at))
    return sorted(order[:MOST_PICTURED])


def _pictures(film: Film, way: AssetProgress) -> list[Picture]:
    return [*film.pictures, *asset_plot(way)]


def _film_job(told: Told, way: AssetProgress, law: Law, options: Options) -> FilmJob:
    trip = told.trip
    sources = list(trip.versions)
    if trip.start is not None:
        sources.insert(0, trip.start)
    chosen = chosen_frames(len(sources))
    if trip.end is not None:
        sources[-1] = trip.end
    return FilmJob(
        path=told.whole.path,
        shots=tuple(
            Shot(
                source=sources[at],
                day=short_day(way.versions[at].when),
                words=way.versions[at].subject,
                verdict=version_verdict(way.versions[at]),
            )
            for at in chosen
        ),
        left_out=len(sources) - len(chosen),
        start=0 if len(chosen) > 1 else None,
        end=None if trip.end is None else len(chosen) - 1,
        begins="the first version" if trip.start is None else "the start",
        settings=law.settings,
        renderer=options.renderer,
    )


def version_verdict(version: VersionEntry) -> Verdict | None:
    """How a version stands, by what is open in it; None for a removed one."""
    if version.stops is None or version.looks is None:
        return None
    return "stop" if version.stops else "look" if version.looks else "pass"


def _sheet(report: Report, films: dict[int, Film]) -> Picture:
    ways = report.progress.assets if report.progress else ()
    cards = [
        _card(entry, way, films[at])
        for at, (entry, way) in enumerate(zip(report.assets, ways, strict=True))
        if at in films
    ]
    sheet = contact_sheet(cards, title=f"{report.title}, start and end")
    return replace(
        sheet,
        caption="Every asset, at the start (a new one: its first version) left, at the end right.",
    )


def _card(entry: AssetEntry, way: AssetProgress, film: Film) -> Card:
    made = sum(one.state != "start" for one in way.versions)
    still = (way.versions[-1].stops or 0) + (way.versions[-1].looks or 0)
    told = f"{counted(still, 'finding')} open" if still else "nothing open"
    if entry.state == "removed":
        told = "removed"
    return Card(
        name=visible(entry.path.rsplit("/", 1)[-1]),
        verdict=entry.verdict,
        note=f"{counted(made, 'version')}, {told}",
        image=_both(film.covers, _words(entry)),
        weight=sum(_WEIGHT[one.severity] for one in entry.findings if one.standing != "fixed"),
    )


def _words(entry: AssetEntry) -> tuple[str, str]:
    """What stands where a side has no picture."""
    nothing = "nothing to be seen"
    return (
        "new" if entry.before_path is None else nothing,
        "removed" if entry.state == "removed" else nothing,
    )


def _both(covers: tuple[Image | None, Image | None], words: tuple[str, str]) -> Image:
    """Start and end side by side, on one ground."""
    small = [None if side is None else _within(side) for side in covers]
    height = max([_COVER, *(side.shape[0] for side in small if side is not None)])
    panels = [
        empty_panel(word, (height, _COVER))
        if side is None
        else fitted(side, _COVER, height, across="middle", down="middle", background=BACKDROP)
        for side, word in zip(small, words, strict=True)
    ]
    return beside(panels, gap=6)


def _within(cover: Image) -> Image:
    share = min(_COVER / cover.shape[1], 1.6 * _COVER / cover.shape[0])
    return scaled(cover, max(1, int(cover.shape[1] * share)))
