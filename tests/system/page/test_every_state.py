"""Every state that the gallery holds: barriers, room, brightness, motion, and what a screen reader is told."""

import base64
import re
from pathlib import Path
from urllib.parse import quote

import pytest
from playwright.sync_api import expect

pytestmark = [pytest.mark.system, pytest.mark.timeout(300)]

AXE = Path(__file__).parents[3] / "web" / "node_modules" / "axe-core" / "axe.min.js"
SIZES = ("phone", "tablet", "laptop")
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


def walk(page, palettes):
    """What is wrong with any state of the gallery. Palettes differ in colours only: all rules in the first of them,
    contrast in the others."""
    page.evaluate(AXE.read_text(encoding="utf-8"))
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


def running_dashes(page):
    """How many dashes of the drawing move."""
    return page.evaluate(
        "() => document.getAnimations().filter(each => each.playState === 'running'"
        " && each.effect.target.matches('.pipe-dash')).length"
    )


def test_dashes_move_where_water_moves_and_for_nobody_who_wants_no_motion(open_page, address):
    producing, resting = f"{address}/gallery.html#producing", f"{address}/gallery.html#standby"
    moving = open_page(producing, reduced_motion="no-preference")
    expect(moving.locator(".pipe-dash").first).to_be_attached()
    assert running_dashes(moving) > 2
    moving.goto(resting)
    expect(moving.locator('[data-shows="standby"] .stream')).to_be_visible()
    assert running_dashes(moving) == 0
    still = open_page(producing, reduced_motion="reduce")
    expect(still.locator(".pipe-dash").first).to_be_attached()
    assert running_dashes(still) == 0


FOCUSED = """
() => {
  const at = document.activeElement;
  const places = { "main, header": "behind the sheet", ".stop": "Stop", ".sheet": "sheet" };
  return Object.entries(places).find(([where]) => at.closest(where))?.[1] ?? "";
}
"""


def test_from_an_open_sheet_tab_leads_to_stop_and_never_behind_it(open_page, address, put):
    put(address, "standby")
    page = open_page(address)
    page.get_by_role("button", name="Start…").click()
    expect(page.get_by_role("dialog")).to_be_visible()
    seen = []
    while "Stop" not in seen and len(seen) < 40:
        page.keyboard.press("Tab")
        seen.append(page.evaluate(FOCUSED))
    assert seen[-1] == "Stop"
    assert "sheet" in seen
    assert "behind the sheet" not in seen
    page.keyboard.press("Enter")
    expect(page.locator(".told")).to_contain_text("Stop")


HAS_FOCUS = "() => document.activeElement.textContent.trim()"


def test_escape_gives_the_focus_back_and_a_vanished_button_leaves_it_in_the_room(open_page, address, put):
    put(address, "standby")
    page = open_page(address)
    page.get_by_role("button", name="Start…").focus()
    page.keyboard.press("Enter")
    expect(page.get_by_role("dialog")).to_be_visible()
    page.keyboard.press("Escape")
    expect(page.get_by_role("dialog")).to_have_count(0)
    assert page.evaluate(HAS_FOCUS) == "Start…"
    put(address, "producing")
    expect(page.get_by_role("button", name="Start…")).to_have_count(0)
    expect(page.get_by_role("main")).to_be_focused()


def test_an_alarm_out_of_sight_leads_back_to_itself_before_it_can_be_acknowledged(open_page, address, put):
    put(address, "producing")
    page = open_page(address)
    put(address, "many_alarms")
    expect(page.get_by_text("breaker now, before you touch anything")).to_be_visible()
    page.get_by_role("main").evaluate("room => room.scrollTo(0, room.scrollHeight)")
    line = page.locator(".alarm-line")
    expect(line).to_contain_text("Water under the plant")
    actions = page.get_by_role("group", name="Actions")
    expect(actions.get_by_role("button", name="Acknowledge")).to_have_count(0)
    actions.get_by_role("button", name="See the alarm").click()
    expect(line).to_have_count(0)
    expect(page.get_by_text("breaker now, before you touch anything")).to_be_in_viewport()
    expect(actions.get_by_role("button", name="Acknowledge the first of")).to_be_visible()


@pytest.mark.parametrize("room", ["now", "trends", "log", "health", "plan"])
def test_what_a_person_must_do_is_in_sight_in_every_room_with_every_alarm_at_once(open_page, address, put, room):
    put(address, "many_alarms")
    page = open_page(f"{address}/#/{room}")
    expect(page.get_by_text("Open the regulator fully.").last).to_be_in_viewport(ratio=1)
    expect(page.locator("button.ask-line strong")).to_have_text("now 21.3\u00a0bar")
    room_for = page.get_by_role("main").evaluate("room => room.clientHeight")
    assert room_for > page.viewport_size["height"] / 2


def test_every_room_opens_at_its_top(open_page, address, put):
    put(address, "producing")
    page = open_page(f"{address}/#/health")
    room = page.get_by_role("main")
    expect(page.get_by_role("button", name="Stop")).to_be_visible()
    expect(page.get_by_text("Limits in force")).to_be_attached()
    room.evaluate("room => room.scrollTo(0, room.scrollHeight)")
    assert room.evaluate("room => room.scrollTop") > 0
    page.get_by_role("navigation").get_by_text("Plan", exact=True).click()
    expect(page).to_have_url(re.compile("plan"))
    assert room.evaluate("room => room.scrollTop") == 0


COUNT_SPOKEN = """
() => {
  window.spoken = 0;
  new MutationObserver((changes) => { window.spoken += changes.length; })
    .observe(document.querySelector("[role=alert]"), { childList: true, characterData: true, subtree: true });
}
"""


def test_a_screen_reader_hears_alarms_come_and_go_and_nothing_while_they_stand(open_page, address, put):
    put(address, "producing")
    page = open_page(address)
    expect(page.get_by_role("banner")).to_contain_text("live")
    heard = page.get_by_role("region", name="Alarms").get_by_role("alert")
    expect(heard).to_be_empty()
    page.evaluate(COUNT_SPOKEN)
    put(address, "low_feed_warning")
    expect(heard).to_contain_text("inlet pressure is 0.24 bar", ignore_case=True)
    spoken = page.evaluate("window.spoken")
    page.wait_for_timeout(1500)
    assert page.evaluate("window.spoken") == spoken
    put(address, "producing")
    expect(heard).to_contain_text(re.compile("no alarm|gone|over", re.IGNORECASE))


def colours(page):
    return page.evaluate("document.documentElement.dataset.palette")


def test_the_palette_follows_the_device_until_one_is_chosen(open_page, address):
    page = open_page(f"{address}/gallery.html#standby", color_scheme="light")
    assert colours(page) == "day"
    page.emulate_media(color_scheme="dark")
    expect(page.locator("html")).to_have_attribute("data-palette", "dusk")
    page.get_by_role("button", name="Colours: dusk").click()
    assert colours(page) == "night"
    page.emulate_media(color_scheme="light")
    page.reload()
    expect(page.get_by_role("button", name="Colours: night")).to_be_visible()
    assert colours(page) == "night"


BRIGHTEST = """
async (picture) => {
  const image = new Image();
  image.src = `data:image/png;base64,${picture}`;
  await image.decode();
  const canvas = new OffscreenCanvas(image.width, image.height);
  const context = canvas.getContext("2d");
  context.drawImage(image, 0, 0);
  const { data } = context.getImageData(0, 0, image.width, image.height);
  let brightest = 0;
  for (let at = 0; at < data.length; at += 4) brightest = Math.max(brightest, data[at + 1], data[at + 2]);
  return brightest;
}
"""
NIGHT_GREEN = 0x9A
"""The most green or blue that any colour of the night palette has: that of the ring around what has the focus."""


@pytest.mark.parametrize("sight", ["many_alarms", "start sheet", "PIN", "trends: choosing", "log: work"])
def test_night_shows_nothing_bright(open_page, address, sight):
    page = open_page(f"{address}/gallery.html#{quote(sight)}", palette="night")
    expect(page.locator(f'[data-shows="{sight}"] .stop')).to_be_visible()
    page.wait_for_timeout(300)
    picture = base64.b64encode(page.screenshot()).decode()
    assert page.evaluate(BRIGHTEST, picture) <= NIGHT_GREEN
