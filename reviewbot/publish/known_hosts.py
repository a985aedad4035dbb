"""The code hosts there are, by name."""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal, get_args

from reviewbot.errors import UsageError
from reviewbot.publish.clock import Clock
from reviewbot.publish.gitea import Gitea
from reviewbot.publish.github import WEB as GITHUB_WEB
from reviewbot.publish.github import GitHub
from reviewbot.publish.gitlab import WEB as GITLAB_WEB
from reviewbot.publish.gitlab import GitLab
from reviewbot.publish.hosts import Host

HostName = Literal["github", "gitlab", "gitea", "forgejo"]
Opener = Callable[[str, str | None, Clock], Host]


def open_host(name: str, *, token: str, web: str | None, clock: Clock) -> Host:
    """A host by its name.

    web  the address of the site; None for the public one, where there is one

    Raises UsageError for another name, a missing token or a missing address.
    """
    opener = _OPENERS.get(name)
    if opener is None:
        raise UsageError(f"no code host '{name}'; there are: {', '.join(get_args(HostName))}")
    if not token:
        raise UsageError("a code host needs a token, in the environment variable REVIEWBOT_TOKEN")
    return opener(token, web, clock)


def _github(token: str, web: str | None, clock: Clock) -> Host:
    if web is None or web.rstrip("/") == GITHUB_WEB:
        return GitHub(token=token, clock=clock)
    return GitHub(token=token, clock=clock, web=web, api=f"{web.rstrip('/')}/api/v3")


def _gitlab(token: str, web: str | None, clock: Clock) -> Host:
    return GitLab(token=token, clock=clock, web=web or GITLAB_WEB)


def _gitea(token: str, web: str | None, clock: Clock) -> Host:
    if web is None:
        raise UsageError("this code host has no one address: give that of your site")
    return Gitea(token=token, clock=clock, web=web)


_OPENERS: dict[str, Opener] = {
    "github": _github,
    "gitlab": _gitlab,
    "gitea": _gitea,
    "forgejo": _gitea,
}
