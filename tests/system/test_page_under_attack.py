"""The page in real processes while somebody means ill: a crowd at its door, names that are programs."""

import asyncio
import importlib.util
import re
import subprocess
import sys
from pathlib import Path

import pytest
from playwright.sync_api import sync_playwright

pytestmark = [pytest.mark.system, pytest.mark.timeout(300)]

BENCH = Path(__file__).parents[1] / "bench" / "crowd.py"
IMAGE = "<img src=x onerror=\"document.title='owned'\">"
SCRIPT = f"{IMAGE}<script>document.title='owned'</script>"
LIMIT_S = 1.0
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
    assert seen.most_half_open > 900, "the crowd was none"
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
