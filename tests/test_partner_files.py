"""Low and high parts in two files beside each other are paired when either is reviewed."""

import datetime
from pathlib import Path

import pytest
from shapes import box, sphere

from reviewbot.geometry.rays import rays_available
from reviewbot.history.sources import DiskSource
from reviewbot.jobs import AssetJob
from reviewbot.making import make_review
from reviewbot.mesh import Part
from reviewbot.report.report import AssetEntry
from reviewbot.settings import Settings


def obj(*parts: Part) -> str:
    lines, first = [], 1
    for part in parts:
        lines.append(f"o {part.name}")
        lines += ["v {} {} {}".format(*point) for point in part.points.tolist()]
        for start, end in zip(part.face_start[:-1], part.face_start[1:], strict=True):
            corners = (part.corner_point[start:end] + first).tolist()
            lines.append("f " + " ".join(map(str, corners)))
        first += len(part.points)
    return "\n".join(lines) + "\n"


def reviewed(file: Path) -> AssetEntry:
    job = AssetJob(
        path=file.name,
        before=None,
        after=DiskSource(path=file.name, file=file),
        settings=Settings(),
        pictures="none",
        renderer="auto",
        detail="full",
        acceptances=(),
        today=datetime.date(2024, 5, 1),
    )
    return make_review(job).review.entry


def found(file: Path) -> dict[str, list[str]]:
    """Parts by finding code, of the codes about pairs."""
    codes: dict[str, list[str]] = {"pair-missing": [], "pair-gap": []}
    for finding in reviewed(file).findings:
        codes.get(finding.code, []).append(finding.part)
    return codes


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    ball, hook = sphere(24, 12, name="ball"), box((3, 0, 0), (4, 1, 1), "hook")
    (tmp_path / "prop_low.obj").write_text(obj(ball, hook))
    (tmp_path / "prop_high.obj").write_text(obj(sphere(64, 32, radius=1.02, name="ball_high")))
    return tmp_path


def test_each_file_answers_for_its_own_parts(folder: Path) -> None:
    assert found(folder / "prop_low.obj") == {"pair-missing": ["hook"], "pair-gap": []}
    assert found(folder / "prop_high.obj") == {"pair-missing": [], "pair-gap": []}


@pytest.mark.skipif(not rays_available(), reason="embreex has no wheel for this machine")
def test_a_high_file_of_another_size_is_told_at_its_low_one(folder: Path) -> None:
    (folder / "prop_high.obj").write_text(obj(sphere(64, 32, radius=102, name="ball_high")))
    assert found(folder / "prop_low.obj")["pair-gap"] == ["ball"]
    assert found(folder / "prop_high.obj")["pair-gap"] == []


def test_a_partner_that_is_missing_or_broken_costs_nothing(folder: Path) -> None:
    (folder / "prop_high.obj").write_text("f 1 2 99\n")
    assert found(folder / "prop_low.obj") == {"pair-missing": [], "pair-gap": []}
    (folder / "prop_high.obj").unlink()
    assert found(folder / "prop_low.obj") == {"pair-missing": [], "pair-gap": []}
