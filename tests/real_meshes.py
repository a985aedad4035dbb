"""Real meshes for the tests, found or fetched by package name; none is kept in git.

| package | holds | licence |
|---|---|---|
| Debian `assimp-testmodels` | FBX, OBJ, glTF, PLY, STL, some broken on purpose | BSD-3-Clause |
| Debian `minetest-mod-pipeworks` | 38 OBJ, pairs `X` / `X_lowpoly`, UVs | CC-BY-SA-4.0 |
| PyPI `myosuite` 3.0.0 | 9 OBJ with n-gons and UVs, 31 STL | Apache-2.0 |
| PyPI `openmesh` 1.2.1 (sdist) | 17 OBJ, 23 PLY, 5 STL, small quad cubes | BSD-3-Clause |
| PyPI `robosuite-models` 1.0.0 | 96 OBJ up to 251k faces, 162 STL | MIT |
| PyPI `compas` 2.15.1 | 19 OBJ, quads | MIT |
| PyPI `newton` 1.8.0 | 90 USD | Apache-2.0 |

PyPI packages are fetched by pip, checked against the digest below, unpacked (never installed or
imported) into the ignored folder ``.meshes/``. Where a package is not to be had, the asking test
is skipped and says why. Debian packages are used where they are installed.
"""

from __future__ import annotations

import re
import subprocess
import sys
import tarfile
import tempfile
import zipfile
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import pytest

CACHE = Path(__file__).resolve().parents[1] / ".meshes"
KEPT = re.compile(r"\.(obj|mtl|ply|stl|usd[acz]?|fbx|gltf|glb|bin|png|jpg)$", re.IGNORECASE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Package:
    """A package of the Python index, pinned to one file by its digest."""

    name: str
    version: str
    sha256: str


MYOSUITE = Package(
    name="myosuite",
    version="3.0.0",
    sha256="219df6495309723e51fff4b734f2c7cce5b773b630987b2d5787a25e380e0e14",
)
OPENMESH = Package(
    name="openmesh",
    version="1.2.1",
    sha256="6fd3fa41a68148e4a7523f562426aa9758bf65ccc6642abcf79c37bae9c6af3c",
)
ROBOSUITE_MODELS = Package(
    name="robosuite-models",
    version="1.0.0",
    sha256="f764c44aef7fb36c8ebd2c4f27119678da6d662a419ca4f6f8a96dc4cbbf405d",
)
COMPAS = Package(
    name="compas",
    version="2.15.1",
    sha256="509ab436da7fc185b66436d5a1044ab94c932e9d9ca569cb5fe225f32f4493b2",
)
NEWTON = Package(
    name="newton",
    version="1.8.0",
    sha256="f17435c1a8bc6451acd5306ce00e296e7c6931eb8b9d9d61e44e876b2cd9caa2",
)


def myosuite_objs() -> list[Path]:
    return package_files(MYOSUITE, ".obj")


def openmesh_objs() -> list[Path]:
    return package_files(OPENMESH, ".obj")


def openmesh_plys() -> list[Path]:
    return package_files(OPENMESH, ".ply")


def robosuite_objs() -> list[Path]:
    return package_files(ROBOSUITE_MODELS, ".obj")


def compas_objs() -> list[Path]:
    return package_files(COMPAS, ".obj")


def newton_usds() -> list[Path]:
    return package_files(NEWTON, ".usd", ".usda", ".usdc", ".usdz")


def assimp_models(*suffixes: str) -> list[Path]:
    """Sorted files of Debian's assimp-testmodels with these suffixes, e.g. ".obj"."""
    return _debian_files("assimp-testmodels", Path("/usr/share/assimp/models"), suffixes)


def pipeworks_objs() -> list[Path]:
    root = Path("/usr/share/games/minetest/mods/pipeworks/models")
    return _debian_files("minetest-mod-pipeworks", root, (".obj",))


def package_files(package: Package, *suffixes: str) -> list[Path]:
    """Sorted files of a package with these suffixes. Skips the test where it cannot be had."""
    outcome = _unpacked(package)
    if isinstance(outcome, str):
        pytest.skip(f"real meshes of {package.name} {package.version}: {outcome}")
    return _with_suffixes(outcome, suffixes)


def _debian_files(package: str, root: Path, suffixes: Iterable[str]) -> list[Path]:
    if not root.is_dir():
        pytest.skip(f"real meshes: Debian package {package} is not installed")
    return _with_suffixes(root, suffixes)


def _with_suffixes(root: Path, suffixes: Iterable[str]) -> list[Path]:
    wanted = {suffix.lower() for suffix in suffixes}
    return sorted(path for path in root.rglob("*") if path.suffix.lower() in wanted)


@cache
def _unpacked(package: Package) -> Path | str:
    """The folder holding a package's meshes, or why there is none."""
    folder = CACHE / f"{package.name}-{package.version}"
    if folder.is_dir():
        return folder
    CACHE.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory(dir=CACHE) as scratch:
        archive = _download(package, Path(scratch))
        if isinstance(archive, str):
            return archive
        unpacked = Path(scratch) / "unpacked"
        _unpack(archive, unpacked)
        try:
            unpacked.rename(folder)  # whole or not at all, also when two runs meet
        except OSError:
            if not folder.is_dir():
                raise
    return folder


def _download(package: Package, folder: Path) -> Path | str:
    pinned = folder / "pinned.txt"
    pinned.write_text(f"{package.name}=={package.version} --hash=sha256:{package.sha256}\n")
    command = [sys.executable, "-m", "pip", "download", "--quiet", "--no-deps", "--retries=1"]
    command += ["--timeout=20", "--disable-pip-version-check", f"--dest={folder}"]
    done = subprocess.run(
        [*command, "--require-hashes", f"--requirement={pinned}"],
        capture_output=True,
        text=True,
        check=False,
    )
    archives = [*folder.glob("*.whl"), *folder.glob("*.tar.gz")]
    if done.returncode or not archives:
        last = (done.stderr.strip().splitlines() or ["pip gave no reason"])[-1]
        return f"cannot be fetched ({last})"
    return archives[0]


def _unpack(archive: Path, folder: Path) -> None:
    folder.mkdir()
    if archive.suffix == ".whl":
        with zipfile.ZipFile(archive) as wheel:
            for name in wheel.namelist():
                if KEPT.search(name):
                    wheel.extract(name, folder)
        return
    with tarfile.open(archive) as sdist:
        for member in sdist:
            if member.isfile() and KEPT.search(member.name):
                sdist.extract(member, folder, filter="data")
