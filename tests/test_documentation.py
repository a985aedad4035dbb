"""Every command, option and setting is documented: here, and not only in --help."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
import typer
from pydantic import BaseModel
from pydantic_core import PydanticUndefined

from reviewbot.cli import app
from reviewbot.settings import Settings

ROOT = Path(__file__).parent.parent
DOCS = ROOT / "docs"
COMMANDS = (DOCS / "commands.md").read_text("utf-8")
SETTINGS = (DOCS / "settings.md").read_text("utf-8")


def commands() -> dict[str, Any]:
    return dict(typer.main.get_command(app).commands)  # type: ignore[attr-defined]


def section(text: str, heading: str) -> str:
    """What stands under a heading of the second rank; empty where there is none."""
    found = re.search(rf"^## {re.escape(heading)}\n(.*?)(?=^## |\Z)", text, re.M | re.S)
    return found.group(1) if found else ""


@pytest.mark.parametrize("name", sorted(commands()))
def test_every_command_and_option_is_documented(name: str) -> None:
    own, common = section(COMMANDS, f"reviewbot {name}"), section(COMMANDS, "Common options")
    assert own, f"docs/commands.md has no section on {name}"
    options = [o for p in commands()[name].params for o in p.opts if o.startswith("--")]
    missing = [o for o in options if f"`{o}" not in own and f"`{o}" not in common]
    assert not missing, f"docs/commands.md does not tell of {name} {', '.join(missing)}"


@pytest.mark.parametrize("name", sorted(commands()))
def test_no_option_is_documented_that_is_not_there(name: str) -> None:
    own = section(COMMANDS, f"reviewbot {name}")
    known = {o for p in commands()[name].params for o in p.opts}
    told = set(re.findall(r"^\| `(--[a-z-]+)", own, re.M))
    assert told <= known, f"{name} has no {', '.join(sorted(told - known))}"


@pytest.mark.parametrize("name", sorted(Settings.model_fields))
def test_every_setting_is_documented_with_its_default(name: str) -> None:
    field = Settings.model_fields[name]
    listed = not (isinstance(field.annotation, type) and issubclass(field.annotation, BaseModel))
    model = field.annotation.__args__[0] if listed else field.annotation  # type: ignore[union-attr]
    text = section(SETTINGS, f"[[{name}]]" if listed else f"[{name}]")
    assert text, f"docs/settings.md has no section on {name}"
    rows = dict(re.findall(r"^\| `(\w+)` \| ([^|]+) \|", text, re.M))
    fields = {one.alias or key: one for key, one in model.model_fields.items()}
    assert set(rows) == set(fields), f"keys of {name}"
    for key, one in fields.items():
        assert rows[key].strip() == told(one.get_default()), f"{name}.{key}"


def told(default: object) -> str:
    """A default as it stands in the table."""
    if default is PydanticUndefined:
        return "needed"
    if default is None:
        return "none"
    return f"`{json.dumps(default)}`"


@pytest.mark.parametrize("page", sorted(DOCS.glob("*.md")), ids=lambda page: page.name)
def test_links_between_pages_lead_somewhere(page: Path) -> None:
    for target in re.findall(r"\]\(([^)#]+)[^)]*\)", page.read_text("utf-8")):
        if "://" not in target:
            assert (page.parent / target).exists(), f"{page.name} links {target}"


def test_readme_names_every_command_and_links_every_page() -> None:
    readme = (ROOT / "README.md").read_text("utf-8")
    assert [name for name in commands() if f"reviewbot {name}" not in readme] == []
    assert [p.name for p in DOCS.glob("*.md") if f"docs/{p.name}" not in readme] == []
