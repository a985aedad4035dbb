"""What the pages on hosting and security say is there: tests, files, commands and their options."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
import typer

from reviewbot.cli import app
from reviewbot.publish import received

DOCS = Path(__file__).parent.parent / "docs"
SECURITY = (DOCS / "security.md").read_text("utf-8")
HOSTING = (DOCS / "hosting.md").read_text("utf-8")


def test_each_promise_names_a_test_that_is_there() -> None:
    rows = [line for line in SECURITY.splitlines() if re.match(r"\| [A-Z]", line)]
    assert len(rows) > 15
    for row in rows:
        named = re.findall(r"`(tests/[\w/]+\.py)`", row)
        assert named, row
    for path in re.findall(r"`(tests/[\w/]+\.py)`", SECURITY):
        assert (DOCS.parent / path).is_file(), path


def test_the_limits_are_the_ones_that_hold() -> None:
    assert f"{received.LARGEST_REPORT >> 20} MiB of report" in SECURITY
    assert (
        f"{received.MOST_PICTURES:,} pictures of {received.LARGEST_PICTURE >> 20} MiB" in SECURITY
    )
    side = round(received.MOST_PIXELS**0.5)
    assert f"{side} × {side} pixels" in SECURITY


@pytest.mark.parametrize("text", [SECURITY, HOSTING], ids=["security", "hosting"])
def test_each_page_that_is_linked_is_there(text: str) -> None:
    for target in re.findall(r"\]\(([\w./-]+)(?:#[\w-]+)?\)", text):
        assert (DOCS / target).exists(), target


def test_each_command_has_the_options_that_it_is_shown_with() -> None:
    lines = re.findall(r"^(?:REVIEWBOT_TOKEN=… )?reviewbot (\w+)(.*)$", HOSTING, re.M)
    assert len(lines) > 5
    known = typer.main.get_command(app).commands  # type: ignore[attr-defined]
    for name, words in lines:
        options = {one for parameter in known[name].params for one in parameter.opts}
        assert set(re.findall(r"--[a-z-]+", words)) <= options, name
