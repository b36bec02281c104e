"""The page in real processes while somebody means ill, and while its server dies: a crowd at the door, names that are
programs, streams that end and begin again."""

import asyncio
import importlib.util
import json
import os
import re
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from playwright.sync_api import expect, sync_playwright

pytestmark = [pytest.mark.system, pytest.mark.timeout(300)]

BENCH = Path(__file__).parents[1] / "bench" / "crowd.py"
IMAGE = "<img src=x onerror=\"document.title='owned'\">"
SCRIPT = f"{IMAGE}<script>document.title='owned'</script>"
LIMIT_S = 1.0
ROOMS = ("Trends", "Log", "Health", "Plan", "Now")
OLDER = "This page is older than the boat's computer."
GROWTH_KB = 20_000


@pytest.fixture(scope="module")
def crowd():
    spec = importlib.util.spec_from_file_location("crowd", BENCH)
    module = importlib.util.module_from_spec(spec)
    sys.modules["crowd"] = module  # a dataclass looks its module up
    spec.loader.exec_module(module)
    yield module
    del sys.modules["crowd"]


def resident_kb(pid):
    status = Path(f"/proc/{pid}/status").read_text(encoding="ascii")
    return int(re.search(r"VmRSS:\s+(\d+) kB", status)[1])


def test_a_crowd_at_the_door_keeps_neither_a_person_out_nor_control_from_its_tick(ready, crowd):
    """A thousand half-open connections that trickle, sixteen busy clients; the figures are in `make bench`."""
    crowd.allow_many_files()
    page = ready.pid("report")
    before_kb = resident_kb(page)
    port = int(ready.address.rstrip("/").rpartition(":")[2])
    seen = asyncio.run(crowd.crowd(port, half_open=1000, busy=16, seconds=4.0))
    assert seen.came > 900, "the crowd was none"
    assert seen.turned_out > 500
    assert seen.page_at(0.5) < LIMIT_S
    assert max(seen.page_s) < crowd.ANSWER_WITHIN_S
    assert set(seen.statuses) <= {200, 503}
    assert resident_kb(page) - before_kb < GROWTH_KB
    now = ready.now()
    assert now["link"]["control"] == "live"
    assert [alarm["id"] for alarm in now["alarms"] if alarm["id"] == "scan_overrun"] == []
    assert ready.order("stop")["accepted"]


@pytest.fixture(scope="module")
def browser():
    with sync_playwright() as playwright:
        started = playwright.chromium.launch(
            executable_path="/usr/bin/chromium",
            args=["--no-sandbox", "--disable-gpu", "--disable-background-networking"],
        )
        yield started
        started.close()


def test_a_name_that_is_a_program_is_shown_as_text_in_every_room(ready, browser):
    """Stored script: in the log, in a service lock's name and reason, in who gave a command."""
    assert ready.order("log", kind="filter_changed", note=SCRIPT)["accepted"]
    assert ready.order("service_lock", name=IMAGE, reason=SCRIPT)["accepted"]
    context = browser.new_context(viewport={"width": 360, "height": 740})
    page = context.new_page()
    broken = []
    page.on("pageerror", lambda error: broken.append(str(error)))
    try:
        for path in ("/", "/#/log", "/#/health", "/#/trends", "/#/plan", "/plain"):
            page.goto(ready.address.rstrip("/") + path)
            page.wait_for_timeout(500)
            assert "owned" not in page.title()
            assert page.locator("img[src=x]").count() == 0
        page.goto(ready.address)
        page.get_by_text("Locked by").first.wait_for(timeout=10_000)
        assert IMAGE in page.get_by_text("Locked by").first.inner_text()
    finally:
        context.close()
        ready.order("service_unlock")
    assert broken == []


def test_a_script_that_got_into_the_page_all_the_same_would_not_run(ready, browser):
    """The policy itself, in the browser: neither inline nor from elsewhere, nor by eval."""
    context = browser.new_context()
    page = context.new_page()
    said = []
    page.on("console", lambda message: said.append(message.text))
    try:
        page.goto(ready.address)
        page.evaluate(
            """() => {
                const inline = document.createElement("script");
                inline.textContent = "document.title = 'owned'";
                document.body.append(inline);
                const image = document.createElement("img");
                image.setAttribute("onerror", "document.title = 'owned'");
                image.src = "/nothing.png";
                document.body.append(image);
                const foreign = document.createElement("script");
                foreign.src = "http://127.0.0.1:9/owned.js";
                document.body.append(foreign);
            }"""
        )
        page.wait_for_timeout(500)
        assert "owned" not in page.title()
        assert any("Content Security Policy" in text for text in said)
    finally:
        context.close()


def test_the_command_line_names_no_secret(ready):
    """A PIN is asked for, never taken as an argument that every user of the computer could read."""
    told = subprocess.run(
        [sys.executable, "-m", "halocline", "pin", "--help"], capture_output=True, text=True, check=True
    ).stdout
    assert set(re.findall(r"--\w+", told)) == {"--help", "--data"}
    line = Path(f"/proc/{ready.pid('report')}/cmdline").read_bytes().decode()
    assert not re.search(r"\b\d{8}\b", line)


@pytest.fixture
def page(browser):
    context = browser.new_context(viewport={"width": 360, "height": 740})
    yield context.new_page()
    context.close()


def live(page, timeout_s=30):
    expect(page.get_by_role("banner")).to_contain_text("live", timeout=timeout_s * 1000)


def test_a_page_holds_one_stream_whatever_rooms_are_visited(ready, page):
    streams = []
    page.on("request", lambda request: streams.append(request.url) if "/stream" in request.url else None)
    page.goto(ready.address)
    live(page)
    for room in ROOMS:
        page.get_by_role("navigation").get_by_text(room, exact=True).click()
        page.wait_for_timeout(300)
    live(page)
    assert len(streams) == 1


def test_a_page_is_live_again_by_itself_after_its_server_died_and_came_back(ready, page):
    answered = []
    page.on("response", lambda answer: answered.append(answer.status) if "/stream" in answer.url else None)
    page.goto(ready.address)
    live(page)
    page.evaluate("window.untouched = true")
    ready.kill("report")
    for _ in range(100):
        page.wait_for_timeout(200)
        if len(answered) > 1:
            break
    assert answered == [200, 200]
    page.wait_for_timeout(4000)  # what was heard before would be too old by now
    live(page)
    assert page.evaluate("window.untouched"), "it was loaded anew"


def test_a_page_older_than_its_server_says_so(ready, page):
    newer = json.dumps({**ready.now(), "version": "99.0.0"})
    page.route(
        "**/api/v1/stream",
        lambda route: route.fulfill(status=200, content_type="text/event-stream", body=f"data: {newer}\n\n"),
    )
    page.goto(ready.address)
    expect(page.get_by_text(OLDER)).to_be_visible(timeout=10_000)
    page.unroute("**/api/v1/stream")
    expect(page.get_by_text(OLDER)).not_to_be_visible(timeout=10_000)


def test_the_server_ends_at_once_with_pages_open(ready, page):
    page.goto(ready.address)
    live(page)
    report = ready.pid("report")
    os.kill(report, signal.SIGTERM)
    ready.wait(lambda now: ready.pid("report") not in (None, report), timeout_s=10)
    live(page)
