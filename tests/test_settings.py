"""Settings are checked whole, and what is wrong is said with file, key and what is allowed."""

from pathlib import Path

import pytest

from reviewbot.errors import SettingsError
from reviewbot.settings import (
    Settings,
    importance_of,
    parse_settings,
    read_settings,
    settings_at,
)


def refusal(text: str) -> SettingsError:
    with pytest.raises(SettingsError) as caught:
        parse_settings(text, path="reviewbot.toml")
    return caught.value


def test_an_empty_file_is_the_defaults() -> None:
    assert parse_settings("", path="reviewbot.toml") == Settings()


def test_a_value_is_read() -> None:
    settings = parse_settings("[texture]\nsize = 4096\n", path="reviewbot.toml")
    assert (settings.texture.size, settings.texture.padding) == (4096, 8)


@pytest.mark.parametrize(
    ("text", "key", "said"),
    [
        ("[texture]\nsizes = 4096", "texture.sizes", "padding, size, tiles"),
        ("[textures]\nsize = 4096", "textures", "files, gate, limits"),
        ("[texture]\nsize = -1", "texture.size", "greater than or equal to 16"),
        ('[gate]\nfail_on = "sometimes"', "gate.fail_on", "'note', 'look', 'stop' or 'never'"),
        ('[texture]\nsize = "big"', "texture.size", "valid integer"),
        ('[parts]\nhero = "lamp"', "parts.hero", "a list in square brackets"),
        ('[[rules]]\ncode = "ngon"', "rules.0.severity", "required"),
        (
            '[[rules]]\ncod = "ngon"\ncode = "a"\nseverity = "off"',
            "rules.0.cod",
            "code, importance",
        ),
        ("[[cameras]]\nfrom = [0, 1]", "cameras.0.from.2", "required"),
        ("[[cameras]]\nfrom = [0, 1, 2, 3]", "cameras.0.from", "at most 3 items"),
        ("[[cameras]]\nfrom = [0, nan, 2]", "cameras.0.from.1", "finite number"),
        ('[[cameras]]\nfrom = "front"', "cameras.0.from", "a list in square brackets"),
        ("[[cameras]]\neye = [0, 1, 2]", "cameras.0.from", "required"),
        ("[[cameras]]\nfrom = [0, 1, 2]\nto = [0, 0, 0]", "cameras.0.to", "here: from, paths"),
    ],
)
def test_a_wrong_key_is_named_with_what_is_allowed(text: str, key: str, said: str) -> None:
    error = refusal(text)
    assert (error.path, error.key) == ("reviewbot.toml", key)
    assert said in str(error)
    assert "\n" not in str(error)


def test_broken_toml_says_where() -> None:
    assert "line 1" in str(refusal("[texture\nsize = 1"))


def test_a_missing_or_binary_file_is_an_error_of_settings(tmp_path: Path) -> None:
    binary = tmp_path / "reviewbot.toml"
    binary.write_bytes(b"\xff\xfe\x00")
    for path in (tmp_path / "none.toml", binary):
        with pytest.raises(SettingsError, match="cannot be read"):
            read_settings(path)


def test_hidden_wins_over_hero() -> None:
    settings = parse_settings(
        '[parts]\nhero = ["globe*"]\nhidden = ["*_under"]', path="reviewbot.toml"
    )
    names = ("globe_low", "globe_under", "cap")
    assert [importance_of(name, settings) for name in names] == ["hero", "hidden", "normal"]


def test_cameras_are_for_the_files_they_name() -> None:
    text = """[[cameras]]
from = [0, 1.6, 3]

[[cameras]]
from = [0, 50, 0]
paths = ["props/street/*"]
"""
    settings = parse_settings(text, path="reviewbot.toml")
    eyes = {
        path: [camera.eye for camera in settings_at(path, settings).cameras]
        for path in ("props/lamp.obj", "props/street/lamp.obj")
    }
    assert eyes == {
        "props/lamp.obj": [(0, 1.6, 3)],
        "props/street/lamp.obj": [(0, 1.6, 3), (0, 50, 0)],
    }


def test_a_broken_name_pattern_is_refused_by_key() -> None:
    with pytest.raises(SettingsError, match=r"names\.pattern.*not a regular expression"):
        parse_settings('[names]\npattern = "^[a-z"', path="reviewbot.toml")
    for pattern in ("lantern_*", "[a-z_]+", "v1.?"):
        text = f'[names]\npattern = "{pattern}"'
        assert parse_settings(text, path="x").names.pattern == pattern
