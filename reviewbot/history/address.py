"""Addresses of repositories, as the person who runs this tool gives them."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from urllib.parse import unquote, urlsplit, urlunsplit

from reviewbot.errors import UsageError

PROTOCOLS = ("https", "ssh", "file")
_PLAIN = re.compile(r"[A-Za-z][A-Za-z0-9+.-]*://.*", re.DOTALL)
_HELPER = re.compile(r"[A-Za-z0-9+.-]+::.*", re.DOTALL)  # git would run a program of that name
# Two letters at least: one is a drive.
_SHORT = re.compile(r"(?:(?P<user>\w[\w.-]*)@)?(?P<host>\w[\w.-]+):(?P<path>[^:\s][^\s]*)")


@dataclass(frozen=True, slots=True, kw_only=True)
class Address:
    """Where a repository is fetched from.

    url       without the password, and for https without the name: fit to be shown and kept
    username, password  for https, "" where none is given; never shown
    host, path          of the server; "" for file
    """

    url: str
    host: str
    path: str
    username: str = field(default="", repr=False)
    password: str = field(default="", repr=False)


def parse_address(text: str) -> Address | None:
    """The address that this is, or None where it can only be a path on this machine.

    Raises UsageError for a protocol that is not spoken, and for what is malformed.
    """
    if _HELPER.fullmatch(text):
        program = text.partition("::")[0]
        raise UsageError(f"{program}:: is an address that names a program to run; {_SPOKEN}")
    if _PLAIN.fullmatch(text):
        return _plain(text)
    short = _SHORT.fullmatch(text)
    if short is None or "/" in text.partition(":")[0]:
        return None
    return Address(url=text, host=short["host"], path=short["path"])


def _plain(text: str) -> Address:
    try:
        parts = urlsplit(text)
        host, port = parts.hostname or "", parts.port
    except ValueError:
        raise UsageError(f"an address is malformed; {_SPOKEN}") from None
    if parts.scheme not in PROTOCOLS:
        raise UsageError(f"{parts.scheme}:// is not spoken here; {_SPOKEN}")
    if not text.isprintable() or " " in text or host.startswith("-"):
        raise UsageError(f"an address is malformed; {_SPOKEN}")
    if (parts.scheme == "file") == bool(host):
        raise UsageError(f"a {parts.scheme} address names no host, or one too many; {_SPOKEN}")
    if parts.scheme == "file":
        return Address(url=text, host="", path=parts.path)
    is_https = parts.scheme == "https"
    if parts.password and not is_https:
        raise UsageError("ssh takes no password from an address; give it a key")
    netloc = f"[{host}]" if ":" in host else host
    netloc += f":{port}" if port else ""
    if parts.username and not is_https:
        netloc = f"{parts.username}@{netloc}"
    return Address(
        url=urlunsplit((parts.scheme, netloc, parts.path, parts.query, "")),
        host=netloc.rpartition("@")[2],
        path=parts.path.strip("/"),
        username=unquote(parts.username or "") if is_https else "",
        password=unquote(parts.password or ""),
    )


_SPOKEN = "give one that begins with https://, ssh:// or file://, or user@host:path"
