"""How fast the page draws, in a real browser against the real server; exits 1 when a promise is broken.

Five years of record behind it, as made_record makes them, and the browser's clock at its end. A span is drawn once
no canvas is painted any more; the time runs from the press of its button. Four trends are shown at once, as they are
when nobody has chosen.
"""

from __future__ import annotations

import socket
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from made_record import NOW_S, make_record
from playwright.sync_api import Page, sync_playwright

YEARS = 5.0
PROMISED = "5 y"
SPANS = ("10 min", "24 h", "1 y", "5 y")
OTHER = "6 h"
PRESSES = 5
DRAWN_LIMIT_MS = 300.0
PHONE = {"width": 360, "height": 740}
BROWSER = ["--no-sandbox", "--disable-gpu", "--disable-background-networking"]

WATCH = (
    f"""
const ahead_ms = {NOW_S} * 1000 - Date.now();
const clock = Date.now;
Date.now = () => clock() + ahead_ms;
"""
    + """
window.painted = 0;
for (const name of ["stroke", "fill", "clearRect"]) {
  const native = CanvasRenderingContext2D.prototype[name];
  CanvasRenderingContext2D.prototype[name] = function (...given) {
    window.painted = performance.now();
    return native.apply(this, given);
  };
}
"""
)
PRESS = """
async (label) => {
  // The same span pressed once more asks for nothing: each press follows another one.
  const quiet_ms = 700;
  performance.clearResourceTimings();
  const began = performance.now();
  [...document.querySelectorAll(".spans button")].find((each) => each.textContent === label).click();
  const answers = () => performance.getEntriesByType("resource").filter((each) => each.name.includes("/history"));
  const settled = () => answers().length >= 4 && performance.now() - window.painted > quiet_ms;
  while (!settled()) {
    if (performance.now() - began > 10_000) throw new Error("not drawn within 10 s");
    await new Promise(requestAnimationFrame);
  }
  const heard = Math.max(...answers().map((each) => each.responseEnd));
  if (window.painted < heard) throw new Error("answered, but not painted");
  return [window.painted - began, heard - began];
}
"""


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


def wait_for(port: int, within_s: float = 30.0) -> None:
    end_s = time.monotonic() + within_s
    while time.monotonic() < end_s:
        with socket.socket() as probe:
            if probe.connect_ex(("127.0.0.1", port)) == 0:
                return
        time.sleep(0.1)
    sys.exit("the server does not answer")


def drawn_ms(page: Page, label: str) -> tuple[float, float]:
    """Medians: milliseconds from the press to the last paint, and to the last of the server's answers."""
    both = []
    for _ in range(PRESSES):
        page.evaluate(PRESS, OTHER)
        both.append(page.evaluate(PRESS, label))
    return statistics.median(each[0] for each in both), statistics.median(each[1] for each in both)


def measure(port: int) -> bool:
    """Prints a line for each span; whether the promised one was in time."""
    good = True
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path="/usr/bin/chromium", args=BROWSER)
        page = browser.new_page(viewport=PHONE)
        page.add_init_script(WATCH)
        page.goto(f"http://127.0.0.1:{port}/#/trends")
        page.wait_for_selector(".plot canvas")
        for label in SPANS:
            painted_ms, heard_ms = drawn_ms(page, label)
            slow = label == PROMISED and painted_ms >= DRAWN_LIMIT_MS
            good = good and not slow
            verdict = f"TOO SLOW, promised are {DRAWN_LIMIT_MS:.0f} ms" if slow else ""
            print(
                f"{label:>7}: four trends drawn after {painted_ms:4.0f} ms, answers after {heard_ms:4.0f} ms  {verdict}"
            )
        browser.close()
    return good


def main() -> None:
    """The bench."""
    with tempfile.TemporaryDirectory() as data:
        make_record(Path(data) / "record.sqlite3", YEARS)
        port = free_port()
        command = [sys.executable, "-m", "halocline", "report", "--simulated", "--data", data, "--port", str(port)]
        with subprocess.Popen(command, stdout=subprocess.DEVNULL) as server:
            wait_for(port)
            good = measure(port)
            server.terminate()
    sys.exit(0 if good else 1)


if __name__ == "__main__":
    main()
