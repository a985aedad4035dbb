"""Both versions turned freely, in a real browser (WebGL 2 in software)."""

from __future__ import annotations

import io
from collections.abc import Iterator

import numpy as np
import pytest
from PIL import Image
from playwright.sync_api import Page
from report.chromium import Opened
from report.sample import lantern_report
from shapes import model, sphere, torus

from reviewbot.render.scene import build_scene
from reviewbot.render.version import Version
from reviewbot.report.page import to_html
from reviewbot.report.report import SolidEntry
from reviewbot.report.solid import common_frame, solid_bytes

pytestmark = pytest.mark.slow


def page_text() -> str:
    scenes = [build_scene(model(sphere(24, 16))), build_scene(model(torus(32, 16)))]
    frame = common_frame(scenes)
    files = {}
    solids = []
    for version, scene in zip(("before", "after"), scenes, strict=True):
        name = f"pictures/{version}.solid"
        seams = np.array([[[-0.5, 0, 1.3], [0.5, 0, 1.3]]])
        shown = Version(scene=scene, stretch=[np.linspace(1, 4, 2000)], seams=seams)
        files[name] = solid_bytes(shown, frame)
        solids.append(SolidEntry(version=version, file=name, triangles=len(scene.triangles)))
    asset = lantern_report().assets[0].model_copy(update={"solids": tuple(solids), "pictures": ()})
    return to_html(lantern_report().model_copy(update={"assets": (asset,)}), files)


@pytest.fixture(scope="module")
def path(tmp_path_factory):
    path = tmp_path_factory.mktemp("solid") / "report.html"
    path.write_text(page_text(), encoding="utf-8")
    return path


@pytest.fixture
def page(browser, path) -> Iterator[Page]:
    opened = Opened(browser, path)
    opened.page.get_by_role("button", name="Turn it freely").press("Enter")
    opened.page.wait_for_selector("canvas")
    yield opened.page
    opened.context.close()
    # Taking screenshots makes the software driver remark on its speed.
    assert [told for told in opened.troubles if "OpenGL, Performance" not in told] == []


def drawn(page: Page) -> np.ndarray:
    page.wait_for_timeout(150)
    shot = page.locator("canvas").screenshot()
    return np.asarray(Image.open(io.BytesIO(shot)).convert("RGB")).astype(int)


def differs(first: np.ndarray, second: np.ndarray) -> float:
    return float((np.abs(first - second).max(axis=2) > 24).mean())


def test_both_versions_are_drawn_side_by_side(page):
    picture = drawn(page)
    ground = picture[2, picture.shape[1] // 2]
    seen = np.abs(picture - ground).max(axis=2) > 24
    half = picture.shape[1] // 2
    # A sphere of radius 1 fills its disc; a torus leaves the middle of its hole free.
    assert 0.1 < seen[:, :half].mean() < 0.9
    assert 0.05 < seen[:, half:].mean() < 0.9


def test_arrows_turn_plus_zooms_and_0_goes_back(page):
    first = drawn(page)
    for key in ("ArrowRight", "ArrowUp", "+"):
        page.locator("canvas").press(key)
        assert differs(first, drawn(page)) > 0.001
    page.locator("canvas").press("0")
    assert differs(first, drawn(page)) == 0


def test_dragging_turns(page):
    first = drawn(page)
    box = page.locator("canvas").bounding_box()
    x, y = box["x"] + box["width"] / 4, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + 80, y + 40, steps=4)
    page.mouse.up()
    assert page.locator(".solid").get_attribute("data-view") == "1.17 0.58 1.00"
    assert differs(first, drawn(page)) > 0.005


@pytest.mark.parametrize("look", ["Checker", "Stretch"])
def test_looks_change_the_picture(page, look):
    first = drawn(page)
    page.get_by_role("button", name=look).press("Enter")
    assert differs(first, drawn(page)) > 0.05


@pytest.mark.parametrize("line", ["polygon edges", "seams"])
def test_lines_are_drawn_on_request(page, line):
    first = drawn(page)
    page.get_by_label(line).press("Space")
    assert differs(first, drawn(page)) > 0.0005


def test_without_webgl_it_says_so(browser, path):
    opened = Opened(browser, path)
    opened.page.evaluate("HTMLCanvasElement.prototype.getContext = () => null")
    opened.page.get_by_role("button", name="Turn it freely").press("Enter")
    opened.page.get_by_text("cannot show it in three dimensions").wait_for()
    opened.context.close()
    assert opened.troubles == []


def test_the_page_is_still_closed_to_everything_else(path):
    text = path.read_text(encoding="utf-8").replace("&#39;", "'")
    policy = text.split("script-src ")[1].split(";")[0]
    assert len(policy.split()) == 2
    assert "unsafe" not in policy
