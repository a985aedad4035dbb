from pathlib import Path

import pytest
from report.sample import HOSTILE_NAMES, hostile_report, lantern_report, quiet_report

from reviewbot.report.terminal import to_text


def test_the_verdict_leads_and_the_page_is_named():
    lines = to_text(lantern_report(), Path("out")).splitlines()
    assert lines[0].startswith("■ stop: The handle's UVs are gone")
    assert lines[-1] == f"page: {Path('out') / 'report.html'}"
    assert any("96 faces without UVs" in line for line in lines)
    assert not any("stretches its texture" in line for line in lines)


def test_nothing_to_tell_takes_two_lines():
    assert to_text(quiet_report(), None).splitlines() == [
        "● pass: Nothing changed.",
        "4 files of the harbour set; new or worse: nothing",
    ]


@pytest.mark.parametrize("name", HOSTILE_NAMES)
def test_names_cannot_steer_the_terminal(name):
    text = to_text(hostile_report(name), None)
    assert all(character == "\n" or character.isprintable() for character in text)
    assert len(text.splitlines()) == len(to_text(hostile_report("handle"), None).splitlines())
