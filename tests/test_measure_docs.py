"""Every figure of a report, and every code of a rule, is on a page of measures."""

import re
from pathlib import Path

from examined import examined
from shapes import cube

from reviewbot.checks.rules import MESH_RULES
from reviewbot.measure.summary import asset_measures, part_measures

DOCS = Path(__file__).resolve().parents[1] / "docs"
NAMED = set(
    re.findall(r"`([a-z0-9_-]+)`", "".join(p.read_text() for p in DOCS.glob("measures*.md")))
)


def test_every_key_is_documented() -> None:
    examination = examined(cube())
    keys = {*part_measures(examination.parts[0]), *asset_measures(examination)}
    assert keys - NAMED == set()


def test_every_code_is_documented() -> None:
    assert {rule.code for rule in MESH_RULES} - NAMED == set()
