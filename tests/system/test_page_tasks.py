"""Guided tasks and the rooms that tell of them, by thumb on a phone's screen against the real daemon. One boat and one
page for all, in the order of a morning's work."""

import re

import pytest
from playwright.sync_api import expect, sync_playwright

pytestmark = [pytest.mark.system, pytest.mark.timeout(120)]

PHONE = {"width": 360, "height": 740}
BROWSER = ["--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-component-update"]
THUMB_PX = 44
"""The least height of what a thumb is to hit: WCAG 2.2, 2.5.5 (AAA)."""


@pytest.fixture(scope="module")
def phone(boat):
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path="/usr/bin/chromium", args=BROWSER)
        page = browser.new_context(viewport=PHONE, has_touch=True, is_mobile=True).new_page()
        page.goto(f"{boat.address}#/health")
        expect(page.get_by_role("banner")).to_contain_text("live", timeout=10_000)
        yield page
        browser.close()


def on(page):
    return page.get_by_role("button", name="Next")


def test_filters_are_changed_one_step_a_screen_behind_a_lock_and_a_reload_forgets_nothing(phone, boat):
    phone.get_by_role("link", name=re.compile("Change the filters")).tap()
    for _ in range(2):
        on(phone).tap()
    expect(phone.get_by_role("heading", name="Lock the plant")).to_be_visible()
    expect(phone.get_by_text("Mains beside salt water kills")).to_be_visible()
    expect(on(phone)).to_be_disabled()

    phone.reload()
    expect(phone.get_by_role("heading", name="Lock the plant")).to_be_visible()
    phone.get_by_label("Your name").fill("Ana")
    phone.get_by_label("What is open").fill("filter housings")
    phone.get_by_role("button", name="Lock", exact=True).tap()
    expect(phone.get_by_role("region", name="Service lock")).to_contain_text("Locked by Ana: filter housings")
    assert boat.now()["locked"] == {"name": "Ana", "reason": "filter housings"}
    assert on(phone).bounding_box()["height"] >= THUMB_PX
    on(phone).tap()
    on(phone).tap()

    phone.get_by_label(re.compile("Note|Which")).fill("both, brown")
    phone.get_by_role("button", name="Put on record").tap()
    on(phone).tap()
    phone.get_by_role("button", name="Take the lock off").tap()
    on(phone).tap()
    phone.get_by_role("button", name="Finished").tap()
    assert boat.now()["locked"] is None


def test_what_was_done_is_on_record_and_health_counts_from_it(phone):
    phone.goto(re.sub("#.*", "#/log", phone.url))
    phone.get_by_role("button", name="Work", exact=True).tap()
    expect(phone.get_by_role("list", name="Work on record")).to_contain_text("Filters changed: both, brown")
    phone.get_by_label("What was done").select_option("strainer_cleaned")
    phone.get_by_role("button", name="Put on record").tap()
    expect(phone.get_by_role("list", name="Work on record")).to_contain_text("Strainer cleaned", timeout=10_000)
    phone.get_by_role("link", name="Health").tap()
    expect(phone.get_by_role("region", name="Health", exact=True)).to_contain_text(re.compile("Filters changed.*since"))


def test_plan_tells_the_tank_and_that_a_flow_never_measured_is_foreseen(phone):
    phone.get_by_role("link", name="Plan", exact=True).tap()
    room = phone.get_by_role("region", name="Plan", exact=True)
    expect(room).to_contain_text(re.compile(r"\d+\sL of 300\sL in the tank"))
    expect(room).to_contain_text(re.compile(r"foreseen from the membrane.s model at 55\sbar and \d+\s°C, not measured"))


def test_a_water_is_forbidden_in_two_taps_and_allowed_in_one(phone):
    waters = phone.get_by_role("region", name="Forbidden waters")
    waters.get_by_role("button", name="Silt").tap()
    waters.get_by_role("button", name="12 h").tap()
    expect(waters).to_contain_text("Silty water: no run is planned until", timeout=10_000)
    phone.reload()
    expect(waters).to_contain_text("Silty water: no run is planned until", timeout=10_000)
    waters.get_by_role("button", name="End it").tap()
    expect(waters).not_to_contain_text("Silty water", timeout=10_000)


def test_what_would_be_is_tried_by_thumb_and_the_plan_comes_back(phone):
    room = phone.get_by_role("region", name="Plan", exact=True)
    room.get_by_text("What if…").tap()
    room.get_by_role("group", name="Water wanted at the end").get_by_role("button", name="more").tap()
    expect(room).to_contain_text("tried out, not planned", timeout=10_000)
    # Which of the two depends on the sun that is left of the day on which this is played.
    expect(room).to_contain_text(re.compile("Against the plan:|The same runs as planned"), timeout=10_000)
    room.get_by_role("button", name="Back to the plan").tap()
    expect(room).not_to_contain_text("tried out")


def test_nothing_but_the_room_scrolls_and_stop_stays_where_it_is(phone):
    phone.get_by_role("link", name="Health").tap()
    expect(phone.get_by_text("Sensors, shown and raw")).to_be_visible()
    phone.evaluate("document.querySelectorAll('details.picker').forEach((each) => (each.open = true))")
    expect(phone.get_by_role("table")).to_contain_text("good")
    phone.mouse.move(180, 400)
    phone.mouse.wheel(0, 20_000)
    phone.wait_for_timeout(300)
    frame = phone.evaluate("[scrollY, document.documentElement.scrollHeight, innerHeight]")
    assert frame[0] == 0
    assert frame[1] <= frame[2]
    expect(phone.get_by_role("button", name=re.compile("^Stop"))).to_be_in_viewport()
