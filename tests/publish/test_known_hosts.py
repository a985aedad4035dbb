"""Hosts by name, and what is said where something is missing."""

import pytest
from code_host import FakeClock

from reviewbot.errors import UsageError
from reviewbot.publish.gitea import Gitea
from reviewbot.publish.github import GitHub
from reviewbot.publish.gitlab import GitLab
from reviewbot.publish.known_hosts import open_host


@pytest.mark.parametrize(
    ("name", "web", "kind"),
    [
        ("github", None, GitHub),
        ("github", "https://github.com/", GitHub),
        ("github", "https://code.studio.example", GitHub),
        ("gitlab", None, GitLab),
        ("gitlab", "https://lab.studio.example", GitLab),
        ("gitea", "https://code.studio.example", Gitea),
        ("forgejo", "https://code.studio.example", Gitea),
    ],
)
def test_opens(name: str, web: str | None, kind: type) -> None:
    host = open_host(name, token="t", web=web, clock=FakeClock())
    assert type(host) is kind
    host.close()


@pytest.mark.parametrize(
    ("name", "token", "web", "reason"),
    [
        ("elsewhere", "t", None, "there are: github, gitlab, gitea, forgejo"),
        ("github", "", None, "REVIEWBOT_TOKEN"),
        ("gitea", "t", None, "give that of your site"),
        ("gitlab", "t", "lab.studio.example", "must be http"),
    ],
)
def test_says_what_is_missing(name: str, token: str, web: str | None, reason: str) -> None:
    with pytest.raises(UsageError, match=reason):
        open_host(name, token=token, web=web, clock=FakeClock())
