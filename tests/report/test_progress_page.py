"""The page of a period, and that a browser asks nobody for anything."""

from __future__ import annotations

import base64
import re
from pathlib import Path

import pytest
from playwright.sync_api import Browser
from report.progress_sample import period_pictures, period_report, progress, tracked
from report.sample import HOSTILE_NAMES

from reviewbot.report.progress import PersonEntry
from reviewbot.report.progress_page import progress_page

PICTURES = period_pictures()


def test_everything_is_on_it() -> None:
    page = progress_page(period_report(), PICTURES)
    for words in (
        *(
            "24 to 30 March 2025",
            "Open, the oldest first",
            "Better than at the start",
            "Came and went",
        ),
        *("Every version", "Runa Eskildsen", "Europe/Oslo", "The file was removed."),
    ):
        assert words in page
    for data in PICTURES.values():
        assert base64.b64encode(data).decode() in page


def test_nothing_moves_by_itself() -> None:
    """The animation is folded away until it is asked for (WCAG 2.2, 2.2.2)."""
    page = progress_page(period_report(), PICTURES)
    film = base64.b64encode(PICTURES["pictures/lamp-1/film.png"]).decode()
    before = page[: page.index(film)]
    assert before.rindex("<details>") > before.rindex("</details>")


def test_a_quiet_period_is_a_page_all_the_same() -> None:
    quiet = progress(assets=(), findings=(), people=())
    report = period_report(
        assets=(), pictures=(), progress=quiet, verdict="pass", summary="No mesh file changed."
    )
    page = progress_page(report, {})
    assert "No mesh file changed." in page
    assert "<table>" not in page


def test_a_report_of_no_period_is_refused() -> None:
    with pytest.raises(ValueError, match="no period"):
        progress_page(period_report(progress=None), {})


def test_names_never_become_markup() -> None:
    people = tuple(PersonEntry(name=name, commits=1, assets=0) for name in HOSTILE_NAMES)
    found = tuple(tracked("opened", part=name, message=name) for name in HOSTILE_NAMES)
    page = progress_page(period_report(progress=progress(people=people, findings=found)), PICTURES)
    allowed = set(re.findall(r"<(\w+)", progress_page(period_report(), PICTURES)))
    assert set(re.findall(r"<(\w+)", page)) <= allowed
    assert page.count("<script") == 2
    assert "onerror=" not in re.sub(r"<code><bdi>.*?</bdi></code>", "", page)


def test_a_browser_shows_it_without_any_request(browser: Browser, tmp_path: Path) -> None:
    file = tmp_path / "report.html"
    file.write_text(progress_page(period_report(), PICTURES), encoding="utf-8")
    asked: list[str] = []
    errors: list[str] = []
    page = browser.new_page()
    page.on("request", lambda request: asked.append(request.url))
    page.on("pageerror", lambda error: errors.append(str(error)))
    page.on("console", lambda said: errors.append(said.text) if said.type == "error" else None)
    page.goto(file.as_uri())
    assert page.locator("article.asset").count() == 2
    assert [url for url in asked if not url.startswith(("file:", "data:"))] == []
    assert errors == []
    wide = page.evaluate("document.documentElement.scrollWidth")
    assert wide <= page.viewport_size["width"]  # type: ignore[index]
    page.close()
