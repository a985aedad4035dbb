"""Settings of a repository, read from ``reviewbot.toml`` and checked whole before anything runs."""

from __future__ import annotations

import re
import tomllib
from fnmatch import fnmatchcase, translate
from pathlib import Path
from typing import Annotated, Literal, get_args

from pydantic import BaseModel, ConfigDict, Field, ValidationError, field_validator

from reviewbot.errors import SettingsError

SETTINGS_FILE = "reviewbot.toml"
Severity = Literal["note", "look", "stop"]
Gate = Literal["note", "look", "stop", "never"]
Importance = Literal["hero", "normal", "hidden"]
Patterns = tuple[str, ...]
Share = Annotated[float, Field(ge=0, le=1)]
Positive = Annotated[float, Field(gt=0)]
Finite = Annotated[float, Field(allow_inf_nan=False)]


class _Section(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class FileSettings(_Section):
    """[files]: which paths are looked at; shell patterns over the whole path."""

    include: Patterns = ("*",)
    exclude: Patterns = ()
    memory_mb: Annotated[int, Field(ge=64)] = 4096
    seconds: Positive = 120.0


class TextureSettings(_Section):
    """[texture]: the maps the UVs are for."""

    size: Annotated[int, Field(ge=16, le=65536)] = 2048
    padding: Annotated[int, Field(ge=0)] = 8
    tiles: Annotated[int, Field(ge=1)] = 1


class PictureSettings(_Section):
    """[pictures]: how versions are pictured."""

    views: Annotated[int, Field(ge=4, le=64)] = 16
    size: Annotated[int, Field(ge=64, le=2048)] = 512


class LimitSettings(_Section):
    """[limits]: from where on a figure is a finding. Units as in the documentation of measures."""

    warped_degrees: Positive = 30.0
    stretch: Annotated[float, Field(ge=1)] = 1.5
    stretch_share: Share = 0.05
    density_ratio: Annotated[float, Field(ge=1)] = 2.0
    overlap_share: Share = 0.001
    tile_use: Share = 0.5
    seam_exposed_share: Share = 0.5
    hidden_texture_share: Share = 0.1
    size_ratio: Annotated[float, Field(ge=1)] = 4.0
    corner_rounds_share: Share = 0.05
    bake_distance: Positive = 0.05
    bake_miss_share: Share = 0.01
    silhouette_iou: Share = 0.98
    smallest: Positive | None = None
    largest: Positive | None = None


class NameSettings(_Section):
    """[names]: how parts are called.

    pattern  of every part's name, the whole of it: a regular expression, or a shell pattern
    """

    pattern: str | None = None
    low_suffix: str = "_low"
    high_suffix: str = "_high"

    @field_validator("pattern")
    @classmethod
    def _compiles(cls, pattern: str | None) -> str | None:
        try:
            re.compile(as_expression(pattern or ""))
        except re.error as error:
            raise ValueError(f"not a regular expression: {error}") from error
        return pattern


class PlacementSettings(_Section):
    """[placement]: where the asset stands."""

    origin: Literal["bottom-centre", "any"] = "bottom-centre"
    up: Literal["y", "z"] = "y"


class PartSettings(_Section):
    """[parts]: patterns over part names; `see_through` is tried on material names too."""

    hero: Patterns = ()
    hidden: Patterns = ()
    open_sheets: Patterns = ()
    subdivide: Patterns = ("*_high",)
    mirrored: Patterns = ()
    see_through: Patterns = ("*[Gg]lass*",)


class CameraSettings(_Section):
    """[[cameras]]: a place that the asset is seen from; views from all around where there are none.

    from   (x, y, z) along the file's axes, in metres where the file says how many a unit has, else
           in its units. Far away, it stands for a direction.
    paths  of the files it is for
    """

    eye: tuple[Finite, Finite, Finite] = Field(alias="from")
    paths: Patterns = ("*",)


class GateSettings(_Section):
    """[gate]: from which severity on a command exits with status 1."""

    fail_on: Gate = "stop"


class RuleSettings(_Section):
    """[[rules]]: another severity for one finding code, where path and part match."""

    code: str
    severity: Literal["note", "look", "stop", "off"]
    paths: Patterns = ("*",)
    parts: Patterns = ("*",)
    importance: tuple[Importance, ...] = ("hero", "normal", "hidden")


class Settings(_Section):
    """Everything a repository can set; the defaults suit a small game prop."""

    files: FileSettings = FileSettings()
    texture: TextureSettings = TextureSettings()
    pictures: PictureSettings = PictureSettings()
    limits: LimitSettings = LimitSettings()
    names: NameSettings = NameSettings()
    placement: PlacementSettings = PlacementSettings()
    parts: PartSettings = PartSettings()
    gate: GateSettings = GateSettings()
    cameras: tuple[CameraSettings, ...] = ()
    rules: tuple[RuleSettings, ...] = ()


# What only regular expressions hold, and "*" or "?" after what they would repeat.
_EXPRESSION = re.compile(r"[\^$()|+\\{}]|[\].][*?]")


def as_expression(pattern: str) -> str:
    """A name pattern as a regular expression: as it is, or from a shell pattern (`lantern_*`)."""
    is_shell = ("*" in pattern or "?" in pattern) and not _EXPRESSION.search(pattern)
    return translate(pattern) if is_shell else pattern


def matches(name: str, patterns: Patterns) -> bool:
    """Whether a name fits any shell pattern; case counts."""
    return any(fnmatchcase(name, pattern) for pattern in patterns)


def importance_of(part_name: str, settings: Settings) -> Importance:
    """A part's importance from its name; hidden wins over hero where both fit."""
    if matches(part_name, settings.parts.hidden):
        return "hidden"
    return "hero" if matches(part_name, settings.parts.hero) else "normal"


def settings_at(path: str, settings: Settings) -> Settings:
    """The settings as they hold for one file: with the cameras that are for it."""
    cameras = tuple(camera for camera in settings.cameras if matches(path, camera.paths))
    return settings.model_copy(update={"cameras": cameras})


def is_high(part_name: str, settings: Settings) -> bool:
    """Whether a part is the sculpted one of a pair, by its name: it is baked from, not textured."""
    suffix = settings.names.high_suffix
    return bool(suffix) and part_name.endswith(suffix)


def parse_settings(text: str, *, path: str) -> Settings:
    """Settings from TOML text. Raises SettingsError naming file, key and what is allowed."""
    try:
        table = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise SettingsError(path=path, key="", reason=f"not valid TOML: {error}") from error
    try:
        return Settings.model_validate(table)
    except ValidationError as error:
        raise _settings_error(error, path) from error


def read_settings(path: Path) -> Settings:
    """Settings from a file. Raises SettingsError where it cannot be read or is wrong."""
    try:
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise SettingsError(path=str(path), key="", reason=f"cannot be read: {error}") from error
    return parse_settings(text, path=str(path))


def _keys_beside(place: tuple[int | str, ...]) -> list[str]:
    """The keys that the section or list entry at a place may have."""
    if len(place) == 1:
        return sorted(Settings.model_fields)
    annotation = Settings.model_fields[str(place[0])].annotation
    section = next((kind for kind in get_args(annotation) if kind is not ...), annotation)
    fields = getattr(section, "model_fields", {})
    return sorted(field.alias or name for name, field in fields.items())


def _settings_error(error: ValidationError, path: str) -> SettingsError:
    first = error.errors()[0]
    key = ".".join(str(step) for step in first["loc"])
    if first["type"] == "extra_forbidden":
        reason = f"no such key; allowed here: {', '.join(_keys_beside(first['loc']))}"
    else:
        allowed = first["msg"].replace("a valid tuple", "a list in square brackets")
        reason = f"{allowed}, not {first['input']!r}"
    return SettingsError(path=path, key=key, reason=reason)
