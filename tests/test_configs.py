"""The ready-made settings are valid, and say of every key what it does."""

import re
import tomllib
from pathlib import Path

import pytest
from pydantic import BaseModel

from reviewbot.demo.house_rules import SETTINGS_TOML
from reviewbot.settings import Settings, parse_settings

CONFIGS = Path(__file__).parent.parent / "configs"
TEXTS = {path.name: path.read_text("utf-8") for path in sorted(CONFIGS.glob("*.toml"))}
KEY = re.compile(r"^\w+ = ")


def sections() -> dict[str, type[BaseModel]]:
    return {
        name: field.annotation
        for name, field in Settings.model_fields.items()
        if isinstance(field.annotation, type) and issubclass(field.annotation, BaseModel)
    }


def test_all_three_are_there() -> None:
    assert list(TEXTS) == ["coursework.toml", "film-set-piece.toml", "game-prop.toml"]


@pytest.mark.parametrize("name", TEXTS)
def test_the_bot_takes_them(name: str) -> None:
    parse_settings(TEXTS[name], path=name)


def test_the_demo_s_are_taken_as_well() -> None:
    settings = parse_settings(SETTINGS_TOML, path="reviewbot.toml")
    assert settings.names.pattern is not None


@pytest.mark.parametrize("name", TEXTS)
def test_every_key_is_explained(name: str) -> None:
    for line in TEXTS[name].splitlines():
        if KEY.match(line):
            _, _, comment = line.partition("# ")
            assert len(comment) > 10, line
        assert len(line) <= 100, line


@pytest.mark.parametrize("name", TEXTS)
def test_no_key_is_left_out(name: str) -> None:
    table = tomllib.loads(TEXTS[name])
    optional = {"smallest", "largest", "pattern"}  # off where they are left out
    for section, kind in sections().items():
        assert set(kind.model_fields) - set(table[section]) <= optional, section


def test_what_is_switched_off_would_work_as_well() -> None:
    text = re.sub(r"^# (\[\[rules\]\]|\w+ = )", r"\1", TEXTS["game-prop.toml"], flags=re.M)
    (rule,) = parse_settings(text, path="game-prop.toml").rules
    assert (rule.code, rule.severity) == ("ngon", "note")


def test_the_usual_values_are_those_of_a_game_prop() -> None:
    """The file promises that a key left out keeps the value shown."""
    shown = parse_settings(TEXTS["game-prop.toml"], path="game-prop.toml").model_dump()
    usual = Settings().model_dump()
    differs = {
        f"{section}.{key}"
        for section in sections()
        for key in shown[section]
        if shown[section][key] != usual[section][key]
    }
    assert differs == {"files.exclude", "limits.smallest", "limits.largest", "names.pattern"}


def test_they_differ_as_their_work_does() -> None:
    game, film, course = (
        parse_settings(TEXTS[f"{name}.toml"], path=name)
        for name in ("game-prop", "film-set-piece", "coursework")
    )
    assert game.texture.tiles == 1 < film.texture.tiles
    assert film.limits.stretch < game.limits.stretch < course.limits.stretch
    assert course.gate.fail_on == "never"
