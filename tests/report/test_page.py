"""report.html: what is in it, and that a browser opens it in peace. More in test_browser.py."""

from __future__ import annotations

import base64
import hashlib
import re

import pytest
from hypothesis import given, settings
from report.chromium import Opened, unfold, write_page
from report.sample import HOSTILE_NAMES, REPORTS, hostile_report, lantern_report, picture_bytes
from report.strategies import reports

from reviewbot.report.page import to_html
from reviewbot.report.report import AssetEntry, Report

LANTERN = lantern_report()
PICTURES = picture_bytes(LANTERN)


@pytest.fixture(scope="module")
def page() -> str:
    return to_html(LANTERN, PICTURES)


def test_the_policy_allows_this_style_this_script_and_inner_pictures_only(page):
    policy = re.search(r'Content-Security-Policy" content="([^"]*)"', page)[1]
    policy = policy.replace("&#39;", "'")
    assert policy.startswith("default-src 'none'; img-src data:; style-src 'sha256-")
    assert "unsafe" not in policy
    for tag in ("style", "script"):
        text = re.search(rf"<{tag}>(.*?)</{tag}>", page, re.DOTALL)[1]
        digest = base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
        assert f"{tag}-src 'sha256-{digest}'" in policy


def test_nothing_points_outside(page):
    addresses = re.findall(r'(?:href|src|action|data|poster)="([^"]*)"', page)
    assert addresses
    assert all(address.startswith(("data:", "#")) for address in addresses)
    assert not re.search(r"@import|url\(|//[a-z]", page.split("<body>")[0])


def test_the_same_report_gives_the_same_page(page):
    assert to_html(LANTERN, PICTURES) == page


def test_the_verdict_leads_and_what_stood_is_folded(page):
    body = page[page.index("<body>") :]
    assert (
        body.index("<h1>stop</h1>") < body.index("What changed") < body.index("New or worse</h3>")
    )
    folded = body.index("As before</h3>")
    assert body.rindex("<details>", 0, folded) > body.index("New or worse</h3>")


def test_severity_is_a_word_and_a_shape_not_a_colour_alone(page):
    tags = re.findall(r'<p class="tags">(.*?)</p>', page, re.DOTALL)
    assert tags
    for tag in tags:
        assert re.search(r'<use href="#mark-(stop|look|note)"/>.*>\1<', tag, re.DOTALL)


def test_pictures_over_the_limit_lie_beside_the_page_and_this_is_said():
    page = to_html(LANTERN, PICTURES, picture_limit=20_000)
    left_out = page.count('class="left-out" href="./pictures/')
    shown = page.count('<img src="data:image/png')
    assert shown
    assert left_out
    assert shown + left_out == len(PICTURES)
    assert re.search(rf"{left_out} pictures of {len(PICTURES)} are not in this page", page)
    assert len(page) < len(to_html(LANTERN, PICTURES))


def test_each_asset_keeps_an_overview_before_any_keeps_everything():
    first = LANTERN.assets[0]
    second = first.model_copy(
        update={
            "path": "z.obj",
            "pictures": tuple(
                entry.model_copy(update={"file": f"pictures/z-{place}.png"})
                for place, entry in enumerate(first.pictures)
            ),
        }
    )
    report = LANTERN.model_copy(update={"assets": (first, second)})
    pictures = picture_bytes(report)
    overviews = [asset.pictures[0].file for asset in report.assets]
    limit = sum(4 * (len(pictures[name]) // 3 + 1) for name in overviews) + 15_000
    page = to_html(report, pictures, picture_limit=limit)
    for name in overviews:
        assert base64.b64encode(pictures[name]).decode() in page


def test_what_is_no_picture_is_not_shown():
    broken = dict.fromkeys(PICTURES, b"<svg onload=alert(1)>")
    page = to_html(LANTERN, broken)
    assert page.count("No picture:") == len(PICTURES)
    assert "onload" not in page
    assert to_html(LANTERN, {}).count("No picture:") == len(PICTURES)


def test_many_assets_are_listed_not_lost():
    assets = tuple(
        AssetEntry(
            path=f"props/asset_{place:04d}.obj",
            before_path=None,
            state="added",
            verdict="pass",
            summary="A new file.",
        )
        for place in range(1500)
    )
    page = to_html(LANTERN.model_copy(update={"assets": assets}), {})
    assert all(asset.path in page for asset in assets)
    assert "1,300 more assets" in page


@settings(max_examples=25, deadline=None)
@given(reports)
def test_any_report_gives_a_whole_page(report: Report):
    page = to_html(report, {entry.file: b"" for a in report.assets for entry in a.pictures})
    assert page.endswith("</html>\n")
    assert page.count("<script") == 2


# The page's palette against WCAG 2.2: relative luminance and contrast as it defines them.


def _luminance(colour: str) -> float:
    channels = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(first: str, second: str) -> float:
    low, high = sorted([_luminance(first), _luminance(second)])
    return (high + 0.05) / (low + 0.05)


def test_the_contrast_formula_gives_the_published_values():
    # WCAG 2.2: black on white is 21:1; #767676 is the lightest grey to pass 4.5:1 on white.
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#767676", "#ffffff") >= 4.5 > contrast("#777777", "#ffffff")


@pytest.mark.parametrize("scheme", [0, 1])
def test_the_palette_has_the_contrast_that_wcag_asks_for(page, scheme):
    palettes = re.findall(r"(--paper: .*?--well: #\w+;)", page, re.DOTALL)
    colours = dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6})", palettes[scheme]))
    grounds = ["paper", "panel", "well", "band-stop", "band-look", "band-pass"]
    for ground in grounds:
        assert contrast(colours["ink"], colours[ground]) >= 7
    for ground in ("paper", "panel", "well"):
        assert contrast(colours["soft"], colours[ground]) >= 4.5
        assert contrast(colours["link"], colours[ground]) >= 4.5
    # 1.4.11 asks 3:1 of shapes: marks have a rim of ink, and two of them would do without it.
    for mark in ("stop", "pass"):
        assert contrast(colours[mark], colours["paper"]) >= 3
    assert contrast(colours["after"], colours["paper"]) >= 3


@pytest.mark.parametrize("name", REPORTS)
def test_nothing_fails_and_nothing_is_fetched(browser, pages, name):
    opened = Opened(browser, pages[name])
    unfold(opened.page)
    opened.page.wait_for_timeout(100)
    opened.context.close()
    assert opened.troubles == []


def test_names_from_files_never_become_markup(browser, tmp_path):
    path = write_page(hostile_report(*HOSTILE_NAMES), tmp_path / "hostile.html")
    opened = Opened(browser, path)
    page = opened.page
    assert page.locator("script").count() == 2
    assert page.locator("[onmouseover], [onfocus], [onerror], [style*=expression]").count() == 0
    outward = "a:not([href^='#']):not([href^='./'])"
    assert page.locator(outward).count() == 0
    pictures = page.locator("img").evaluate_all("nodes => nodes.map((node) => node.src)")
    assert all(address.startswith("data:image/") for address in pictures)
    assert page.locator("article.asset").count() == len(HOSTILE_NAMES)
    opened.context.close()
    assert opened.troubles == []


def test_all_content_is_there_without_script(browser, pages):
    opened = Opened(browser, pages["lantern"], java_script_enabled=False)
    text = " ".join(opened.page.locator("body").text_content().split())
    for asset in REPORTS["lantern"].assets:
        for finding in asset.findings:
            assert " ".join(finding.message.split()) in text
    shown = opened.page.locator("img")
    assert shown.count() == len(picture_bytes(REPORTS["lantern"]))
    assert opened.page.locator("button, select, input").count() == 0
    opened.context.close()
