"""The story's repository: the same every time, and every planted slip really in it."""

from __future__ import annotations

import os
import subprocess
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from plain_obj import PlainObj, read_plain_obj
from repositories import PLAIN
from shapely import Polygon, union_all

from reviewbot.demo.scenario import (
    LANTERN_HIGH,
    LANTERN_LOW,
    OIL_CAN_HIGH,
    OIL_CAN_LOW,
    Step,
    build_repository,
)
from reviewbot.errors import UsageError
from reviewbot.history.git import History, changed_files, commits_between, file_at, open_history
from reviewbot.settings import parse_settings


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("demo") / "studio"


@pytest.fixture(scope="module")
def steps(folder: Path) -> tuple[Step, ...]:
    return build_repository(folder)


@pytest.fixture(scope="module")
def history(folder: Path, steps: tuple[Step, ...]) -> Iterator[History]:
    with open_history(folder) as opened:
        yield opened


def number_of(steps: tuple[Step, ...], code: str) -> int:
    """The one step with this planted change or finding as its first."""
    (found,) = [
        k
        for k, step in enumerate(steps)
        if [planted.code for planted in (*step.findings, *step.changes)][:1] == [code]
    ]
    return found


def version(history: History, steps: tuple[Step, ...], number: int) -> PlainObj:
    data = file_at(history, steps[number].commit, steps[number].path.encode())
    assert data is not None
    return read_plain_obj(data)


def faces_by_value(obj: PlainObj, name: str) -> Counter[tuple[tuple[float, ...], ...]]:
    """Faces as corner places and UVs, from the lowest corner round."""
    part = obj.parts[name]
    found: Counter[tuple[tuple[float, ...], ...]] = Counter()
    for face, uvs in zip(part.faces, part.face_uvs, strict=True):
        rows = obj.points[face].round(5).tolist()
        if uvs:
            rows = [row + uv for row, uv in zip(rows, obj.uvs[uvs].round(5).tolist(), strict=True)]
        k = rows.index(min(rows))
        found[tuple(tuple(row) for row in rows[k:] + rows[:k])] += 1
    return found


def changed_parts(before: PlainObj, after: PlainObj) -> set[str]:
    names = before.parts.keys() | after.parts.keys()
    return {
        name
        for name in names
        if name not in before.parts
        or name not in after.parts
        or faces_by_value(before, name) != faces_by_value(after, name)
    }


class TestRepository:
    def test_it_is_the_same_every_time(self, steps: tuple[Step, ...], tmp_path: Path) -> None:
        assert build_repository(tmp_path / "again") == steps

    def test_a_folder_in_use_is_left_alone(self, tmp_path: Path) -> None:
        (tmp_path / "notes.txt").write_text("mine")
        with pytest.raises(UsageError, match="not empty"):
            build_repository(tmp_path)
        assert [path.name for path in tmp_path.iterdir()] == ["notes.txt"]

    @pytest.mark.usefixtures("steps")
    def test_nothing_is_left_to_commit(self, folder: Path) -> None:
        """Not even where git turns line ends, as git for Windows does."""
        told = subprocess.run(
            ["git", "-c", "core.autocrlf=true", "status", "--porcelain", "--branch"],
            cwd=folder,
            env={**os.environ, **PLAIN},
            check=True,
            capture_output=True,
        )
        assert told.stdout == b"## main\n"

    @pytest.mark.usefixtures("steps")
    def test_git_finds_nothing_amiss(self, folder: Path) -> None:
        subprocess.run(["git", "fsck", "--strict"], cwd=folder, check=True, capture_output=True)

    def test_each_step_is_a_commit_on_a_working_day(
        self, history: History, steps: tuple[Step, ...]
    ) -> None:
        commits = commits_between(history, None, None)
        assert [commit.commit_id for commit in commits] == [step.commit for step in steps]
        assert [commit.subject for commit in commits] == [step.title for step in steps]
        dates = [commit.authored for commit in commits]
        assert dates == sorted(dates)
        assert all(8 <= date.hour < 19 and date.weekday() < 5 for date in dates)
        assert len({date.utcoffset() for date in dates}) == 2  # the clocks went forward
        assert (dates[-1] - dates[0]).days > 14

    def test_each_commit_changes_its_file(self, history: History, steps: tuple[Step, ...]) -> None:
        for step in steps:
            found = changed_files(history, None, step.commit, lambda path: path.endswith(".obj"))
            more = [OIL_CAN_HIGH] if step.path == OIL_CAN_LOW else []
            assert [file.path for file in found.files] == [*more, step.path], step.title

    def test_the_settings_are_good(self, history: History, steps: tuple[Step, ...]) -> None:
        data = file_at(history, steps[0].commit, b"reviewbot.toml")
        assert data is not None
        settings = parse_settings(data.decode(), path="reviewbot.toml")
        assert settings.texture.size == 2048
        assert settings.parts.hidden == ("underside_*",)

    def test_the_materials_are_beside_the_meshes(
        self, history: History, steps: tuple[Step, ...]
    ) -> None:
        last = steps[-1].commit
        for path in (LANTERN_LOW, LANTERN_HIGH, OIL_CAN_LOW, OIL_CAN_HIGH):
            mesh = file_at(history, last, path.encode()) or b""
            named = mesh.split(b"mtllib ")[1].split()[0]
            materials = file_at(history, last, path.rpartition("/")[0].encode() + b"/" + named)
            assert materials is not None
            wanted = {part.material for part in read_plain_obj(mesh).parts.values()}
            assert all(f"newmtl {name}\n".encode() in materials for name in wanted)


class TestPlanted:
    def test_the_first_rough_has_no_uvs(self, history: History, steps: tuple[Step, ...]) -> None:
        assert not len(version(history, steps, 0).uvs)
        assert len(version(history, steps, 1).parts) > len(version(history, steps, 0).parts)
        assert not len(version(history, steps, 1).uvs)

    def test_unwrapping_leaves_the_form_alone(
        self, history: History, steps: tuple[Step, ...]
    ) -> None:
        before, after = version(history, steps, 1), version(history, steps, 2)
        np.testing.assert_array_equal(before.points, after.points)
        assert all(len(part.face_uvs) == len(part.faces) for part in after.parts.values())

    def test_the_quiet_export_is_the_same_model(
        self, history: History, steps: tuple[Step, ...]
    ) -> None:
        (k,) = [k for k, step in enumerate(steps) if step.is_quiet]
        before, after = version(history, steps, 2), version(history, steps, k)
        assert changed_parts(before, after) == set()
        assert list(before.parts) != list(after.parts)
        assert not np.array_equal(before.points, after.points)
        assert len(after.uvs) > len(before.uvs)
        assert b"\r\n" in (file_at(history, steps[k].commit, LANTERN_LOW.encode()) or b"")

    def test_the_tank_s_wall_is_cut_across(self, history: History, steps: tuple[Step, ...]) -> None:
        k = number_of(steps, "seams-cut")
        before, after = version(history, steps, 2), version(history, steps, k)
        assert changed_parts(before, after) == {"tank_low"}
        np.testing.assert_array_equal(before.quads("tank_low"), after.quads("tank_low"))
        # All the way round at half height, the faces below and above have parted.
        places = np.round(after.quads("tank_low"), 5)
        for obj, ways in ((before, 1), (after, 2)):
            uvs = np.round(obj.quad_uvs("tank_low"), 5)
            middle = np.isclose(places[..., 1], 0.048)
            behind = np.isclose(places[..., 0], 0) & (places[..., 2] < 0)
            found: dict[tuple[float, ...], set[tuple[float, ...]]] = {}
            for place, uv in zip(places[middle & ~behind], uvs[middle & ~behind], strict=True):
                found.setdefault(tuple(place), set()).add(tuple(uv))
            assert len(found) == 31
            assert {len(entries) for entries in found.values()} == {ways}
        assert after.uvs.min() > 0
        assert after.uvs.max() < 1
        faces = [Polygon(quad) for name in after.parts for quad in after.quad_uvs(name)]
        stacked = [Polygon(quad) for quad in after.quad_uvs("rivets_low")]
        once = sum(face.area for face in faces) - sum(face.area for face in stacked) * 11 / 12
        assert union_all(faces, grid_size=1e-9).area == pytest.approx(once, rel=5e-4)
        assert changed_parts(before, version(history, steps, k + 1)) == set()

    def test_one_export_is_a_hundred_times_too_large(
        self, history: History, steps: tuple[Step, ...]
    ) -> None:
        k = number_of(steps, "odd-unit")
        before, after = version(history, steps, k - 1), version(history, steps, k)
        np.testing.assert_allclose(after.points, 100 * before.points, atol=1e-9)
        np.testing.assert_array_equal(after.uvs, before.uvs)
        assert changed_parts(before, version(history, steps, k + 1)) == set()

    def test_the_handle_loses_its_uvs(self, history: History, steps: tuple[Step, ...]) -> None:
        (k,) = [k for k, s in enumerate(steps) if s.changes and s.changes[0].code == "uv-lost"]
        before, after = version(history, steps, k - 1), version(history, steps, k)
        assert changed_parts(before, after) == {"handle_low"}
        assert not any(after.parts["handle_low"].face_uvs)
        assert all(before.parts["handle_low"].face_uvs)
        assert changed_parts(before, version(history, steps, k + 1)) == set()

    def test_the_handle_is_bent(self, history: History, steps: tuple[Step, ...]) -> None:
        k = number_of(steps, "silhouette-change")
        before, after = version(history, steps, k - 1), version(history, steps, k)
        assert changed_parts(before, after) == {"handle_low", "grip_low"}
        moved = np.linalg.norm(after.quads("grip_low") - before.quads("grip_low"), axis=-1)
        assert 0.03 < moved.max() < 0.05
        assert before.parts["handle_low"].faces == after.parts["handle_low"].faces
        assert changed_parts(before, version(history, steps, k + 1)) == set()

    def test_a_plate_lies_on_the_plate_and_a_face_has_six_corners(
        self, history: History, steps: tuple[Step, ...]
    ) -> None:
        k = number_of(steps, "doubled-part")
        before, after = version(history, steps, k - 1), version(history, steps, k)
        assert changed_parts(before, after) == {"plate_copy_low", "base_low"}
        assert faces_by_value(after, "plate_copy_low") == faces_by_value(after, "plate_low")
        sizes = Counter(len(face) for face in after.parts["base_low"].faces)
        assert (sizes[6], sizes[4]) == (1, len(before.parts["base_low"].faces) - 2)
        gone = faces_by_value(before, "base_low") - faces_by_value(after, "base_low")
        new = faces_by_value(after, "base_low") - faces_by_value(before, "base_low")
        (six,) = new
        assert {corner for quad in gone for corner in quad} == set(six)
        assert changed_parts(before, version(history, steps, k + 1)) == set()

    def test_shells_are_packed_again(self, history: History, steps: tuple[Step, ...]) -> None:
        (k,) = [k for k, s in enumerate(steps) if s.changes and s.changes[0].code == "uv-moved"]
        before, after = version(history, steps, k - 1), version(history, steps, k)
        np.testing.assert_array_equal(before.points, after.points)
        factors = []
        for name in before.parts:
            lengths = [
                np.linalg.norm(np.roll(obj.quad_uvs(name), -1, axis=1) - obj.quad_uvs(name), axis=2)
                for obj in (before, after)
            ]
            factors.append(lengths[1].sum() / lengths[0].sum())
            assert not np.allclose(before.quad_uvs(name), after.quad_uvs(name), atol=1e-3)
        assert np.ptp(factors) < 1e-3  # one scale for all: nothing was unwrapped anew
        assert 0.8 < factors[0] < 1

    def test_the_end_is_good(self, history: History, steps: tuple[Step, ...]) -> None:
        last = steps[-1].commit
        lantern = read_plain_obj(file_at(history, last, LANTERN_LOW.encode()) or b"")
        sculpt = read_plain_obj(file_at(history, last, LANTERN_HIGH.encode()) or b"")
        assert {name.removesuffix("_low") for name in lantern.parts} == {
            name.removesuffix("_high") for name in sculpt.parts
        }
        assert not len(sculpt.uvs)
        assert {len(face) for part in lantern.parts.values() for face in part.faces} == {4}
