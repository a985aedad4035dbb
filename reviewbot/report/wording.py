"""The words, symbols and figures that all written outputs share."""

from __future__ import annotations

import math
import re

from reviewbot.checks.finding import Standing
from reviewbot.report.report import FindingEntry, Report, State, Verdict
from reviewbot.settings import Severity

# Plain symbols of different shapes: never colour alone, and no picture fonts.
# The same shapes as drawn in pictures (render/contact_sheet.py) and on the page (marks.svg).
VERDICT_SYMBOLS: dict[Verdict, str] = {"stop": "■", "look": "◆", "pass": "●"}
SEVERITY_SYMBOLS: dict[Severity, str] = {"stop": "■", "look": "◆", "note": "○"}
VERDICT_MEANINGS: dict[Verdict, str] = {
    "stop": "later work would be built on a fault",
    "look": "a person should look before going on",
    "pass": "nothing stands in the way",
}
STANDING_WORDS: dict[Standing, str] = {
    "new": "new",
    "worse": "worse",
    "same": "as before",
    "better": "better",
    "fixed": "fixed",
}
STATE_WORDS: dict[State, str] = {
    "added": "new file",
    "removed": "file removed",
    "changed": "changed",
    "same": "nothing changed",
    "unreadable": "cannot be read",
}
NOTHING = "–"
_CLOSE_UNITS = ("%", "°")
_TERMS = {"uv": "UV", "uvs": "UVs", "l2": "L2", "linf": "Linf", "ngons": "n-gons"}
_HASH = re.compile(r"[0-9a-f]{40}([0-9a-f]{24})?")


def number(value: float | int | str | None) -> str:
    """A figure as people write it: thousands parted, four digits that count, no figure as a dash.

    >>> number(12345), number(0.123456), number(2.0), number(None), number(1.5e-7)
    ('12,345', '0.1235', '2', '–', '1.5e-07')
    """
    if value is None or isinstance(value, str):
        return value or NOTHING
    if isinstance(value, int):
        return f"{value:,}"
    if not math.isfinite(value):
        return "not finite"
    if value != 0 and not 1e-4 <= abs(value) < 1e12:
        return f"{value:.4g}"
    decimals = max(0, 3 - math.floor(math.log10(abs(value)))) if value else 0
    text = f"{value:,.{decimals}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def figure(value: float | int | str | None, unit: str) -> str:
    """A figure with its unit; a dash where there is none.

    >>> figure(0.5, "px"), figure(12.0, "%"), figure(None, "px")
    ('0.5 px', '12%', '–')
    """
    text = number(value)
    return (
        text
        if not unit or text == NOTHING
        else f"{text}{'' if unit in _CLOSE_UNITS else ' '}{unit}"
    )


def place(at: tuple[float, float, float]) -> str:
    """Coordinates with as many decimals as the largest of them needs.

    >>> place((3.5e-07, 0.20654, -6.4e-07)), place((12.0, -0.5, 100.25))
    ('0; 0.2065; 0', '12; -0.5; 100.2')
    """
    largest = max(map(abs, at))
    decimals = max(0, 3 - math.floor(math.log10(largest))) if largest > 0 else 0
    return "; ".join(number(round(coordinate, decimals) + 0.0) for coordinate in at)


def value_and_limit(finding: FindingEntry) -> str:
    """A finding's figure beside its limit; a dash where it has none.

    A share of something ("of the surface") is told in hundredths.
    """
    if finding.value is None:
        return NOTHING
    if finding.unit.startswith("of "):
        value, limit = f"{_hundredths(finding.value)} {finding.unit}", _hundredths(finding.limit)
    else:
        close = finding.unit if finding.unit in _CLOSE_UNITS else ""  # words are said once
        value, limit = figure(finding.value, finding.unit), figure(finding.limit, close)
    return value if finding.limit is None else f"{value} (limit {limit})"


def _hundredths(share: float | None) -> str:
    return NOTHING if share is None else f"{number(float(f'{100 * share:.3g}'))}%"


def counted(count: int, noun: str, plural: str = "") -> str:
    """A count with its noun.

    >>> counted(1, "asset"), counted(2, "asset"), counted(3, "look", "look")
    ('1 asset', '2 assets', '3 look')
    """
    return f"{count:,} {noun if count == 1 else plural or noun + 's'}"


def measure_label(key: str) -> str:
    """A measure's key as words.

    >>> measure_label("texel_density"), measure_label("uv_area"), measure_label("stretch_l2")
    ('texel density', 'UV area', 'stretch L2')
    """
    return " ".join(_TERMS.get(word, word) for word in re.split(r"[_\s]+", key.strip()))


def code_label(code: str) -> str:
    """A published code as words: `uv-lost` reads "uv lost" and stays recognisable."""
    return code.replace("-", " ")


def revision(name: str) -> str:
    """A revision as people quote it: the first twelve digits of a commit hash, else its name."""
    return name[:12] if _HASH.fullmatch(name) else name


def is_in_title(report: Report) -> bool:
    """Whether the report's title names its revisions already."""
    names = [name for name in (report.base, report.head) if name]
    return all(revision(name)[:7] in report.title for name in names)
