"""The live page in JupyterLab, in a browser: what nobody sees who only runs the cells.

What the page shows is compared with the library's own answer for the same move.
"""

from __future__ import annotations

import base64
import io
import json
import shutil
import time
from pathlib import Path

import matplotlib.image as mpimg
import numpy as np
import pytest
from lab import browser, run_all, running_lab

import splitterfem as sf
from splitterfem.live import Trial

pytestmark = pytest.mark.browser

NOTEBOOK = "02_stiffener_placement.ipynb"
STORED = Path(__file__).parents[2] / "notebooks" / NOTEBOOK
CASE = "straight, 210 km/h"


@pytest.fixture(scope="module")
def pictures(tmp_path_factory):
    """Folder of the screenshots; pytest keeps those of the last three runs."""
    return tmp_path_factory.mktemp("screenshots")


@pytest.fixture(scope="module")
def chromium():
    with browser() as found:
        yield found


@pytest.fixture(scope="module")
def opened(chromium, tmp_path_factory):
    """The notebook, opened and run."""
    folder, home = tmp_path_factory.mktemp("notebooks"), tmp_path_factory.mktemp("home")
    notebook = json.loads(STORED.read_text("utf-8"))
    for cell in notebook["cells"]:
        if cell["cell_type"] == "code":
            cell["outputs"], cell["execution_count"] = [], None
    (folder / NOTEBOOK).write_text(json.dumps(notebook), "utf-8")
    with running_lab(folder, home) as lab:
        page = chromium.new_page(viewport={"width": 1400, "height": 1000})
        complaints: list[str] = []
        page.on("pageerror", lambda error: complaints.append(str(error)))
        page.goto(lab.url(NOTEBOOK))
        run_all(page)
        yield page, complaints
        page.close()


class LivePage:
    """The cell of the page: its widgets, its figures, its picture."""

    def __init__(self, page):
        self.page = page
        self.cell = page.locator(".jp-CodeCell", has=page.locator(".widget-slider")).first
        self.cell.scroll_into_view_if_needed()

    def handle(self, number):
        return self.cell.locator(".widget-slider .noUi-handle").nth(number)

    def reading(self, number):
        return float(self.cell.locator(".widget-slider .widget-readout").nth(number).inner_text())

    def picture(self):
        return self.cell.locator("img").last.get_attribute("src")

    def now(self, row):
        return self.cell.locator("tr", has_text=row).locator("td").nth(1).inner_text()

    def text(self):
        return self.cell.inner_text()

    def wait_until(self, settled, what):
        end = time.monotonic() + 30.0
        while time.monotonic() < end:
            if settled():
                return
            self.page.wait_for_timeout(20)
        pytest.fail(f"{what} did not change within 30 s: {self.text()}")

    def wait_for_the_last_picture(self):
        """Wait until no picture has come for a second: it follows the figures."""
        picture, since = self.picture(), time.monotonic()
        while time.monotonic() < since + 1.0:
            self.page.wait_for_timeout(20)
            if self.picture() != picture:
                picture, since = self.picture(), time.monotonic()

    def press(self, number, key):
        """Press a key on a slider and wait for another picture; tells the seconds to the figures and to the picture."""
        picture, sag = self.picture(), self.now("worst sag")
        start = time.monotonic()
        self.handle(number).press(key)
        self.wait_until(lambda: self.now("worst sag") != sag, "The sag")
        figures = time.monotonic() - start
        self.wait_until(lambda: self.picture() != picture, "The picture")
        return figures, time.monotonic() - start


@pytest.fixture
def live(opened):
    return LivePage(opened[0])


def pixels(source):
    assert source.startswith("data:image/png;base64,")
    return mpimg.imread(io.BytesIO(base64.b64decode(source.split(",", 1)[1])))


def not_blank(picture):
    return len(np.unique(np.round(picture[::3, ::3, :3], 2).reshape(-1, 3), axis=0)) > 100


def test_cells_run_without_errors(opened):
    page, complaints = opened
    assert page.locator('.jp-OutputArea-output[data-mime-type="application/vnd.jupyter.error"]').count() == 0
    assert page.locator('.jp-OutputArea-output[data-mime-type="application/vnd.jupyter.stderr"]').count() == 0
    assert "Error displaying widget" not in page.locator(".jp-Notebook").inner_text()
    assert not complaints


def test_sliding_a_rib_changes_picture_and_numbers(live, pictures):
    first = pixels(live.picture())
    assert not_blank(first)
    seconds = [live.press(0, "ArrowLeft") for _ in range(3)]
    print("seconds to the figures and to the picture:", [f"{a:.2f}, {b:.2f}" for a, b in seconds])
    x = live.reading(0)
    trial = Trial(sf.demo(), CASE)
    trial.move("cross tube", x=f"{x} mm")
    assert live.now("worst sag") == f"{1e3 * trial.now.sag:.2f} mm"
    assert live.now("least clearance") == f"{1e3 * trial.now.gap:.2f} mm"
    assert live.now("mass of panel and ribs") == f"{trial.now.mass:.2f} kg"
    second = pixels(live.picture())
    assert not_blank(second)
    assert np.abs(second - first).max() > 0.5
    live.page.screenshot(path=pictures / "rib_moved.png")


def test_sliding_a_strut_after_the_rib(live, pictures):
    picture = live.picture()
    live.cell.locator("select").select_option("inner strut")
    live.wait_until(lambda: live.picture() != picture, "The picture")
    live.wait_until(lambda: live.reading(0) == 905.0, "The slider")
    live.press(1, "ArrowRight")
    assert live.reading(1) == 335.0
    live.page.screenshot(path=pictures / "strut_moved.png")


def test_keys_in_quick_succession_do_not_queue(live, pictures):
    """The newest place counts: slider, figures and picture end at the same one."""
    live.cell.locator("select").select_option("cross tube")
    live.wait_until(lambda: live.reading(0) < 800.0, "The slider")
    tube = live.reading(0)
    live.cell.locator("select").select_option("inner strut")
    live.wait_until(lambda: live.reading(0) == 905.0, "The slider")
    picture, sag = live.picture(), live.now("worst sag")
    live.handle(1).focus()
    for _ in range(8):
        live.page.keyboard.press("ArrowRight")
    y = live.reading(1)
    live.wait_until(lambda: live.now("worst sag") != sag, "The sag")
    live.wait_until(lambda: live.picture() != picture, "The picture")
    trial = Trial(sf.demo(), CASE)
    trial.move("cross tube", x=f"{tube} mm")
    trial.move("inner strut", y=f"{y} mm")
    assert live.reading(1) == y
    wanted = f"{1e3 * trial.now.sag:.2f} mm"
    live.wait_until(lambda: live.now("worst sag") == wanted, "The sag")
    live.page.screenshot(path=pictures / "keys.png")


def test_what_cannot_be_built_is_told_and_the_picture_stays(live, pictures):
    live.wait_for_the_last_picture()
    picture, sag = live.picture(), live.now("worst sag")
    live.handle(1).press("Home")
    live.wait_until(lambda: "Not moved" in live.text(), "The message")
    assert live.now("worst sag") == sag
    assert live.picture() == picture
    live.page.screenshot(path=pictures / "refused.png")


def test_undo_and_other_pictures(live, pictures):
    picture = live.picture()
    live.cell.get_by_role("button", name="Start over").click()
    live.wait_until(lambda: live.picture() != picture, "The picture")
    for kind in ("push map", "rib gain"):
        picture = live.picture()
        live.cell.get_by_role("button", name=kind).click()
        live.wait_until(lambda before=picture: live.picture() != before, "The picture")
        assert not_blank(pixels(live.picture()))
        assert "should not have happened" not in live.text()
        live.page.screenshot(path=pictures / f"{kind.replace(' ', '_')}.png")


def test_check_says_what_is_weakest(live, pictures):
    live.cell.get_by_role("button", name="Check").click()
    live.wait_until(lambda: "Weakest is" in live.text(), "The message")
    live.page.screenshot(path=pictures / "checked.png")


def test_a_narrow_window_shows_everything(live, pictures):
    live.page.set_viewport_size({"width": 640, "height": 1100})
    live.page.wait_for_timeout(500)
    live.cell.scroll_into_view_if_needed()
    cell = live.cell.bounding_box()
    for what in (
        live.handle(0),
        live.cell.get_by_role("button", name="Check"),
        live.cell.locator("img").last,
    ):
        box = what.bounding_box()
        assert box["x"] >= cell["x"]
        assert box["x"] + box["width"] <= cell["x"] + cell["width"] + 1.0
    live.page.screenshot(path=pictures / "narrow.png")
    live.page.set_viewport_size({"width": 1400, "height": 1000})


def test_a_stored_notebook_shows_its_pictures_without_a_kernel(chromium, pictures, tmp_path):
    from nbconvert import HTMLExporter

    text, _ = HTMLExporter(embed_images=True).from_filename(str(STORED))
    place = tmp_path / "stored.html"
    place.write_text(text, "utf-8")
    page = chromium.new_page(viewport={"width": 1100, "height": 1400})
    page.route(
        "**/*", lambda route: route.continue_() if route.request.url.startswith("file:") else route.abort()
    )
    page.goto(place.as_uri())
    cell = page.locator(".jp-CodeCell", has_text="sf.explore(").first
    assert not_blank(pixels(cell.locator("img").last.get_attribute("src")))
    assert "worst sag" in cell.inner_text()
    cell.scroll_into_view_if_needed()
    page.screenshot(path=pictures / "stored.png")
    page.close()


def test_opened_without_being_run_the_stored_page_is_there(chromium, pictures, tmp_path_factory):
    folder, home = tmp_path_factory.mktemp("stored"), tmp_path_factory.mktemp("home")
    shutil.copy(STORED, folder)
    with running_lab(folder, home) as lab:
        page = chromium.new_page(viewport={"width": 1400, "height": 1000})
        page.goto(lab.url(NOTEBOOK))
        cell = page.locator(".jp-CodeCell", has_text="sf.explore(").first
        cell.locator("img").last.wait_for(timeout=60_000)
        assert not_blank(pixels(cell.locator("img").last.get_attribute("src")))
        cell.scroll_into_view_if_needed()
        page.screenshot(path=pictures / "without_kernel.png")
        page.close()
