"""The page in a real browser in every state that the gallery holds, with made snapshots behind it instead of a plant."""

import subprocess
from pathlib import Path
from urllib.request import Request, urlopen

import pytest
from playwright.sync_api import expect, sync_playwright

pytestmark = [pytest.mark.system, pytest.mark.timeout(300)]

ROOT = Path(__file__).parents[2]
AXE = ROOT / "web" / "node_modules" / "axe-core" / "axe.min.js"
BROWSER = ["--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-component-update"]
SIZES = {"phone": (360, 740), "tablet": (820, 1180), "laptop": (1440, 900)}
PALETTES = ("day", "dusk", "night")
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]

WALK = """
async ([palettes, rules]) => {
  const TARGET = 44;
  const page = document.getElementById("page");
  const frame = () => new Promise(requestAnimationFrame);
  const shown = (selector) => [...document.querySelectorAll(selector)].filter((each) => each.checkVisibility());
  const words = (element) => (element.textContent || element.name).slice(0, 60);

  const layout = () => {
    const wide = [document.documentElement, ...shown("main, .sheet")]
      .filter((each) => each.scrollWidth > each.clientWidth)
      .map((each) => `${each.tagName} is ${each.scrollWidth} px wide in ${each.clientWidth}`);
    const cut = shown("button, summary, .said, .alarm-means")
      .filter((each) => each.clientWidth > 0 && each.scrollWidth > each.clientWidth + 1)
      .map((each) => `cut off: ${words(each)}`);
    const small = shown("button, summary, select, textarea, input:not([type=checkbox], [type=radio])")
      .filter((each) => each.offsetWidth < TARGET || each.offsetHeight < TARGET)
      .map((each) => `small target: ${words(each)} ${each.offsetWidth} x ${each.offsetHeight}`);
    const stop = document.querySelector(".stop");
    const box = stop.getBoundingClientRect();
    const over = document.elementFromPoint((box.left + box.right) / 2, (box.top + box.bottom) / 2);
    const inside = box.left >= 0 && box.top >= 0 && box.right <= innerWidth && box.bottom <= innerHeight;
    const hidden = inside && stop.contains(over) ? [] : ["Stop is out of sight or covered"];
    return [...wide, ...cut, ...small, ...hidden];
  };

  const barriers = async (palette, wanted) => {
    document.documentElement.dataset.palette = palette;
    const runOnly = wanted.length > 1 ? { type: "tag", values: wanted } : { type: "rule", values: wanted };
    const { violations } = await axe.run(document, { runOnly, resultTypes: ["violations"] });
    return violations.map(({ id, nodes }) => `${palette}: ${id}: ${nodes[0].html.slice(0, 200)}`);
  };

  const found = {};
  let walked = 0;
  for (const name of JSON.parse(page.dataset.has)) {
    location.hash = encodeURIComponent(name);
    const end = performance.now() + 5000;
    const there = () =>
      page.dataset.shows === name && document.querySelector(".stop") &&
      (!name.startsWith("trends") || document.querySelector(".plot canvas"));
    do await frame(); while (!there() && performance.now() < end);
    await frame();
    const seen = there() ? layout() : ["it was not shown"];
    for (const [place, palette] of palettes.entries())
      seen.push(...(await barriers(palette, place === 0 ? rules : ["color-contrast"])));
    if (seen.length) found[name] = seen;
    walked += 1;
  }
  return [walked, found];
}
"""


@pytest.fixture(scope="module")
def browser():
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path="/usr/bin/chromium", args=BROWSER)
        yield browser
        browser.close()


@pytest.fixture(scope="module")
def serve():
    """Starts the page with made snapshots behind it; its address."""
    running = []

    def start(*options):
        command = ["node", "web/scripts/fixture-server.mjs", "--port", "0", "--root", "dist-gallery", *options]
        server = subprocess.Popen(
            [".ci/setup", "node", *command], cwd=ROOT, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, text=True
        )
        running.append(server)
        return server.stdout.readline().strip()

    yield start
    for server in running:
        server.terminate()
        server.wait(10)
        server.stdout.close()


@pytest.fixture(scope="module")
def address(serve):
    return serve()


@pytest.fixture
def open_page(browser):
    """Opens an address on a device of its own."""
    contexts = []

    def open_(url, size="phone", palette=None, **device):
        width, height = SIZES[size]
        context = browser.new_context(viewport={"width": width, "height": height}, bypass_csp=True, **device)
        contexts.append(context)
        if palette is not None:
            context.add_init_script(f"localStorage.setItem('halocline.palette', '{palette}')")
        page = context.new_page()
        page.goto(url)
        return page

    yield open_
    for context in contexts:
        context.close()


def put(address, fixture):
    """From now on the plant is in this state."""
    with urlopen(Request(f"{address}/fixtures/{fixture}", method="PUT"), timeout=5) as answer:
        assert answer.status == 200


def walk(page, palettes):
    """What is wrong with any state of the gallery. Palettes differ in colours only: all rules in the first of them,
    contrast in the others."""
    page.add_script_tag(path=str(AXE))
    walked, found = page.evaluate(WALK, [list(palettes), RULES])
    assert walked > 40
    return found


def test_no_state_has_a_barrier_a_hidden_stop_or_words_cut_off(open_page, address):
    assert walk(open_page(f"{address}/gallery.html#standby"), PALETTES) == {}


@pytest.mark.parametrize("size", ["tablet", "laptop"])
def test_wider_screens_keep_everything_in_sight(open_page, address, size):
    assert walk(open_page(f"{address}/gallery.html#standby", size), ()) == {}


@pytest.mark.soak
@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("palette", PALETTES)
def test_no_size_and_palette_has_a_barrier(open_page, address, size, palette):
    assert walk(open_page(f"{address}/gallery.html#standby", size), (palette,)) == {}
