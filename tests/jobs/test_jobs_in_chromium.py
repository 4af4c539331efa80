"""The pages of preparing in a real Chromium over the real demo, as a host would use them."""

from __future__ import annotations

import io
import os
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
import zxingcpp
from browser.conftest import PATIENCE_MS, REFUSALS, Watch, browser, chromium
from PIL import Image
from playwright.sync_api import Browser, Page, expect
from service.processes import Running, running

__all__ = ["browser", "chromium"]

PHONE, DESK, WALL = (360, 740), (1280, 800), (1920, 1080)
SIZES = [PHONE, DESK, WALL]
SHOTS = os.environ.get("SPURLOCK_SHOTS")
"""A folder for pictures of the pages, for somebody to look at."""

expect.set_options(timeout=PATIENCE_MS)
Open = Callable[..., Page]


@pytest.fixture(scope="module")
def demo(chromium: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    """The demo with nobody at work, for all of these tests."""
    folder = tmp_path_factory.mktemp("jobs")
    with running(["demo", "--no-crew", "--folder", str(folder / "demo")], folder) as demo:
        yield demo


@pytest.fixture
def open_page(browser: Browser, demo: Running) -> Iterator[Open]:
    """Opens pages as the host, or as a guest; the demo's own three jobs are there at first."""
    _as_at_first(demo)
    watch = Watch()
    hosts, guests = browser.new_context(accept_downloads=True), browser.new_context()
    name, _, value = demo.host().sign_in()["Cookie"].partition("=")
    hosts.add_cookies([{"name": name, "value": value, "url": demo.address}])
    for context in (hosts, guests):
        context.set_default_timeout(PATIENCE_MS)

    def open_page(path: str, size: tuple[int, int] = DESK, *, guest: bool = False) -> Page:
        page = (guests if guest else hosts).new_page()
        page.set_viewport_size({"width": size[0], "height": size[1]})
        watch.follow(page, "status of 409", *(REFUSALS if guest else ()))
        page.goto(demo.address + path)
        return page

    yield open_page
    hosts.close()
    guests.close()
    watch.judge(demo)


def _as_at_first(demo: Running) -> None:
    file = Path(__file__).parents[2] / "firmware_py" / "demo" / "jobs.toml"
    told = demo.post("/api/jobs/import", {"toml": file.read_text("utf-8"), "replace": True})
    assert told is not None
    assert demo.post("/api/settings", {"address": ""}) is not None


def names(page: Page) -> list[str]:
    expect(page.locator("#job-list > li").first).to_be_visible()
    return page.locator("#job-list h3").all_inner_texts()


def tab_to(page: Page, selector: str, key: str = "Tab") -> None:
    """Press Tab until something has the focus."""
    for _ in range(120):
        page.keyboard.press(key)
        if page.evaluate("wanted => document.activeElement?.matches(wanted)", selector):
            return
    raise AssertionError(f"{selector} can't be reached by the keyboard")


def shot(page: Page, name: str) -> None:
    if SHOTS:
        page.screenshot(path=f"{SHOTS}/{name}.png", full_page=True)


def test_a_job_is_made_by_the_keyboard_alone(open_page: Open, demo: Running) -> None:
    page = open_page("/jobs")
    expect(page.locator("#job-list > li")).to_have_count(3)
    tab_to(page, "#new-job")
    page.keyboard.press("Enter")
    expect(page.locator("#job-name")).to_be_focused()
    page.keyboard.type("Night bricks")
    tab_to(page, "#job-crew")
    page.keyboard.type("Cy")
    tab_to(page, "#job-cars")
    page.keyboard.press("Control+a")
    page.keyboard.type("5")
    tab_to(page, "input[name=rear]")
    page.keyboard.press("ArrowRight")
    tab_to(page, "select")
    page.keyboard.type("Saw")
    tab_to(page, "[data-do=add-pull]")
    page.keyboard.press("Enter")
    page.keyboard.type("flat car")
    page.keyboard.press("Enter")
    page.keyboard.type("by the crane")
    page.keyboard.press("Enter")
    page.keyboard.type("log car")
    tab_to(page, "[data-do=add-spot]")
    page.keyboard.press("Space")
    page.keyboard.type("empty")
    tab_to(page, "textarea")
    page.keyboard.type("Mind the saw.")
    tab_to(page, "#add-stop")
    page.keyboard.press("Enter")
    page.keyboard.type("Bri")
    tab_to(page, "#save-job")
    page.keyboard.press("Enter")
    expect(page.locator("#notice-text")).to_have_text("Night bricks is on the list.")
    expect(page.locator(":focus")).to_have_attribute("aria-label", "Edit Night bricks")
    text = page.request.get(demo.address + "/api/jobs/export.toml").text()
    job = text[text.index('name = "Night bricks"') :]
    assert job.split("\n\n")[0] == (
        'name = "Night bricks"\ncrew = "Cy"\ncars = 5\nrear = "marker"\n'
        'keys = ["upper-key", "lower-key", "sawmill-key"]'
    )
    assert '{car = "flat car", place = "by the crane"},\n    "log car",' in job
    assert 'spot = ["empty"]\nnote = "Mind the saw."' in job
    assert job.rstrip().endswith('spur = "brickyard"')


def test_a_job_is_edited_and_what_is_wrong_is_said_at_its_place(open_page: Open) -> None:
    page = open_page("/jobs", PHONE)
    page.get_by_label("Edit Morning milk").click()
    name = page.locator("#job-name")
    name.fill(" ")
    page.locator("#save-job").click()
    expect(page.locator("#form-notice")).to_have_text("Give the job a name.")
    expect(name).to_be_focused()
    expect(name).to_have_attribute("aria-invalid", "true")
    name.fill("Evening <b>milk</b>")
    page.locator("[data-do=add-spot]").nth(1).click()
    page.locator("[data-place=spot]").last.fill("nowhere")
    page.locator("#save-job").click()
    expect(page.locator("#form-notice")).to_have_text("Say which car belongs to this place.")
    page.locator("[data-do=car-remove]").last.click()
    page.locator("[data-do=stop-down]").first.click()
    page.locator("#save-job").click()
    expect(page.locator("#notice-text")).to_have_text("Evening <b>milk</b> is changed.")
    assert names(page)[0] == "Evening <b>milk</b>"
    stops = page.locator("#job-list > li").first.locator(".card-stops b")
    assert stops.all_inner_texts() == ["Sawmill", "Creamery"]


def test_leaving_a_changed_job_is_asked_about(open_page: Open) -> None:
    page = open_page("/jobs")
    page.get_by_label("Copy Brick local").click()
    expect(page.locator("#job-name")).to_have_value("Brick local (copy)")
    page.locator("[data-do=cancel]").click()
    expect(page.locator("#editor")).to_be_hidden()
    page.get_by_label("Edit Brick local").click()
    page.locator("#job-crew").fill("Di")
    page.locator("[data-do=cancel]").click()
    page.locator("dialog [data-do=no]").click()
    expect(page.locator("#job-crew")).to_have_value("Di")
    page.locator("[data-do=cancel]").click()
    page.locator("dialog [data-do=yes]").click()
    expect(page.locator("#editor")).to_be_hidden()
    assert names(page) == ["Morning milk", "Lower valley turn", "Brick local"]


def test_the_keys_follow_the_stops_until_the_host_says_else(open_page: Open) -> None:
    page = open_page("/jobs")
    page.locator("#new-job").click()
    upper, mill = (page.locator(f"input[value={key}]") for key in ("upper-key", "sawmill-key"))
    page.locator("select").select_option(label="Sawmill")
    expect(upper).to_be_checked()
    expect(mill).to_be_checked()
    mill.uncheck()
    page.locator("select").select_option(label="Creamery")
    page.locator("select").select_option(label="Sawmill")
    expect(mill).not_to_be_checked()
    page.locator("select").select_option(label="Team track")
    expect(upper).not_to_be_checked()
    options = page.locator("select option").all_inner_texts()
    assert options[1:] == [
        "Creamery",
        "Sawmill",
        "Lamp-oil dock",
        "Foundry",
        "Team track",
        "Brickyard",
    ]


def test_jobs_are_put_in_order_by_the_keyboard(open_page: Open) -> None:
    page = open_page("/jobs")
    names(page)
    page.get_by_label("Move Brick local up").focus()
    page.keyboard.press("Enter")
    expect(page.locator("#notice-text")).to_have_text("Brick local is number 2 of 3 now.")
    expect(page.get_by_label("Move Brick local up")).to_be_focused()
    page.keyboard.press("Enter")
    expect(page.locator("#notice-text")).to_have_text("Brick local is number 1 of 3 now.")
    expect(page.get_by_label("Move Brick local down")).to_be_focused()
    assert names(page) == ["Brick local", "Morning milk", "Lower valley turn"]


def test_a_job_is_dropped_after_a_question_and_taken_back(open_page: Open) -> None:
    page = open_page("/jobs", PHONE)
    page.get_by_label("Drop Morning milk").click()
    page.keyboard.press("Escape")
    assert len(names(page)) == 3
    page.get_by_label("Drop Morning milk").click()
    page.locator("dialog [data-do=yes]").click()
    expect(page.locator("#notice-do")).to_be_focused()
    assert names(page) == ["Lower valley turn", "Brick local"]
    page.keyboard.press("Enter")
    expect(page.locator("#notice-text")).to_have_text("Morning milk is back.")
    assert names(page) == ["Morning milk", "Lower valley turn", "Brick local"]


def test_an_empty_list_says_what_to_do(open_page: Open, demo: Running) -> None:
    for job in demo.get("/api/jobs")["jobs"]:
        demo.post(f"/api/jobs/{job['id']}/drop", {})
    page = open_page("/jobs", PHONE)
    expect(page.locator("#no-jobs")).to_contain_text("Press New job")
    expect(page.locator("#job-list > li")).to_have_count(0)


def test_files_go_out_and_come_in(open_page: Open, tmp_path: Path) -> None:
    page = open_page("/jobs")
    names(page)
    with page.expect_download() as download:
        page.locator("#export-jobs").click()
    file = tmp_path / "jobs.toml"
    download.value.save_as(file)
    wrong = tmp_path / "wrong.toml"
    wrong.write_text(file.read_text("utf-8").replace('"creamery"', '"creamry"'), "utf-8")
    page.locator("#import-jobs").click()
    page.locator("#import-file").set_input_files(wrong)
    expect(page.locator("#import-text")).to_have_value(wrong.read_text("utf-8"))
    page.locator("[data-do=take]").click()
    expect(page.locator(".import-wrong li")).to_contain_text('did you mean "creamery"?')
    page.locator("#import-file").set_input_files(file)
    expect(page.locator("#import-text")).to_have_value(file.read_text("utf-8"))
    page.locator("[data-do=take]").click()
    expect(page.locator("#notice-text")).to_have_text("3 jobs came in.")
    assert len(names(page)) == 6


def test_a_guest_watches_and_is_asked_for_the_pin(open_page: Open, demo: Running) -> None:
    page = open_page("/jobs", PHONE, guest=True)
    names(page)
    expect(page.locator("#job-list a")).to_have_count(0)
    page.get_by_label("Edit Morning milk").click()
    page.locator("#host-pin").fill(demo.pin)
    page.keyboard.press("Enter")
    expect(page.locator("[data-stop] textarea").first).to_have_value(
        "The ramp is steep: the chock is set against the lower car before the engine lets go.\n"
        "The upper door is kept free after noon."
    )


def test_the_evenings_settings_are_kept(open_page: Open, demo: Running) -> None:
    page = open_page("/jobs", PHONE)
    expect(page.locator("#loopback")).to_be_visible()
    page.get_by_label("Stretch the couplings").uncheck()
    page.locator("#set-address").fill("192.168.7.20")
    expect(page.locator("#loopback")).to_be_hidden()
    page.locator("#evening-form [type=submit]").click()
    expect(page.locator("#evening-notice")).to_have_text("Saved.")
    expect(page.locator("#set-address")).to_have_value(f"http://192.168.7.20:{demo.port}")
    assert demo.get("/api/settings")["crew-steps"] == ["yard", "rear", "horn"]
    demo.post("/api/settings", {"crew-steps": ["yard", "rear", "horn", "stretch"]})


def test_the_sheets_code_is_read_by_a_camera_and_prints_black_on_white(
    open_page: Open, demo: Running
) -> None:
    demo.post("/api/settings", {"address": f"192.168.7.20:{demo.port}"})
    page = open_page("/jobs")
    page.get_by_label("Sheet of Morning milk").click()
    url = page.locator(".typed").get_attribute("href")
    assert url is not None
    assert url.startswith(f"http://192.168.7.20:{demo.port}/crew/")
    expect(page.locator(".sheet-tools .notice")).to_have_count(0)
    expect(page.locator(".slip-note").first).to_be_hidden()
    page.emulate_media(media="print", color_scheme="dark")
    picture = page.locator("svg.qr").screenshot()
    found = zxingcpp.read_barcodes(Image.open(io.BytesIO(picture)))
    assert [code.text for code in found] == [url]
    expect(page.locator("nav")).to_be_hidden()
    colours = page.locator(".sheet h2").evaluate(
        "e => [getComputedStyle(e).color, getComputedStyle(document.body).backgroundColor]"
    )
    assert colours == ["rgb(0, 0, 0)", "rgb(255, 255, 255)"]
    page.evaluate("dispatchEvent(new Event('beforeprint'))")
    expect(page.locator(".slip-note").first).to_be_visible()
    shot(page, "sheet-print")
    page.evaluate("dispatchEvent(new Event('afterprint'))")
    expect(page.locator("details.slips")).not_to_have_attribute("open", "")


def test_the_briefing_is_one_page_and_one_card_at_a_time(open_page: Open) -> None:
    page = open_page("/briefing", WALL, guest=True)
    expect(page.locator(".card .lamp-glyph")).to_have_count(6)
    for paper in ("A4", "Letter"):
        assert page.pdf(format=paper).count(b"/Type /Page\n") == 1
    page.locator("#show-full").click()
    shown = page.locator(".card:visible")
    for at in range(1, 6):
        expect(page.locator("#show-count")).to_have_text(f"{at} of 5")
        expect(shown).to_have_count(1)
        size = float(shown.evaluate("e => parseFloat(getComputedStyle(e).fontSize)"))
        assert size >= 40  # Of 1080: from memory, readable at some ten times the screen's height.
        shot(page, f"briefing-full-{at}")
        page.keyboard.press("ArrowRight")
    page.keyboard.press("Escape")
    expect(shown).to_have_count(5)
    expect(page.locator("#show-full")).to_be_focused()


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("path", ["/jobs", "/sheet", "/briefing"])
def test_nothing_has_to_be_scrolled_sideways(
    open_page: Open, demo: Running, path: str, size: tuple[int, int]
) -> None:
    if path == "/sheet":
        path = f"/jobs/{demo.get('/api/jobs')['jobs'][0]['id']}/sheet"
    page = open_page(path, size)
    if path == "/jobs":
        names(page)
        _fits(page)
        page.get_by_label("Edit Lower valley turn").click()
        expect(page.locator("#job-name")).to_be_focused()
    _fits(page)
    small = page.evaluate(
        """() => [...document.querySelectorAll("main button, main a.button, main select")]
        .filter((e) => e.offsetParent && e.getBoundingClientRect().height < 43.9)
        .map((e) => e.textContent)"""
    )
    assert small == []
    shot(page, f"{path.strip('/').replace('/', '-')}-{size[0]}")


def _fits(page: Page) -> None:
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
