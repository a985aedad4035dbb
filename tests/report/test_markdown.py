"""report.md, rendered by GitHub's own Markdown parser (cmark-gfm, through `cmarkgfm`)."""

import re
from html.parser import HTMLParser

import cmarkgfm
import pytest
from cmarkgfm.cmark import Options
from hypothesis import given, settings
from report.sample import HOSTILE_NAMES, finding, hostile_report, lantern_report, quiet_report
from report.strategies import reports

from reviewbot.report.markdown import LIMIT, to_markdown
from reviewbot.report.report import AssetEntry, ChangeEntry, Report

# What hosts make of text outside code: mentions, threads, commits, addresses, emoji, formulas.
ACTS_ON_SIGHT = re.compile(
    r"@\w|#\d|://|www\.|\bGH-\d|:\w+:|\$|\[!|\b(?=[a-f]*\d)[0-9a-f]{7,40}\b", re.IGNORECASE
)


class Rendered(HTMLParser):
    """Tags in order, and the text outside of code."""

    def __init__(self, markdown: str) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.addresses: list[str] = []
        self.text = ""
        self._in_code = 0
        options = Options.CMARK_OPT_UNSAFE | Options.CMARK_OPT_FOOTNOTES
        self.feed(cmarkgfm.github_flavored_markdown_to_html(markdown, options=options))

    def handle_starttag(self, tag, attributes):
        self._in_code += tag == "code"
        if tag != "code":
            self.tags.append(tag)
        self.addresses += [value for key, value in attributes if key in ("href", "src")]

    def handle_endtag(self, tag):
        self._in_code -= tag == "code"
        if tag != "code":
            self.tags.append(f"/{tag}")

    def handle_comment(self, data):  # noqa: ARG002
        self.tags.append("comment")

    def handle_data(self, data):
        if not self._in_code:
            self.text += data


def markdown_of(report: Report) -> str:
    return to_markdown(report, picture_url=lambda file: f"https://pictures.example/{file}")


@pytest.fixture(scope="module")
def harmless():
    return Rendered(markdown_of(hostile_report("handle")))


@pytest.mark.parametrize("name", HOSTILE_NAMES)
def test_a_hostile_name_changes_no_markup(name, harmless):
    rendered = Rendered(markdown_of(hostile_report(name)))
    assert rendered.tags == harmless.tags
    assert rendered.addresses == harmless.addresses
    assert not ACTS_ON_SIGHT.search(rendered.text)


def test_the_checks_see_what_they_look_for():
    rendered = Rendered("www.evil.example and @someone **bold** <b>x</b> `@code`")
    assert {"a", "strong", "b"} <= set(rendered.tags)
    assert ACTS_ON_SIGHT.search(rendered.text)
    assert "code" not in rendered.text


def test_picture_addresses_cannot_leave_their_place():
    report = lantern_report()
    text = to_markdown(report, picture_url=lambda file: f"a b)>\n<img src=x>[{file}")
    assert Rendered(text).tags == Rendered(markdown_of(report)).tags


def test_the_verdict_leads():
    lines = [line for line in markdown_of(lantern_report()).splitlines() if line]
    assert lines[0] == "## ■ stop"
    assert "UVs are gone" in lines[1]
    assert lines[3].startswith("| Asset")


def test_what_is_new_leads_and_what_stood_is_counted_and_folded():
    text = markdown_of(lantern_report())
    above, folded = text.split("<details>", 1)
    assert "96 faces without UVs" in above
    assert "stretches its texture" not in above
    assert "3 as before" in above
    assert "stretches its texture" in folded


def test_the_worst_asset_comes_first():
    rows = [row for row in markdown_of(lantern_report()).splitlines() if row.startswith("| ")]
    assert [row.split()[2] for row in rows[1:5]] == ["stop", "stop", "look", "pass"]


def test_nothing_to_tell_is_told_in_a_few_lines():
    text = markdown_of(quiet_report())
    assert text.startswith("## ● pass\n\nNothing changed.")
    assert len(text) < 200


def many(count: int, message: str = "handle lost its UVs.") -> Report:
    asset = AssetEntry(
        path="",
        before_path=None,
        state="changed",
        verdict="stop",
        summary=message,
        changes=(ChangeEntry(code="uv-lost", part="handle", message=message),),
        findings=tuple(
            finding("uv-missing", "stop", "new", f"{n}: {message}", part="handle")
            for n in range(40)
        ),
        before={f"figure_{n}": n for n in range(60)},
        after={f"figure_{n}": n + 1 for n in range(60)},
    )
    assets = [
        asset.model_copy(update={"path": f"props/asset_{place:05d}.obj"}) for place in range(count)
    ]
    return Report(
        tool="reviewbot 0.1.0",
        title=f"{count} files",
        verdict="stop",
        summary="Many lost their UVs.",
        fail_on="stop",
        assets=tuple(assets),
    )


@pytest.mark.parametrize("count", [1, 3, 30, 300, 3000])
@pytest.mark.parametrize("message", ["handle lost its UVs.", "x " * 3000, "<&> " * 3000])
def test_long_reports_stay_under_the_limit_and_say_what_is_left_out(count, message):
    text = markdown_of(many(count, message))
    assert len(text) <= LIMIT
    rendered = Rendered(text)
    assert rendered.tags.count("details") == rendered.tags.count("/details")
    table, rest = text.split("### Details", 1)
    rows = table.count("\n| ■")
    folded = rest.count("<details>")
    assert folded >= 1
    for shown, part in ((rows, table), (folded, rest)):
        said = re.search(r"^And ([\d,]+) more assets?: see the page\.$", part, re.MULTILINE)
        assert shown + (int(said[1].replace(",", "")) if said else 0) == count


def test_the_longest_names_of_hidden_characters_stay_under_the_limit():
    name = "\u202e" * 5000
    report = hostile_report(*[f"{name}{n}" for n in range(60)])
    report = report.model_copy(update={"title": name, "summary": name, "remarks": (name,) * 200})
    text = markdown_of(report)
    assert len(text) <= LIMIT
    assert "more remarks: see the page." in text
    assert len(Rendered(text).tags) > 50


def test_more_findings_than_a_table_holds_are_counted():
    assert "And 15 more findings: see the page." in markdown_of(many(1))
    assert "And 35 more measures: see the page." in markdown_of(many(1))
    assert "and 37 more" in markdown_of(many(1))


@settings(max_examples=60, deadline=None)
@given(reports)
def test_any_report_gives_whole_tables(report):
    text = markdown_of(report)
    assert len(text) <= LIMIT
    tables = [line for line in text.splitlines() if line.startswith("|")]
    widths = {line.count("|") for line in tables}
    assert widths <= {3, 4, 6}
    assert not {"script", "a", "comment", "h1"} & set(Rendered(text).tags)
