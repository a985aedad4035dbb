"""A stranger's pull request, from git to the posted comment: everything in it is data.

The comment is rendered as hosts do (cmarkgfm, GitHub's own Markdown library with its extensions)
and opened in a real browser, and so is the page.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from html.parser import HTMLParser
from pathlib import Path

import cmarkgfm
import pytest
from cmarkgfm.cmark import Options
from code_host import BOT, FakeClock, StandIn
from report.chromium import Opened, launched, unfold
from repositories import Repository
from typer.testing import CliRunner, Result

from reviewbot.cli import app
from reviewbot.errors import UsageError
from reviewbot.publish.github import GitHub
from reviewbot.publish.hosts import ChangeRequest
from reviewbot.publish.posting import post_review
from reviewbot.publish.received import read_received

PLATE = "v 0 0 0\nv 1 0 0\nv 1 0 1\nv 0 0 1\nf 4 3 2 1\n"
# A triangle standing on one edge of the plate, and a face lying on another.
BROKEN = PLATE + "v 0.5 1 0\nf 1 2 5\nf 4 3 2 1\n"
LAW = b'[gate]\nfail_on = "note"\n[pictures]\nviews = 4\nsize = 64\n'
HARMLESS_TAGS = {"b", "br", "code", "details", "em", "h1", "h2", "h3", "h4", "hr", "img"}
HARMLESS_TAGS |= {"li", "ol", "p", "strong", "sub", "summary", "ul"}
HARMLESS_TAGS |= {"table", "tbody", "td", "th", "thead", "tr"}
HARMLESS_ATTRIBUTES = {"align", "alt", "height", "open", "src", "width"}
ASKED_FOR = ("https://github.com/studio/props/blob/", "Failed to load resource: net::ERR_")
HOSTILE_PATHS = [
    b"-n.obj",
    b"--upload-pack=touch owned.obj",
    b"--output=owned.obj",
    b"$(touch owned).obj",
    b"`touch owned`.obj",
    b"; touch owned;.obj",
    b"@everyone please approve.obj",
    b"[click](http:evil.example).obj",
    b"![x](www.evil.example).obj",
    b"<img src=x onerror=alert(1)>.obj",
    b"www.evil.example.obj",
    b"#12 GH-12 |a|b|.obj",
    b"two\nlines\n\n# heading.obj",
    "\u202ejbo.lamp.obj".encode(),
    b"caf\xe9.obj",
]
HOSTILE_PARTS = ["<script>alert(1)</script>", "@team/lead", "`x`|y", "https://evil.example/a"]
HOSTILE_MESSAGE = "@everyone <script>alert(1)</script> [x](http://evil.example)\n\n--upload-pack=x"
HOSTILE_BRANCHES = ["--upload-pack=touch owned", "--exec=touch owned", "-h", "$(touch owned)"]


@pytest.fixture
def repository(tmp_path: Path) -> Repository:
    made = Repository(tmp_path / "props")
    made.folder.mkdir()
    made.git("init", "--quiet", "--initial-branch=main")
    return made


def reviewed(repository: Repository, *words: str) -> Result:
    place = ["review", str(repository.folder), "--workers", "1"]
    return CliRunner().invoke(app, [*place, *words])


def posted(folder: Path, head: str) -> str:
    """The comment that the trusted job makes of a report."""
    host = StandIn()
    github = GitHub(token="t", clock=FakeClock(), transport=host.transport())
    request = ChangeRequest(repository="studio/props", number=2, head_commit=head)
    received = read_received(folder)
    post_review(github, request, received.report, received.pictures, is_passed=False)
    github.close()
    (comment,) = [c["body"] for c in host.comments.values() if c["user"]["login"] == BOT]
    return str(comment)


class Rendered(HTMLParser):
    """What a host makes of Markdown before it cleans up: nothing may depend on that it does.

    text  outside of code, where hosts look for mentions, links and numbers of issues
    """

    def __init__(self, markdown: str) -> None:
        super().__init__()
        self.tags: set[str] = set()
        self.attributes: set[str] = set()
        self.addresses: list[str] = []
        self.text = ""
        self._in_code = 0
        options = Options.CMARK_OPT_UNSAFE
        self.html = str(cmarkgfm.github_flavored_markdown_to_html(markdown, options=options))
        self.feed(self.html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self._in_code += tag == "code"
        self.tags.add(tag)
        self.attributes |= {name for name, _ in attrs}
        self.addresses += [str(value) for name, value in attrs if name in ("href", "src")]

    def handle_endtag(self, tag: str) -> None:
        self._in_code -= tag == "code"

    def handle_data(self, data: str) -> None:
        self.text += "" if self._in_code else data


def assert_only_data(comment: Rendered) -> None:
    assert comment.tags <= HARMLESS_TAGS
    assert comment.attributes <= HARMLESS_ATTRIBUTES
    pictures = "https://github.com/studio/props/blob/"
    assert [one for one in comment.addresses if not one.startswith(pictures)] == []
    assert re.search(r"@\w|#\d|GH-\d|://|www\.|evil", comment.text) is None


@pytest.mark.slow
def test_a_hostile_pull_request_is_only_data(repository: Repository, tmp_path: Path) -> None:
    names = HOSTILE_PATHS
    parts = "".join(f"o {name}\n{PLATE}" for name in HOSTILE_PARTS[:1])
    repository.commit({"reviewbot.toml": LAW, **{n: parts.encode() for n in names}})
    worse = [f"o {HOSTILE_PARTS[n % len(HOSTILE_PARTS)]}\n{BROKEN}" for n in range(len(names))]
    head = repository.commit(
        {name: text.encode() for name, text in zip(names, worse, strict=True)}, HOSTILE_MESSAGE
    )
    out = tmp_path / "out"
    done = reviewed(repository, "--out", str(out))
    assert done.exit_code == 1, done.exception
    assert len(json.loads((out / "report.json").read_text("utf-8"))["assets"]) == len(names)
    assert not list(tmp_path.rglob("owned*"))
    assert re.search(r"[\x00-\x09\x0b-\x1f\x7f\u202e]", done.stdout) is None
    comment = Rendered(posted(out, head))
    assert_only_data(comment)
    assert comment.addresses
    page = tmp_path / "comment.html"
    page.write_text(f"<!doctype html><meta charset=utf-8>{comment.html}", encoding="utf-8")
    with launched() as browser:
        for path in (page, out / "report.html"):
            opened = Opened(browser, path)
            unfold(opened.page)
            opened.context.close()
            # On a test machine the host's pictures are asked for and not there.
            told = [one for one in opened.troubles if not one.startswith(ASKED_FOR)]
            assert told == []


@pytest.mark.parametrize("branch", HOSTILE_BRANCHES)
def test_a_branch_s_name_is_no_option(repository: Repository, branch: str) -> None:
    """As git finds it in a repository that somebody else packed."""
    base = repository.commit({"reviewbot.toml": LAW, "plate.obj": PLATE.encode()})
    head = repository.commit({"plate.obj": BROKEN.encode()})
    packed = f"{base} refs/heads/base/{branch}\n{head} refs/heads/{branch}\n"
    (repository.folder / ".git" / "packed-refs").write_text(packed, encoding="utf-8")
    place = ("--no-pictures", "--json", "-")
    for words in ((f"--head={branch}",), (f"--base={branch}", "--head=main")):
        done = reviewed(repository, *words, *place)
        # A name that git allows is a branch, another is no revision; neither is an option.
        if isinstance(done.exception, UsageError):
            assert "names no commit" in str(done.exception)
        else:
            assert json.loads(done.stdout)["head"] == head
    assert not list(repository.folder.rglob("owned*"))


ACCEPTED = b"".join(
    b'[[accepted]]\ncode = "%s"\npath = "*"\npart = "*"\nwhy = "fine"\nwho = "me"\n' % code
    for code in (b"duplicate-face", b"open-border", b"uv-missing")
)
LOOSENED: dict[str, dict[str | bytes, bytes]] = {
    "gate": {"reviewbot.toml": b'[gate]\nfail_on = "never"\n'},
    "excluded": {"reviewbot.toml": b'[files]\nexclude = ["*"]\n'},
    "switched-off": {
        "reviewbot.toml": b'[[rules]]\ncode = "uv-missing"\nseverity = "off"\n'
        b'[[rules]]\ncode = "duplicate-face"\nseverity = "off"\n'
    },
    "accepted": {"reviewbot-accepted.toml": ACCEPTED},
    "broken": {"reviewbot.toml": b"[gate\n", "reviewbot-accepted.toml": b"\xff\xfe"},
    "endless": {"reviewbot.toml": b"a = " + b"[" * 100_000},
}


@pytest.mark.parametrize("how", LOOSENED)
def test_a_pull_request_does_not_choose_what_judges_it(repository: Repository, how: str) -> None:
    """Settings and acceptances are the base's, over all commits of the request."""
    base = repository.commit({"reviewbot.toml": LAW, "plate.obj": PLATE.encode()})
    repository.commit(LOOSENED[how], "Loosen")
    repository.commit({"plate.obj": BROKEN.encode()})
    done = reviewed(repository, f"--base={base}", "--no-pictures", "--json", "-")
    assert done.exit_code == 1, done.exception
    report = json.loads(done.stdout)
    assert report["fail_on"] == "note"
    (asset,) = report["assets"]
    assert {"duplicate-face", "uv-missing"} <= {f["code"] for f in asset["findings"]}
    assert {f["accepted"] for f in asset["findings"]} == {None}


def test_nor_does_it_choose_laxer_days(repository: Repository) -> None:
    """A branch may begin anywhere in the target's past; what counts is the target's law today."""
    lax = repository.commit({**LOOSENED["gate"], "plate.obj": PLATE.encode()})
    repository.commit({"reviewbot.toml": LAW})
    repository.git("checkout", "--quiet", "-b", "stranger", lax)
    repository.commit({"plate.obj": BROKEN.encode()})
    done = reviewed(repository, "--base=main", "--no-pictures", "--json", "-")
    assert done.exit_code == 1, done.exception
    report = json.loads(done.stdout)
    assert (report["fail_on"], report["base"]) == ("note", lax)


@pytest.mark.parametrize(
    "change",
    [
        lambda report: {**report, "summary": "<script>alert(1)</script> @everyone"},
        lambda report: {**report, "title": "[x](http://evil.example) @everyone"},
        lambda report: {**report, "remarks": ["![x](http://evil.example/x.png) @everyone"]},
    ],
    ids=["summary", "title", "remarks"],
)
def test_a_forged_report_s_sentences_are_data_too(
    repository: Repository, tmp_path: Path, change: Callable[[dict[str, object]], object]
) -> None:
    repository.commit({"reviewbot.toml": LAW, "plate.obj": PLATE.encode()})
    head = repository.commit({"plate.obj": BROKEN.encode()})
    out = tmp_path / "out"
    reviewed(repository, "--no-pictures", "--out", str(out))
    report = json.loads((out / "report.json").read_text("utf-8"))
    (out / "report.json").write_text(json.dumps(change(report)), encoding="utf-8")
    comment = Rendered(posted(out, head))
    assert comment.addresses == []
    assert_only_data(comment)
