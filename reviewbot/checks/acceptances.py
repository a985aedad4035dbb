"""What a team tolerates: a small file kept in the repository, reviewed like any other.

[[accepted]]
code = "uv-mirrored"            # a finding's or a change's code; shell patterns allowed
path = "props/lantern/*.obj"    # every file unless told
part = "bracket_*"              # every part unless told
why = "Both brackets share one painted side."
who = "Ines"
until = 2027-03-31              # left out: for good
"""

from __future__ import annotations

import datetime
import tomllib
from collections.abc import Iterable
from dataclasses import dataclass
from fnmatch import fnmatchcase
from typing import Annotated

from pydantic import BaseModel, ConfigDict, StringConstraints, ValidationError

from reviewbot.errors import SettingsError

ACCEPTANCES_FILE = "reviewbot-accepted.toml"
Words = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1)]


class Acceptance(BaseModel):
    """One tolerated finding or deliberate change; `until` is the last day it holds."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    code: Words
    path: Words = "*"
    part: str = "*"
    why: Words
    who: Words
    until: datetime.date | None = None


class _AcceptanceFile(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")

    accepted: tuple[Acceptance, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What acceptances are told about: a finding or a change, named by code, file and part."""

    code: str
    path: str
    part: str


def parse_acceptances(text: str, *, path: str) -> tuple[Acceptance, ...]:
    """Acceptances from TOML text. Raises SettingsError naming file, entry and what is wrong."""
    try:
        return _AcceptanceFile.model_validate(tomllib.loads(text)).accepted
    except tomllib.TOMLDecodeError as error:
        raise SettingsError(path=path, key="", reason=f"not valid TOML: {error}") from error
    except ValidationError as error:
        first = error.errors()[0]
        key = ".".join(str(step) for step in first["loc"])
        allowed = ", ".join(Acceptance.model_fields)
        raise SettingsError(
            path=path, key=key, reason=f"{first['msg']} (an entry has {allowed})"
        ) from error


def is_expired(acceptance: Acceptance, today: datetime.date) -> bool:
    """Whether its last day has passed."""
    return acceptance.until is not None and acceptance.until < today


def accepted_by(
    told: Told, acceptances: Iterable[Acceptance], today: datetime.date
) -> Acceptance | None:
    """The first acceptance that covers a finding or change and has not run out."""
    for acceptance in acceptances:
        if _covers(acceptance, told) and not is_expired(acceptance, today):
            return acceptance
    return None


def remarks(
    acceptances: Iterable[Acceptance],
    told: Iterable[Told],
    paths: Iterable[str],
    today: datetime.date,
) -> tuple[str, ...]:
    """One sentence for each acceptance that has run out, or that nothing needed.

    paths  the files that were looked at: an acceptance for another file is not called unused
    """
    everything, looked_at = tuple(told), tuple(paths)
    said = []
    for acceptance in acceptances:
        name = f"The acceptance of '{acceptance.code}' by {acceptance.who} ({acceptance.why})"
        if is_expired(acceptance, today):
            said.append(f"{name} ran out on {acceptance.until}; renew it or mend what it covered.")
        elif any(fnmatchcase(path, acceptance.path) for path in looked_at) and not any(
            _covers(acceptance, one) for one in everything
        ):
            said.append(f"{name} covers nothing any more; take it out of the file.")
    return tuple(said)


def acceptance_text(acceptance: Acceptance) -> str:
    """One entry as TOML, ready to be added to the file."""
    lines = ["[[accepted]]", *(f"{key} = {_quoted(value)}" for key, value in _texts(acceptance))]
    if acceptance.until is not None:
        lines.append(f"until = {acceptance.until.isoformat()}")
    return "\n".join(lines) + "\n"


def _texts(acceptance: Acceptance) -> list[tuple[str, str]]:
    fields = ("code", "path", "part", "why", "who")
    return [(field, getattr(acceptance, field)) for field in fields]


def _quoted(text: str) -> str:
    """A TOML basic string (TOML 1.0.0, 'String')."""
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return (
        '"' + "".join(c if c >= " " and c != "\x7f" else f"\\u{ord(c):04X}" for c in escaped) + '"'
    )


def _covers(acceptance: Acceptance, told: Told) -> bool:
    return (
        fnmatchcase(told.code, acceptance.code)
        and fnmatchcase(told.path, acceptance.path)
        and fnmatchcase(told.part, acceptance.part)
    )
