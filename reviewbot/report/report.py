"""The one value every output is written from; its JSON form is a contract (`reviewbot schema`)."""

from __future__ import annotations

import math
from typing import Annotated, Literal

from pydantic import BeforeValidator, Field

from reviewbot.checks.finding import Standing
from reviewbot.report.progress import Progress
from reviewbot.report.record import Measures, Record, Text
from reviewbot.settings import Gate, Severity


def _finite_or_nowhere(at: object) -> object:
    """A place with a coordinate that is no number is no place."""
    if isinstance(at, tuple | list) and not all(map(math.isfinite, at)):
        return None
    return at


Verdict = Literal["pass", "look", "stop"]
State = Literal["added", "removed", "changed", "same", "unreadable"]
Place = Annotated[tuple[float, float, float] | None, BeforeValidator(_finite_or_nowhere)]


class ChangeEntry(Record):
    """What happened, by its cause."""

    code: Text
    """The kind of change; a code once published keeps its meaning."""
    part: Text
    """The part's name in the version after (before, for a removed one); "" for the asset."""
    message: Text
    """One plain sentence with the figure."""
    value: float | None = None
    """The figure in `unit`; null where there is none, or where it is no finite number."""
    unit: Text = ""
    """The figure's unit; "" for a plain number."""
    at: Place = None
    """Where to look, as x, y, z in the asset's space."""
    accepted: Text | None = None
    """Why this change was made on purpose; null where nobody said so."""


class FindingEntry(Record):
    """What is wrong with the version as it stands."""

    code: Text
    """The rule; a code once published keeps its meaning."""
    severity: Severity
    """"stop" breaks later work, "look" wants a person's eye, "note" is said and no more."""
    part: Text
    """The part's name; "" for the whole asset."""
    standing: Standing
    """Against the version before; "new" where there is none."""
    count: int | None = None
    """How many faces, edges, shells ... are concerned; null where counting means nothing."""
    value: float | None = None
    """The figure, in `unit`, that stands against `limit`."""
    limit: float | None = None
    """The limit from the settings, in `unit`."""
    unit: Text = ""
    """Unit of `value` and `limit`; "" for plain numbers."""
    at: Place = None
    """Where to look, as x, y, z in the asset's space."""
    message: Text
    """One plain sentence: what, how many, and how it looks when it is fixed."""
    accepted: Text | None = None
    """Why this finding is tolerated; null where nobody accepted it."""


class PartEntry(Record):
    """One part before and after."""

    name: Text | None
    """Name in the version after; null for a removed part."""
    before_name: Text | None
    """Name in the version before; null for an added part."""
    form: Text
    """What became of the polygons, in a word."""
    unwrap: Text
    """What became of the UVs, in a word."""
    before: Measures | None
    """Measures of the version before, by name; null for an added part."""
    after: Measures | None
    """Measures of the version after, by name; null for a removed part."""


class ViewEntry(Record):
    """Picture differences of one view, on the object's area. All null where one side is missing."""

    name: Text
    """The view, as in the pictures."""
    ssim: float | None = None
    """Structural similarity, 1 for equal pictures."""
    ssim_worst: float | None = None
    """First percentile of the structural similarity over the object's pixels."""
    flip: float | None = None
    """Mean perceived difference, 0 for equal pictures."""
    flip_worst: float | None = None
    """99th percentile of the perceived difference over the object's pixels."""
    silhouette_iou: float | None = None
    """Common area of both silhouettes over their joint area."""
    outline_pixels: float | None = None
    """Largest displacement of the outline, in pixels of the view."""
    outline_share: float | None = None
    """Largest displacement of the outline, as a share of the asset's size."""


class PictureEntry(Record):
    """One picture file. Pictures whose kinds end in -before, -after and -difference and whose
    view and part are the same show one thing through one camera."""

    kind: Text
    """What the picture is: turntable, turntable-frames, strip, spot, uv-sheet ..."""
    file: Text
    """Path relative to the report's folder."""
    caption: Text
    """What is seen, for everybody."""
    alt: Text
    """What is seen, for those who do not see it."""
    width: Annotated[int, Field(ge=1)]
    """In pixels."""
    height: Annotated[int, Field(ge=1)]
    """In pixels."""
    part: Text = ""
    """The part pictured; "" for the whole asset."""
    code: Text = ""
    """The finding or change pictured; "" for none."""
    view: Text = ""
    """The view, where pictures of one view belong together."""
    columns: Annotated[int, Field(ge=1)] = 1
    """How many frames lie side by side in the picture."""
    rows: Annotated[int, Field(ge=1)] = 1
    """How many rows of frames: two are the version before over the version after."""


class SolidEntry(Record):
    """One version of the asset as a file that the page can turn freely."""

    version: Literal["before", "after"]
    """Which version."""
    file: Text | None
    """Path relative to the report's folder; null where it is too large for a page."""
    triangles: Annotated[int, Field(ge=0)]
    """How many triangles it has."""
    up: Literal["y", "z"] = "y"
    """The axis that points up."""


class DistributionEntry(Record):
    """How a measure is spread over faces, edges or area."""

    name: Text
    """The measure."""
    part: Text = ""
    """The part; "" for the whole asset."""
    unit: Text = ""
    """The measure's unit; "" for a plain number."""
    edges: tuple[float | None, ...]
    """Limits of the bins, ascending: one more than there are bins."""
    before: tuple[float | None, ...] | None = None
    """Share of the whole in each bin, version before; null where there is none."""
    after: tuple[float | None, ...] | None = None
    """Share of the whole in each bin, version after; null where there is none."""


class AssetEntry(Record):
    """One file under review."""

    path: Text
    """Path in the repository (the version before's, for a removed file)."""
    before_path: Text | None
    """Path of the version before; null where there is none."""
    state: State
    """What became of the file."""
    verdict: Verdict
    """The asset's own verdict."""
    summary: Text
    """The asset's verdict as one plain sentence."""
    changes: tuple[ChangeEntry, ...] = ()
    """What happened, by its causes."""
    findings: tuple[FindingEntry, ...] = ()
    """What is wrong with the version as it stands, and what was put right."""
    parts: tuple[PartEntry, ...] = ()
    """The asset's parts, before and after."""
    before: Measures | None = None
    """Measures of the whole asset, version before."""
    after: Measures | None = None
    """Measures of the whole asset, version after."""
    views: tuple[ViewEntry, ...] = ()
    """Picture differences, view by view."""
    pictures: tuple[PictureEntry, ...] = ()
    """Picture files, the most telling first."""
    solids: tuple[SolidEntry, ...] = ()
    """Versions to be turned freely on the page, before before after."""
    distributions: tuple[DistributionEntry, ...] = ()
    """Spreads worth a plot."""
    notes: tuple[Text, ...] = ()
    """What the reader of the file had to say."""


class Report(Record):
    """One review of 3D assets: what changed, what is wrong, and how grave it is."""

    schema_version: Literal[1] = Field(default=1, alias="schema")
    """Version of this form; fields may be added within a version, never changed."""
    tool: Text
    """Name and version of the program that wrote the report."""
    title: Text
    """What was reviewed, in words ("2 files", "lantern.obj before and after")."""
    base: Text | None = None
    """The revision before; null where there is none."""
    head: Text | None = None
    """The revision after; null where the files as they stand were looked at."""
    verdict: Verdict
    """The worst of the assets' verdicts."""
    summary: Text
    """The verdict as one sentence a non-programmer understands."""
    fail_on: Gate
    """The gate: the severity from which on the exit status is 1."""
    assets: tuple[AssetEntry, ...]
    """The files under review."""
    pictures: tuple[PictureEntry, ...] = ()
    """Pictures of all assets together, such as a contact sheet."""
    remarks: tuple[Text, ...] = ()
    """What is to be said of the review itself: acceptances that ran out, files left out."""
    progress: Progress | None = None
    """How it came about, commit by commit; null where two versions alone were looked at."""
