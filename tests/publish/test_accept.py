"""Entries added to the file of acceptances."""

import datetime
from pathlib import Path

import pytest

from reviewbot.checks.acceptances import parse_acceptances
from reviewbot.errors import SettingsError, UsageError
from reviewbot.publish.acceptances import add_acceptances


def add(file: Path, *codes: str, until: str | None = None, why: str = "meant so") -> Path:
    return add_acceptances(codes, file=file, path="*", part="*", why=why, who="Ines", until=until)


def test_entries_are_added_to_what_is_there(tmp_path: Path) -> None:
    file = tmp_path / "reviewbot-accepted.toml"
    add(file, "uv-mirrored", until="2027-01-31")
    add(file, "scale", "ngon")
    accepted = parse_acceptances(file.read_text(), path=str(file))
    assert [one.code for one in accepted] == ["uv-mirrored", "scale", "ngon"]
    assert accepted[0].until == datetime.date(2027, 1, 31)


@pytest.mark.parametrize(
    ("codes", "until", "why", "said"),
    [
        (["ngons"], None, "meant", "no finding or change is called 'ngons'"),
        (["ngon"], "31.1.2027", "meant", "YYYY-MM-DD"),
        (["ngon"], None, "  ", "--why and --who"),
    ],
)
def test_what_makes_no_sense_is_refused(
    tmp_path: Path, codes: list[str], until: str | None, why: str, said: str
) -> None:
    with pytest.raises(UsageError, match=said):
        add(tmp_path / "file.toml", *codes, until=until, why=why)
    assert not list(tmp_path.iterdir())


def test_a_broken_file_is_left_alone(tmp_path: Path) -> None:
    file = tmp_path / "reviewbot-accepted.toml"
    file.write_text("[[accepted]\n")
    with pytest.raises(SettingsError):
        add(file, "ngon")
    assert file.read_text() == "[[accepted]\n"
