"""A second review of the same range is the first one, and loads nothing that measures or draws."""

import os
import subprocess
import sys
from pathlib import Path

import pytest
from kept import LID, write_prop
from repositories import Repository

SMALL = "[pictures]\nviews = 4\nsize = 64\n"


@pytest.fixture
def repository(tmp_path: Path) -> Repository:
    work = Repository(tmp_path / "lantern")
    work.folder.mkdir()
    work.git("init", "--quiet", "--template=", "--initial-branch=main")
    write_prop(work.folder / "props")
    work.write("reviewbot.toml", SMALL.encode())
    work.commit()
    for name in ("lid_low", "lid_high"):
        moved = LID.replace("lid_low", name).replace("v 1 1 0", "v 1 1 0.2")
        work.write(f"props/{name}.obj", moved.encode())
    work.commit()
    return work


def review(work: Repository, out: Path, *options: str, **environment: str) -> str:
    """Writes the report; what was said on standard error."""
    command = [sys.executable, "-m", "reviewbot", "review", str(work.folder), "--out", str(out)]
    done = subprocess.run(
        [*command, "--workers", "1", *options],
        env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path), **environment},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode in (0, 1), done.stderr
    return done.stderr


def files(folder: Path) -> dict[str, bytes]:
    return {
        str(file.relative_to(folder)): file.read_bytes()
        for file in folder.rglob("*")
        if file.is_file()
    }


@pytest.mark.slow
def test_a_second_review_is_the_first_byte_for_byte(tmp_path, repository):
    kept = tmp_path / "kept"
    review(repository, tmp_path / "one", "--cache", str(kept))
    loaded = review(repository, tmp_path / "two", "--cache", str(kept), PYTHONPROFILEIMPORTTIME="1")
    review(repository, tmp_path / "anew", "--no-cache")
    assert files(tmp_path / "two") == files(tmp_path / "one") == files(tmp_path / "anew")
    assert len(files(tmp_path / "one")) > 20
    modules = {line.rpartition("|")[2].strip() for line in loaded.splitlines() if "|" in line}
    assert "reviewbot.cache.reviews" in modules
    assert not modules & {"scipy", "skimage", "trimesh", "reviewbot.measuring", "reviewbot.review"}


@pytest.mark.slow
def test_another_branch_finds_what_this_one_kept(tmp_path, repository):
    kept = ("--cache", str(tmp_path / "kept"), "--no-pictures")
    review(repository, tmp_path / "one", *kept)
    repository.git("checkout", "--quiet", "-b", "aside", "HEAD~1")
    repository.git("checkout", "--quiet", "main", "--", "props")
    repository.commit(message="The same by another way")
    entries = len(list((tmp_path / "kept").glob("??/*.kept")))
    review(repository, tmp_path / "two", *kept)
    assert len(list((tmp_path / "kept").glob("??/*.kept"))) == entries


def test_damage_is_said_once_and_mended(tmp_path, repository):
    kept = tmp_path / "kept"
    review(repository, tmp_path / "one", "--cache", str(kept), "--no-pictures")
    for file in kept.glob("??/*.kept"):
        file.write_bytes(file.read_bytes()[:-1])
    said = review(repository, tmp_path / "two", "--cache", str(kept), "--no-pictures")
    assert said.count("thrown away") == 1
    again = review(repository, tmp_path / "three", "--cache", str(kept), "--no-pictures")
    assert again == ""
    assert files(tmp_path / "two") == files(tmp_path / "one") == files(tmp_path / "three")


def test_a_cache_that_cannot_be_written_costs_no_review(tmp_path, repository):
    (tmp_path / "kept").write_text("a file stands in the way")
    said = review(repository, tmp_path / "one", "--cache", str(tmp_path / "kept"), "--no-pictures")
    assert said.count("nothing is kept") == 1
    assert (tmp_path / "one" / "report.json").exists()


def cache_command(*arguments: str, **environment: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "reviewbot", "cache", *arguments],
        env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path), **environment},
        capture_output=True,
        text=True,
        check=False,
    )


def test_the_command_shows_and_trims(tmp_path, repository):
    kept = tmp_path / "kept"
    shown = cache_command("--cache", str(kept)).stdout
    assert f"folder   {kept}" in shown
    assert "entries  0" in shown
    review(repository, tmp_path / "one", "--cache", str(kept), "--no-pictures")
    count = len(list(kept.glob("??/*.kept")))
    shown = cache_command("--cache", str(kept)).stdout
    assert f"entries  {count}" in shown
    assert "oldest   last used" in shown
    assert "took out 0 entries" in cache_command("--cache", str(kept), "--trim", "5").stdout
    assert f"took out {count} entries" in cache_command("--cache", str(kept), "--clear").stdout
    assert list(kept.glob("??/*.kept")) == []


def test_the_environment_says_where_and_how_much(tmp_path):
    shown = cache_command(REVIEWBOT_CACHE=str(tmp_path / "here"), REVIEWBOT_CACHE_MB="77").stdout
    assert f"folder   {tmp_path / 'here'}" in shown
    assert "of 77 MB" in shown
    assert "nothing is kept" in cache_command(REVIEWBOT_CACHE="").stdout
    wrong = cache_command(REVIEWBOT_CACHE_MB="plenty")
    assert (wrong.returncode, wrong.stderr.count("\n")) == (2, 1)


@pytest.mark.skipif(sys.platform != "linux", reason="XDG folders are Linux's")
def test_the_users_own_folder_is_the_customary_one(tmp_path):
    """XDG Base Directory Specification 0.8: $XDG_CACHE_HOME if absolute, else $HOME/.cache."""
    environment = {"HOME": str(tmp_path), "XDG_CACHE_HOME": str(tmp_path / "x")}
    without = {name: value for name, value in os.environ.items() if name != "REVIEWBOT_CACHE"}
    for named, folder in ((str(tmp_path / "x"), "x"), ("", ".cache"), ("relative", ".cache")):
        done = subprocess.run(
            [sys.executable, "-m", "reviewbot", "cache"],
            env={**without, **environment, "XDG_CACHE_HOME": named, "PYTHONPATH": sys.path[0]},
            capture_output=True,
            text=True,
            check=True,
        )
        assert f"folder   {tmp_path / folder / 'reviewbot'}" in done.stdout


def modules_after(imports: str) -> set[str]:
    done = subprocess.run(
        [sys.executable, "-c", f"import sys, {imports}; print(*sys.modules)"],
        env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
        capture_output=True,
        text=True,
        check=True,
    )
    return set(done.stdout.split())


def test_what_finds_kept_reviews_loads_nothing_that_measures():
    loaded = modules_after("reviewbot.runs, reviewbot.publish.folder")
    assert "reviewbot.cache.reviews" in loaded
    assert not {"scipy", "skimage", "trimesh"} & loaded
    # Nor what reads, draws, asks git, shows progress or knows of a cluster.
    assert not {"PIL", "matplotlib", "git", "rich", "dask", "distributed"} & loaded
    assert not {"reviewbot.intake", "reviewbot.readers.formats", "reviewbot.measuring"} & loaded


def test_the_command_line_itself_loads_little():
    loaded = modules_after("reviewbot.cli")
    assert "typer" in loaded
    assert not {"numpy", "pydantic", "jinja2", "rich", "git", "reviewbot.runs"} & loaded
