"""The table of rules, and what the settings make of their severities."""

from edits import without_faces
from found import toml
from shapes import cube, grid, model, sphere

from reviewbot.checks.finding import Finding
from reviewbot.checks.rules import RULES, run_rules
from reviewbot.checks.subject import Subject
from reviewbot.measure.examine import examine
from reviewbot.mesh import Part
from reviewbot.settings import Settings

# Published in report.json: a code keeps its meaning for ever.
PUBLISHED = [
    "bad-coordinate",
    "ngon",
    "concave-face",
    "zero-area-face",
    "duplicate-face",
    "doubled-part",
    "non-manifold-edge",
    "non-manifold-vertex",
    "open-border",
    "loose-vertex",
    "empty-part",
    "mixed-winding",
    "inside-out",
    "uv-missing",
    "uv-zero-area",
    "uv-mirrored",
    "uv-overlap",
    "uv-outside-tile",
    "uv-stretch",
    "density-uneven",
    "shell-gap",
    "tile-wasted",
    "tile-budget",
    "seam-exposed",
    "texture-on-hidden",
    "uneven-quads",
    "large-face",
    "corner-will-round",
    "transform-left",
    "off-origin",
    "odd-unit",
    "name-pattern",
    "pair-missing",
    "pair-gap",
    "silhouette-change",
]


def judged(*parts: Part, settings: Settings, path: str = "props/a.obj") -> list[Finding]:
    examination = examine(model(*parts), settings)
    return list(run_rules(Subject(path=path, examination=examination, settings=settings)))


def severities(findings: list[Finding], code: str) -> list[str]:
    return [finding.severity for finding in findings if finding.code == code]


def test_every_published_code_has_a_rule() -> None:
    assert set(PUBLISHED) <= {rule.code for rule in RULES}


def test_rules_have_titles_and_codes_of_small_words() -> None:
    for rule in RULES:
        assert rule.title
        assert rule.code == rule.code.lower().replace("_", "-").strip()


def test_a_clean_solid_on_its_origin_passes() -> None:
    settings = toml('[limits]\ntile_use = 0.3\n[placement]\norigin = "any"')
    assert judged(cube(), settings=settings) == []
    assert judged(settings=settings) == []


HOLE = without_faces(sphere(24, 12, name="lid"), [50])


def test_a_severity_is_changed_where_path_part_and_importance_match() -> None:
    rule = '[[rules]]\ncode = "open-border"\nseverity = "stop"\n'
    assert severities(judged(HOLE, settings=toml("")), "open-border") == ["look"]
    assert severities(judged(HOLE, settings=toml(rule)), "open-border") == ["stop"]
    for other in ('paths = ["sets/*"]', 'parts = ["base*"]', 'importance = ["hero"]'):
        assert severities(judged(HOLE, settings=toml(rule + other)), "open-border") == ["look"]
    here = rule + 'paths = ["props/*"]\nparts = ["li?"]\nimportance = ["normal"]'
    assert severities(judged(HOLE, settings=toml(here)), "open-border") == ["stop"]


def test_off_drops_a_finding_and_the_last_match_counts() -> None:
    off = '[[rules]]\ncode = "open-border"\nseverity = "off"\n'
    back = '[[rules]]\ncode = "open-border"\nseverity = "note"\nparts = ["grid"]\n'
    assert severities(judged(HOLE, settings=toml(off)), "open-border") == []
    assert severities(judged(grid(2, 2), settings=toml(off + back)), "open-border") == ["note"]
    assert severities(judged(grid(2, 2), settings=toml(back + off)), "open-border") == []
