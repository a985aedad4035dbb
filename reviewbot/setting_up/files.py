"""What a repository is given, and why."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from jinja2 import Environment, PackageLoader, StrictUndefined

from reviewbot.readers.known import FORMATS
from reviewbot.setting_up.actions import Action
from reviewbot.settings import SETTINGS_FILE

ATTRIBUTES_FILE = ".gitattributes"
_WORKFLOWS = ".github/workflows"
# Common practice, no source: what textures and reference pictures are kept in.
_PICTURES = (".exr", ".hdr", ".jpeg", ".jpg", ".png", ".tga", ".tif", ".tiff", ".webp")


@dataclass(frozen=True, slots=True, kw_only=True)
class SetupFile:
    """One file to write.

    path   below the repository's top
    draft  what an earlier run may have written and nobody has touched since; "" for nothing
    why    a sentence or two for people
    """

    path: str
    text: str
    draft: str = ""
    why: str


def hosted_files(action: Action | None) -> tuple[SetupFile, ...]:
    """Workflows and settings. action  None: the workflows fail and say what is missing"""
    return (
        _workflow(
            "reviewbot-review.yml",
            action,
            why="reviews the meshes that a pull request changes; it may read, and nothing else",
        ),
        _workflow(
            "reviewbot-post.yml",
            action,
            why="checks what the review found and posts it on the pull request; drops the pictures "
            "once that is closed; it never touches a pull request's files",
        ),
        SetupFile(
            path=SETTINGS_FILE,
            text=rendered("reviewbot.toml"),
            why="what meshes are judged by, and what holds a merge back; each line says what it is",
        ),
    )


def _workflow(name: str, action: Action | None, *, why: str) -> SetupFile:
    return SetupFile(
        path=f"{_WORKFLOWS}/{name}",
        text=rendered(name, action=action),
        draft=rendered(name, action=None),
        why=why,
    )


def large_file_lines() -> tuple[str, ...]:
    """One attributes line a suffix: mesh and picture files are kept beside git."""
    suffixes = sorted({*FORMATS, *_PICTURES})
    return tuple(f"*{suffix} filter=lfs diff=lfs merge=lfs -text" for suffix in suffixes)


def rendered(template: str, **values: object) -> str:
    """A template's text. Raises jinja2.UndefinedError for a value that is not given."""
    return _templates().get_template(template).render(**values)


@lru_cache
def _templates() -> Environment:
    # Hosts use double braces for their own, and settings double square brackets.
    return Environment(
        loader=PackageLoader("reviewbot.setting_up"),
        autoescape=False,  # workflows and shell, no markup
        undefined=StrictUndefined,
        block_start_string="<%",
        block_end_string="%>",
        variable_start_string="<<",
        variable_end_string=">>",
        comment_start_string="<#",
        comment_end_string="#>",
        trim_blocks=True,
        keep_trailing_newline=True,
    )
