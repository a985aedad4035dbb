"""A team's tolerances: parsed whole, applied by code, file and part, never for ever by accident."""

import datetime
import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reviewbot.checks.acceptances import (
    Acceptance,
    Told,
    acceptance_text,
    accepted_by,
    parse_acceptances,
    remarks,
)
from reviewbot.errors import SettingsError

TODAY = datetime.date(2027, 3, 1)
MIRRORED = Told(code="uv-mirrored", path="props/lantern.obj", part="bracket_left")


def acceptance(**changed: object) -> Acceptance:
    given = {"code": "uv-mirrored", "why": "one painted side", "who": "Ines", **changed}
    return Acceptance.model_validate(given)


@pytest.mark.parametrize(
    "changed",
    [
        {},
        {"path": "props/*.obj"},
        {"part": "bracket_*"},
        {"code": "uv-*"},
        {"until": TODAY},  # the last day still holds
    ],
)
def test_it_covers(changed: dict[str, object]) -> None:
    assert accepted_by(MIRRORED, [acceptance(**changed)], TODAY) is not None


@pytest.mark.parametrize(
    "changed",
    [
        {"code": "uv-overlap"},
        {"path": "other/*.obj"},
        {"part": "Bracket_*"},
        {"until": TODAY - datetime.timedelta(days=1)},
    ],
)
def test_it_does_not_cover(changed: dict[str, object]) -> None:
    assert accepted_by(MIRRORED, [acceptance(**changed)], TODAY) is None


def test_an_expired_and_an_unused_one_are_said_and_a_used_one_is_not() -> None:
    old = acceptance(until=datetime.date(2027, 1, 1))
    unused, used = acceptance(code="ngon"), acceptance()
    elsewhere = acceptance(code="ngon", path="other/*")
    said = remarks([old, unused, used, elsewhere], [MIRRORED], [MIRRORED.path], TODAY)
    assert ["ran out on 2027-01-01" in said[0], "covers nothing" in said[1]] == [True, True]
    assert len(said) == 2


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[[accepted]]\ncode = 'ngon'\nwho = 'Ines'", "accepted.0.why"),
        ("[[accepted]]\ncode = 'ngon'\nwhy = ' '\nwho = 'Ines'", "accepted.0.why"),
        ("[[accept]]", "accept"),
        ("[[accepted]", "not valid TOML"),
    ],
)
def test_a_wrong_entry_is_refused_with_its_place(text: str, said: str) -> None:
    with pytest.raises(SettingsError, match=said.replace(".", r"\.")):
        parse_acceptances(text, path="reviewbot-accepted.toml")


@given(why=st.text(st.characters(codec="utf-8"), min_size=1).filter(str.strip), part=st.text())
def test_what_is_written_is_read_back(why: str, part: str) -> None:
    """Whatever the words hold: quotes, backslashes, line ends."""
    part = part.encode("utf-8", "ignore").decode()
    one = acceptance(why=why, part=part, until=TODAY)
    assert parse_acceptances(acceptance_text(one), path="x") == (one,)
    assert tomllib.loads(acceptance_text(one))["accepted"][0]["until"] == TODAY
