"""Reports of every shape, for property tests."""

from __future__ import annotations

from hypothesis import strategies as st

from reviewbot.report.report import (
    AssetEntry,
    ChangeEntry,
    DistributionEntry,
    FindingEntry,
    PartEntry,
    PictureEntry,
    Report,
    ViewEntry,
)

# Any text a file system or a mesh file can bring, lone surrogates included.
names = st.text(st.characters(), max_size=30)
figures = st.none() | st.floats() | st.integers(-(2**60), 2**60).map(float)
places = st.none() | st.tuples(st.floats(), st.floats(), st.floats())
measures = st.none() | st.dictionaries(
    names, st.none() | st.floats() | st.integers(-(2**60), 2**60) | names, max_size=4
)
severities = st.sampled_from(["note", "look", "stop"])
verdicts = st.sampled_from(["pass", "look", "stop"])
shares = st.none() | st.lists(st.none() | st.floats(), max_size=4)

changes = st.builds(
    ChangeEntry, code=names, part=names, message=names, value=figures, unit=names, at=places
)
findings = st.builds(
    FindingEntry,
    code=names,
    severity=severities,
    part=names,
    standing=st.sampled_from(["new", "worse", "same", "better", "fixed"]),
    count=st.none() | st.integers(0, 2**60),
    value=figures,
    limit=figures,
    unit=names,
    at=places,
    message=names,
    accepted=st.none() | names,
)
parts = st.builds(
    PartEntry,
    name=st.none() | names,
    before_name=st.none() | names,
    form=names,
    unwrap=names,
    before=measures,
    after=measures,
)
views = st.builds(ViewEntry, name=names, ssim=figures, flip_worst=figures, silhouette_iou=figures)
pictures = st.builds(
    PictureEntry,
    kind=st.sampled_from(
        ["strip", "spot", "view-before", "view-after", "uv-sheet", "turntable-frames"]
    )
    | names,
    file=names,
    caption=names,
    alt=names,
    width=st.integers(1, 4096),
    height=st.integers(1, 4096),
    part=names,
    code=names,
    view=names,
    columns=st.integers(1, 64),
    rows=st.integers(1, 2),
)
distributions = st.builds(
    DistributionEntry,
    name=names,
    part=names,
    unit=names,
    edges=st.lists(st.none() | st.floats(), max_size=5),
    before=shares,
    after=shares,
)
assets = st.builds(
    AssetEntry,
    path=names,
    before_path=st.none() | names,
    state=st.sampled_from(["added", "removed", "changed", "same", "unreadable"]),
    verdict=verdicts,
    summary=names,
    changes=st.lists(changes, max_size=3),
    findings=st.lists(findings, max_size=4),
    parts=st.lists(parts, max_size=3),
    before=measures,
    after=measures,
    views=st.lists(views, max_size=2),
    pictures=st.lists(pictures, max_size=3),
    distributions=st.lists(distributions, max_size=2),
    notes=st.lists(names, max_size=2),
)
reports = st.builds(
    Report,
    tool=names,
    title=names,
    base=st.none() | names,
    head=st.none() | names,
    verdict=verdicts,
    summary=names,
    fail_on=st.sampled_from(["note", "look", "stop", "never"]),
    assets=st.lists(assets, max_size=3),
    remarks=st.lists(names, max_size=2),
)
