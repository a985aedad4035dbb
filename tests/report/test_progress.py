"""A period's progress in words, as Markdown and in a terminal."""

from __future__ import annotations

import re
from datetime import datetime, timedelta

import cmarkgfm
import pytest
from report.progress_sample import LOST, period_report, progress, tracked, version
from report.sample import HOSTILE_NAMES

from reviewbot.report.json_report import from_json, to_json
from reviewbot.report.markdown import LIMIT
from reviewbot.report.progress import AssetProgress, PersonEntry, grouped, stands_longest, with_fate
from reviewbot.report.progress_markdown import progress_markdown
from reviewbot.report.progress_text import progress_text
from reviewbot.report.progress_words import (
    age_words,
    gains,
    open_words,
    period_sentence,
    period_words,
    quiet_sentence,
    span_words,
)
from reviewbot.report.wording import VERDICT_SYMBOLS

STOP = VERDICT_SYMBOLS["stop"]


def markdown(**more: object) -> str:
    return progress_markdown(period_report(**more), picture_url=str)


def blocks(text: str) -> dict[str, str]:
    """The text under each heading."""
    parts = re.split(r"^#+ (.*)$", text, flags=re.M)
    return dict(zip(parts[1::2], parts[2::2], strict=True))


def test_a_report_of_a_period_survives_its_json() -> None:
    report = period_report()
    assert from_json(to_json(report)) == report


def test_everything_has_its_place() -> None:
    told = blocks(markdown())
    assert list(told)[:6] == [
        *("Progress, 24 to 30 March 2025", "Assets", "Open, the oldest first"),
        *("Better than at the start", "Came and went", "People"),
    ]
    assert "open; close it" in told["Open, the oldest first"]
    assert "A face is doubled." in told["Better than at the start"]
    assert "used texture from 48% to 54%" in told["Better than at the start"]
    assert "The unit is odd." in told["Came and went"]
    assert "with its file" in told["Came and went"]
    assert "| Runa Eskildsen | 4 | 2 |" in told["People"]
    details = told[f"{STOP} `props/lamp.obj`"]
    assert "before: `props/old_lamp.obj`" in details
    assert details.index("film-strip.png") < details.index("measures.png")


def test_the_oldest_leads_and_alike_ones_are_one_line() -> None:
    lines = [line for line in blocks(markdown())["Open, the oldest first"].split("\n") if line]
    assert len(lines) == 2
    assert "older than the period" in lines[0]
    assert "`grip`, `hood`: This part has no UVs" in lines[1]
    assert "new on 25 Mar: 2 days, 3 commits" in lines[1]


def test_lists_without_entries_are_left_out() -> None:
    told = blocks(markdown(progress=progress(findings=(), people=())))
    assert {"Open, the oldest first", "Came and went", "People"}.isdisjoint(told)


def test_a_quiet_period_is_one_line() -> None:
    quiet = progress(assets=(), findings=(), people=(), commits=0, merges=0)
    sentence = quiet_sentence(quiet)
    assert sentence == "No mesh file changed, 24 to 30 March 2025."
    report = period_report(assets=(), pictures=(), summary=sentence, progress=quiet)
    assert progress_markdown(report, picture_url=str) == f"{sentence}\n"
    assert progress_text(report, None) == sentence


def test_a_report_of_no_period_is_refused() -> None:
    with pytest.raises(ValueError, match="no period"):
        markdown(progress=None)


def test_it_stays_below_the_limit_of_hosts() -> None:
    first = period_report().assets[0]
    many = [first.model_copy(update={"path": f"props/{at}.obj"}) for at in range(400)]
    ways = [AssetProgress(path=one.path, versions=(version(25, "added"),)) for one in many]
    people = [PersonEntry(name=f"Person {at}", commits=1, assets=1) for at in range(500)]
    told = markdown(assets=tuple(many), progress=progress(assets=tuple(ways), people=tuple(people)))
    assert len(told) <= LIMIT
    assert "more assets" in told
    assert "And 475 more people." in told


@pytest.mark.parametrize("name", HOSTILE_NAMES)
def test_strangers_words_stay_words(name: str) -> None:
    """Authors, parts and messages: rendered as GitHub does, nothing but our own markup comes."""
    person = PersonEntry(name=name, commits=1, assets=1)
    found = tracked("opened", part=name, message=f"{name} is wrong.")
    told = markdown(pictures=(), progress=progress(people=(person,), findings=(found,)))
    rendered = cmarkgfm.github_flavored_markdown_to_html(told)
    plain = cmarkgfm.github_flavored_markdown_to_html(markdown(pictures=()))
    assert set(re.findall(r"<(\w+)", rendered)) <= set(re.findall(r"<(\w+)", plain)) | {"code"}
    outside = re.sub(r"<code>.*?</code>", "", rendered)
    assert "@" not in outside


def test_the_terminal_s_lines() -> None:
    lines = progress_text(period_report(), None).split("\n")
    assert lines[0].startswith("24 to 30 March 2025: 2 assets touched")
    assert lines[1].startswith(f"  {STOP} props/lamp.obj: The grip's UVs are gone")
    assert lines[3] == "open, the oldest first:"


@pytest.mark.parametrize(
    ("since", "until", "words"),
    [
        ("2025-03-24T00:00", "2025-03-25T00:00", "24 March 2025"),
        ("2025-03-24T09:00", "2025-03-24T17:00", "24 March 2025"),
        ("2025-03-24T09:00", "2025-03-31T09:00", "24 to 31 March 2025"),
        ("2025-03-31T00:00", "2025-04-07T00:00", "31 March to 6 April 2025"),
        ("2024-12-30T00:00", "2025-01-06T00:00", "30 December 2024 to 5 January 2025"),
        ("2025-03-24T09:00", "2025-03-24T09:00", "24 March 2025"),
    ],
)
def test_days_in_words(since: str, until: str, words: str) -> None:
    assert period_words(datetime.fromisoformat(since), datetime.fromisoformat(until)) == words


@pytest.mark.parametrize(
    ("fates", "words"),
    [
        ([], "No finding is open."),
        (["mended"], "No finding is open; 1 mended."),
        (["opened"], "1 finding is open, new."),
        (["standing"], "1 finding is open, from before."),
        (["opened", "opened"], "2 findings are open, all of them new."),
        (["standing", "standing"], "2 findings are open, none of them new."),
        (
            ["standing", "opened", "passing", "gone"],
            "2 findings are open, 1 of them new; 1 came and went, 1 gone with their files.",
        ),
    ],
)
def test_findings_in_a_sentence(fates: list[str], words: str) -> None:
    told = progress(findings=tuple(tracked(fate) for fate in fates))
    assert period_sentence(told).endswith(f"by 2 people. {words}")


def test_ages_in_words() -> None:
    assert age_words(tracked("opened", days=0.3)) == "new on 25 Mar: less than a day, 3 commits"
    assert age_words(tracked("opened", days=1.9)) == "new on 25 Mar: 1 day, 3 commits"
    older = age_words(tracked("standing", opened=None, days=7.0))
    assert older == "older than the period: more than 7 days, 3 commits"


def test_what_comes_again_and_again_is_one_line() -> None:
    again = tuple(
        tracked("passing", opened=day, ended=day + 1, message=f"{day} edges are open.")
        for day in (27, 25, 29)
    )
    told = blocks(markdown(progress=progress(findings=again)))["Came and went"]
    (line,) = [line for line in told.split("\n") if line]
    assert "29 edges are open." in line
    assert line.endswith("(3 times, 25 Mar to 30 Mar)")


def test_one_day_is_said_once() -> None:
    once = tracked("passing", opened=25, ended=25)
    assert span_words([[once]]) == "25 Mar"
    assert span_words([[tracked("gone", opened=None, ended=28)]]) == (
        "before the period to 28 Mar, with its file"
    )


def test_gains_are_told_and_losses_are_not() -> None:
    better = AssetProgress(path="a.obj", versions=(version(24, "start"), version(28, "changed")))
    assert gains(better) == ["used texture from 48% to 56%", "stretch from 1.06 to 1.02"]
    worse = AssetProgress(path="a.obj", versions=better.versions[::-1])
    assert gains(worse) == []
    assert gains(AssetProgress(path="a.obj", versions=better.versions[:1])) == []


def test_open_findings_in_words() -> None:
    assert open_words(version(24, "changed", stops=1, looks=2)) == "1 stop, 2 look"
    assert open_words(version(24, "changed")) == "nothing"
    assert open_words(version(24, "removed", stops=None, looks=None)) == "–"


def test_order_is_by_weight_and_by_age() -> None:
    some = progress()
    assert [one.part for one in with_fate(some, "opened")] == ["grip", "hood"]
    assert stands_longest(some)[0].fate == "standing"
    assert [len(group) for group in grouped(some.findings)] == [2, 1, 1, 1, 1]
    assert {one.message for one in with_fate(some, "opened")} == {LOST}


def test_spans_of_the_sample_fit() -> None:
    some = progress()
    length = datetime.fromisoformat(some.until) - datetime.fromisoformat(some.since)
    assert length == timedelta(hours=167)
