"""Kept code of templates saves the compiling, and is used for no other source."""

import sys
from pathlib import Path

import pytest
from jinja2 import DictLoader, Environment

from reviewbot.report.kept_templates import KeptCode, keep_all
from reviewbot.report.page import page_environment

SOURCE = "{% for one in many %}{{ one }}, {% endfor %}"


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(sys, "pycache_prefix", str(tmp_path))
    return tmp_path


def environment(source: str = SOURCE, *, is_written: bool = True, trim: bool = True) -> Environment:
    made = Environment(loader=DictLoader({"list.html": source}), autoescape=True, trim_blocks=trim)
    made.bytecode_cache = KeptCode(made, is_written=is_written)
    return made


def filled(made: Environment) -> str:
    return made.get_template("list.html").render(many=["a", "<"])


def files(folder: Path) -> list[Path]:
    return [file for file in folder.rglob("*") if file.is_file()]


def test_code_is_found_again(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert filled(environment()) == "a, &lt;, "
    (file,) = files(folder)
    assert file.suffix == ".pyc"  # no source of the program's, by which reviews are kept
    monkeypatch.setattr(Environment, "_generate", lambda *_: pytest.fail("compiled again"))
    assert filled(environment(is_written=False)) == "a, &lt;, "


def test_code_of_another_source_is_not_used(folder: Path) -> None:
    filled(environment())
    assert filled(environment("{{ many | length }}")) == "2"
    assert filled(environment("{% if many %}\nx{% endif %}", trim=True)) == "x"
    assert filled(environment("{% if many %}\nx{% endif %}", trim=False)) == "\nx"


@pytest.mark.parametrize("kept", [0, 5, 40, -1])
def test_damaged_code_is_compiled_again(folder: Path, kept: int) -> None:
    filled(environment())
    (file,) = files(folder)
    whole = file.read_bytes()
    file.write_bytes(whole[:kept])
    assert filled(environment()) == "a, &lt;, "
    assert file.read_bytes() == whole


def test_what_cannot_be_written_costs_no_page(folder: Path) -> None:
    assert filled(environment(is_written=False)) == "a, &lt;, "
    assert files(folder) == []
    sys.pycache_prefix = str(folder / "a file")
    (folder / "a file").write_text("")
    assert filled(environment()) == "a, &lt;, "
    assert files(folder) == [folder / "a file"]


def test_all_templates_of_the_page_are_kept(folder: Path) -> None:
    names = [name for name in page_environment().list_templates() if "__pycache__" not in name]
    keep_all(page_environment.__wrapped__())
    assert len(files(folder)) == len(names) > 5
