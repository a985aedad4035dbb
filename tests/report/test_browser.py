"""report.html in a real browser: headless Chromium, driven by Playwright."""

from __future__ import annotations

import itertools
import re
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest
from axe_core_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page
from report.chromium import Opened, unfold
from report.npm_packages import installed
from report.sample import REPORTS

pytestmark = pytest.mark.slow


@pytest.fixture
def lantern(browser, pages) -> Iterator[Page]:
    opened = Opened(browser, pages["lantern"])
    yield opened.page
    opened.context.close()
    assert opened.troubles == []


def test_the_first_tab_skips_to_the_review(lantern):
    lantern.keyboard.press("Tab")
    assert lantern.evaluate("document.activeElement.className") == "skip"
    lantern.keyboard.press("Enter")
    assert lantern.evaluate("document.activeElement.id") == "review"


def test_every_control_shows_its_focus(lantern):
    unfold(lantern)
    for _ in range(60):
        lantern.keyboard.press("Tab")
        drawn = lantern.evaluate(
            "(() => { const node = document.activeElement;"
            "return node === document.body ? 'end' : getComputedStyle(node).outlineStyle; })()"
        )
        if drawn == "end":
            break
        assert drawn not in ("none", "")


def _clip(page: Page) -> str:
    return page.locator(".stage .pane-after").evaluate("node => node.style.clipPath")


def test_the_edge_between_versions_moves_by_keyboard_and_mouse(lantern):
    edge = lantern.get_by_label("Edge")
    edge.focus()
    lantern.keyboard.press("End")
    assert "100%" in _clip(lantern)
    lantern.keyboard.press("Home")
    assert "0%" in _clip(lantern)
    lantern.locator(".stage").scroll_into_view_if_needed()
    box = lantern.locator(".stage").bounding_box()
    lantern.mouse.move(box["x"] + 5, box["y"] + 50)
    lantern.mouse.down()
    lantern.mouse.move(box["x"] + box["width"] * 0.75, box["y"] + 50)
    lantern.mouse.up()
    assert "75%" in _clip(lantern)
    assert edge.get_attribute("aria-valuetext") == "75% before, 25% after"


def _after_shown(page: Page) -> bool:
    return page.locator(".stage .pane-after").evaluate("node => node.style.visibility") != "hidden"


def _clocked(browser: Browser, path: Path, **context: object) -> Opened:
    opened = Opened(browser, path, **context)
    opened.page.clock.install()
    opened.page.reload()
    return opened


def test_the_blink_is_slow_and_pauses(browser, pages):
    opened = _clocked(browser, pages["lantern"])
    page = opened.page
    page.get_by_role("button", name="Blink").press("Enter")
    page.clock.pause_at(page.evaluate("Date.now()") + 10)
    shown = [_after_shown(page)]
    for _ in range(40):
        page.clock.run_for(100)
        shown.append(_after_shown(page))
    changes = sum(a != b for a, b in itertools.pairwise(shown))
    # WCAG 2.2, 2.3.1 allows three flashes a second; a flash is a pair of changes. Ours: a half.
    assert 3 <= changes <= 4
    page.get_by_role("button", name="Pause").press("Enter")
    at_rest = _after_shown(page)
    page.clock.run_for(5000)
    assert _after_shown(page) == at_rest
    opened.context.close()


def test_who_wants_less_motion_swaps_by_hand(browser, pages):
    opened = _clocked(browser, pages["lantern"], reduced_motion="reduce")
    page = opened.page
    page.get_by_role("button", name="Blink").press("Enter")
    before = _after_shown(page)
    page.clock.run_for(5000)
    assert _after_shown(page) == before
    page.get_by_role("button", name="Swap").press("Enter")
    assert _after_shown(page) != before
    opened.context.close()


def test_difference_and_side_by_side_show_what_they_say(lantern):
    lantern.get_by_role("button", name="Difference").press("Enter")
    assert lantern.locator(".stage .pane-difference img").is_visible()
    lantern.get_by_role("button", name="Side by side").press("Enter")
    assert lantern.locator(".stage").is_hidden()
    panes = lantern.locator(".sides .pane img")
    assert [panes.nth(i).is_visible() for i in range(3)] == [True] * 3
    left, right = (panes.nth(i).bounding_box()["x"] for i in range(2))
    assert left < right


def _turned(page: Page) -> str:
    return page.locator(".turn-window img").first.evaluate("node => node.style.transform")


def test_the_turntable_turns_by_keyboard_and_mouse(lantern):
    turn = lantern.get_by_label("Turn").first
    turn.focus()
    lantern.keyboard.press("ArrowRight")
    assert "-6.25%" in _turned(lantern)
    assert turn.get_attribute("aria-valuetext") == "view 2 of 16, 23 degrees"
    lantern.locator(".turn-windows").first.scroll_into_view_if_needed()
    box = lantern.locator(".turn-windows").first.bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    lantern.mouse.move(x, y)
    lantern.mouse.down()
    lantern.mouse.move(x + box["width"] / 8, y)
    lantern.mouse.up()
    assert turn.input_value() == "5"


def test_the_turntable_turns_by_touch(browser, pages):
    opened = Opened(
        browser, pages["lantern"], has_touch=True, viewport={"width": 400, "height": 800}
    )
    page = opened.page
    windows = page.locator(".turn-windows").first
    windows.scroll_into_view_if_needed()
    box = windows.bounding_box()
    x, y = box["x"] + 40, box["y"] + box["height"] / 2
    touch = opened.context.new_cdp_session(page)

    def send(kind: str, *points: float) -> None:
        touch.send(
            "Input.dispatchTouchEvent",
            {"type": kind, "touchPoints": [{"x": at, "y": y} for at in points]},
        )

    send("touchStart", x)
    for step in range(1, 7):
        send("touchMove", x + step * box["width"] / 24)
    send("touchEnd")
    assert page.get_by_label("Turn").first.input_value() not in ("", "0")
    opened.context.close()


def _zooms(page: Page) -> set[str]:
    transforms = page.locator(".sheet-window img").evaluate_all(
        "nodes => nodes.map((node) => node.style.transform)"
    )
    return set(transforms)


def test_uv_sheets_zoom_together_by_keyboard_buttons_and_wheel(lantern):
    sheet = lantern.locator(".sheet-window").first
    sheet.focus()
    lantern.keyboard.press("+")
    (zoomed,) = _zooms(lantern)
    assert zoomed.startswith("scale(1.5)")
    lantern.keyboard.press("ArrowRight")
    (moved,) = _zooms(lantern)
    assert moved != zoomed
    lantern.keyboard.press("0")
    (whole,) = _zooms(lantern)
    assert whole.startswith("scale(1) ")
    lantern.get_by_role("button", name="Closer").press("Enter")
    assert lantern.locator(".sheets output").text_content() == "150%"
    lantern.get_by_role("button", name="Whole sheet").press("Enter")
    sheet.focus()
    sheet.hover()
    lantern.mouse.wheel(0, -100)
    (wheeled,) = _zooms(lantern)
    assert wheeled.startswith("scale(1.25)")


def test_the_wheel_scrolls_past_a_sheet_that_was_not_chosen(lantern):
    sheet = lantern.locator(".sheet-window").first
    sheet.scroll_into_view_if_needed()
    lantern.evaluate("document.activeElement.blur()")
    sheet.hover()
    lantern.mouse.wheel(0, -300)
    lantern.wait_for_timeout(50)
    assert _zooms(lantern) == {"scale(1) translate(0%, 0%)"}


def test_findings_are_filtered_by_severity_and_part(lantern):
    unfold(lantern)
    status = lantern.locator("#filters output")
    assert status.text_content() == "12 of 12 findings"
    look = lantern.get_by_label("look", exact=True)
    look.focus()
    lantern.keyboard.press("Space")
    assert lantern.locator(".finding[data-severity=look]:visible").count() == 0
    assert lantern.locator(".finding[data-severity=stop]:visible").count() == 2
    lantern.keyboard.press("Space")
    lantern.get_by_label("Part", exact=True).select_option("handle")
    assert lantern.locator(".finding:visible").count() == 1
    lantern.get_by_label("Part", exact=True).select_option("glass")
    assert lantern.locator(".members li:visible").count() == 1
    assert status.text_content() == "2 of 12 findings"
    lantern.get_by_label("Part", exact=True).select_option("handle")
    assert status.text_content() == "1 of 12 findings"
    lantern.get_by_label("Part", exact=True).select_option("all")
    assert lantern.locator(".finding:visible").count() == 11


def test_tables_sort_by_keyboard(lantern):
    unfold(lantern)
    table = lantern.locator("table.sortable").first
    lantern.get_by_label("only what changed").first.press("Space")
    heading = table.get_by_role("button", name="After")

    def column() -> list[str]:
        return [cell for cell in table.locator("td:nth-child(4)").all_text_contents() if cell]

    heading.press("Enter")
    assert table.locator("th").nth(3).get_attribute("aria-sort") == "ascending"
    figures = [float(cell.replace(",", "")) for cell in column() if re.match(r"^-?[\d.,]+$", cell)]
    assert len(figures) > 20
    assert figures == sorted(figures)
    heading.press("Enter")
    assert table.locator("th").nth(3).get_attribute("aria-sort") == "descending"
    assert column()[0] == "3,842"


def test_light_and_dark(browser, pages):
    opened = Opened(browser, pages["lantern"], color_scheme="dark")
    page = opened.page

    def paper() -> str:
        return page.evaluate("getComputedStyle(document.body).backgroundColor")

    dark = paper()
    page.locator("#tools button").press("Enter")
    light = paper()
    assert light != dark
    page.emulate_media(color_scheme="light")
    assert paper() == light
    page.locator("#tools button").press("Enter")
    assert paper() == dark
    opened.context.close()


@pytest.mark.parametrize("width", [1280, 400, 320])
def test_nothing_is_wider_than_the_window(browser, pages, width):
    # WCAG 2.2, 1.4.10: no scrolling in two directions at a width of 320 px.
    for path in pages.values():
        opened = Opened(browser, path, viewport={"width": width, "height": 800})
        unfold(opened.page)
        assert opened.page.evaluate("document.documentElement.scrollWidth") <= width
        opened.context.close()


@pytest.mark.slow
@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [1280, 400])
@pytest.mark.parametrize("name", REPORTS)
def test_the_accessibility_checker_finds_nothing(browser, pages, name, width, scheme):
    # axe-core, all rules of WCAG 2.2 A and AA and its best practices.
    viewport = {"width": width, "height": 900}
    opened = Opened(browser, pages[name], viewport=viewport, color_scheme=scheme)
    unfold(opened.page)
    found = Axe().run(opened.page)
    told = [
        (rule["id"], [node["html"][:160] for node in rule["nodes"]]) for rule in found["violations"]
    ]
    opened.context.close()
    assert told == []
    assert len(found["passes"]) > 20


@pytest.mark.slow
@pytest.mark.parametrize("name", REPORTS)
def test_html_validate_finds_nothing(pages, name, tmp_path):
    # html-validate 10, its recommended rules; "long-title" and inline style blocks are by design.
    checker = installed("html-validate", "10")
    settings = tmp_path / ".htmlvalidate.json"
    settings.write_text('{"root": true, "extends": ["html-validate:recommended"]}')
    page = tmp_path / "report.html"
    page.write_bytes(pages[name].read_bytes())
    done = subprocess.run(
        ["node", str(checker / "bin" / "html-validate.mjs"), "--formatter", "text", str(page)],
        capture_output=True,
        text=True,
        check=False,
        cwd=tmp_path,
    )
    assert done.returncode == 0, done.stdout + done.stderr


@pytest.mark.slow
def test_the_printed_page_holds_what_was_folded(browser, pages, tmp_path):
    opened = Opened(browser, pages["lantern"], color_scheme="dark")
    paper = opened.page.pdf(format="A4")
    assert paper.startswith(b"%PDF")
    count = max(int(number) for number in re.findall(rb"/Count (\d+)", paper))
    assert 2 <= count <= 20
    opened.page.emulate_media(media="print")
    assert opened.page.locator("#filters").is_hidden()
    colour = opened.page.evaluate("getComputedStyle(document.body).backgroundColor")
    assert colour == "rgb(255, 255, 255)"
    opened.context.close()
