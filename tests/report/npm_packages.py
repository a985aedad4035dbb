"""Checkers from npm, installed once into build/; tests skip where they are out of reach."""

from __future__ import annotations

import shutil
import subprocess
from functools import lru_cache
from pathlib import Path

import pytest

_FOLDER = Path(__file__).resolve().parents[2] / "build" / "npm"


@lru_cache
def installed(package: str, version: str) -> Path:
    """The folder of a package under node_modules; skips the test where npm cannot bring it."""
    folder = _FOLDER / f"{package.replace('/', '-').strip('@')}-{version}"
    found = folder / "node_modules" / package
    if not (found / "package.json").exists():
        _install(package, version, folder)
    return found


def _install(package: str, version: str, folder: Path) -> None:
    npm = shutil.which("npm")
    if npm is None:
        pytest.skip(f"npm is not on this machine, so {package} cannot check this")
    folder.mkdir(parents=True, exist_ok=True)
    command = [npm, "install", "--no-audit", "--no-fund", "--ignore-scripts"]
    try:
        done = subprocess.run(
            [*command, "--prefix", str(folder), f"{package}@{version}"],
            capture_output=True,
            text=True,
            timeout=120,
            check=False,
        )
    except subprocess.TimeoutExpired:
        pytest.skip(f"npm did not bring {package} in time, so it cannot check this")
    if done.returncode:
        pytest.skip(f"npm cannot bring {package}: {done.stderr.strip()[:200]}")
