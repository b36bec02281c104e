"""Takes the pictures of the page that the README shows: a phone's screen, the real daemon, the simulated boat."""

import re
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from playwright.sync_api import Page, sync_playwright

FOLDER = Path(__file__).parents[1] / "web" / "pictures"
HALOCLINE = [sys.executable, "-m", "halocline"]
PHONE = {"width": 360, "height": 740}
BROWSER = ["--no-sandbox", "--disable-gpu", "--disable-background-networking"]
WITHIN_S = 60.0


def until(find: Callable[[], Any], what: str) -> Any:
    """What `find` finds, looked for again and again."""
    end_s = time.monotonic() + WITHIN_S
    while time.monotonic() < end_s:
        if found := find():
            return found
        time.sleep(0.1)
    sys.exit(f"pictures: waited in vain for {what}")


def choose(page: Page, palette: str) -> None:
    """Press the palette switch until it says so."""
    for _ in range(3):
        button = page.get_by_role("button", name=re.compile("^Colours"))
        if f"Colours: {palette}" in (button.get_attribute("aria-label") or ""):
            return
        button.click()


def take(page: Page, name: str, palette: str, words: str) -> None:
    """One picture, once the page says `words`."""
    page.get_by_text(re.compile(words)).first.wait_for(timeout=WITHIN_S * 1000)
    choose(page, palette)
    page.wait_for_timeout(800)
    page.screenshot(path=FOLDER / f"{name}.png")
    print(f"web/pictures/{name}.png")


def main() -> None:
    """All pictures, from one run."""
    FOLDER.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as data:
        command = [*HALOCLINE, "run", "--simulated", "--quick", "--data", data, "--port", "8460"]
        with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as boat:
            assert boat.stdout is not None
            lines = boat.stdout
            address = until(lambda: next((line for line in lines if line.startswith("http://")), None), "the page")
            with sync_playwright() as playwright:
                browser = playwright.chromium.launch(executable_path="/usr/bin/chromium", args=BROWSER)
                page = browser.new_page(viewport=PHONE)
                page.goto(address.strip())
                _tour(page, data)
                browser.close()
            boat.terminate()


def _tour(page: Page, data: str) -> None:
    def order(*words: str) -> None:
        subprocess.run([*HALOCLINE, *words, "--data", data], check=True, stdout=subprocess.DEVNULL)

    take(page, "at-rest", "day", "ready to start")
    order("start", "--litres", "1")
    take(page, "raising-pressure", "day", "Close the regulator")
    take(page, "overboard", "dusk", "Product goes overboard:")
    take(page, "into-the-tank", "day", "Making water into the tank")
    take(page, "into-the-tank-night", "night", "Making water into the tank")
    order("fault", "prefilter_clogged", "severity=0.8")
    take(page, "safety-stop", "day", "Safety stop")
    take(page, "safety-stop-night", "night", "Safety stop")


if __name__ == "__main__":
    main()
