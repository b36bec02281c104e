"""A commissioning in a real browser, by thumb, against the real daemon: signed step by step, on two phones, over the
sudden end of control and of report. One boat for all, in the order in which it is done."""

import re

import pytest
from playwright.sync_api import expect, sync_playwright

pytestmark = [pytest.mark.system, pytest.mark.timeout(240)]

PHONE = {"width": 360, "height": 740}
BROWSER = ["--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-component-update"]
ROOM = "#/health/task/commissioning"


@pytest.fixture(scope="module")
def a_phone(boat):
    """Makes phones: each has a memory of its own."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path="/usr/bin/chromium", args=BROWSER)

        def make():
            page = browser.new_context(viewport=PHONE, has_touch=True, is_mobile=True).new_page()
            page.goto(f"{boat.address}{ROOM}")
            expect(page.get_by_role("banner")).to_contain_text("live", timeout=15_000)
            return page

        yield make
        browser.close()


@pytest.fixture(scope="module")
def phone(a_phone):
    return a_phone()


def heading(page, name):
    expect(page.get_by_role("heading", name=name)).to_be_visible(timeout=15_000)


def on(page):
    button = page.get_by_role("button", name="Next")
    expect(button).to_be_enabled(timeout=10_000)
    button.tap()


def sign(page, name):
    page.get_by_role("button", name=re.compile(f"^Sign: .*{name}")).tap()
    expect(page.get_by_role("button", name=re.compile(f"^Sign again: .*{name}"))).to_be_visible(timeout=10_000)


def signed(boat):
    _, told = boat.http("GET", "/api/v1/commissioning")
    return {step["id"] for step in told["steps"] if step["signed"] is not None}


def test_it_begins_with_a_list_of_which_every_point_has_to_be_true(phone, boat):
    heading(phone, "Begin")
    expect(phone.get_by_role("button", name="Next")).to_be_disabled()
    sign(phone, "Commissioning begun")
    on(phone)
    heading(phone, "Safety list")
    boxes = phone.get_by_role("checkbox").all()
    assert len(boxes) > 3
    for box in boxes[:-1]:
        box.check()
    expect(phone.get_by_role("button", name="Sign the list")).to_be_disabled()
    boxes[-1].check()
    phone.get_by_role("button", name="Sign the list").tap()
    on(phone)
    heading(phone, "The chain, pumps' fuses out")
    assert signed(boat) == {"begun", "safety"}


def test_another_phone_goes_on_after_both_processes_were_killed(phone, a_phone, boat):
    boat.kill("report")
    boat.kill("control")
    boat.wait_ready()
    other = a_phone()
    heading(other, "The chain, pumps' fuses out")
    sign(other, "Each hard-wired contact")
    assert signed(boat) == {"begun", "safety", "chain"}
    other.context.close()


def test_an_output_is_signed_only_once_it_was_tried(phone, boat):
    phone.reload()
    heading(phone, "At rest")
    on(phone)
    heading(phone, "Outputs one by one, water off")
    expect(phone.get_by_role("button", name=re.compile("jog"))).to_have_count(0)
    phone.get_by_role("button", name=re.compile("^Sign: Buzzer")).tap()
    expect(phone.get_by_text("was not tried since control was started").first).to_be_visible()
    phone.get_by_role("button", name="Close").tap()
    for name in ("product_to_tank", "flush_valve", "feed_pump", "buzzer", "beacon", "pressure_release"):
        if name in boat.now()["outputs"]:
            assert boat.order("bench", output=name, seconds=0.5)["accepted"], name
            boat.wait_state("standby")
    for button in phone.get_by_role("button", name=re.compile("^Sign: ")).all():
        button.tap()
    on(phone)
    heading(phone, "Sensors at rest")


def test_air_and_hoses_are_signed_on_what_control_has_measured(phone, boat):
    on(phone)
    heading(phone, "Zeros")
    sign(phone, "zeros right")
    on(phone)
    heading(phone, "Leak check at low pressure")
    phone.get_by_role("button", name=re.compile("^Sign: Tight at low pressure")).tap()
    expect(phone.get_by_text("Too little was seen of the feed pump alone").first).to_be_visible()
    phone.get_by_role("button", name="Close").tap()
    phone.get_by_role("button", name=re.compile("^Feed pump: off")).tap()
    boat.wait_state("bench")
    boat.wait_state("standby", timeout_s=90)
    sign(phone, "Tight at low pressure")
    on(phone)
    sign(phone, "Air purged")
    on(phone)
    heading(phone, "Hoses told apart, without pressure")
    sign(phone, "nothing runs in the product")
    assert {"air", "hoses_at_rest", "low_pressure", "zeros"} <= signed(boat)


def test_the_report_to_keep_is_two_sheets_of_paper_at_most(phone, boat):
    phone.goto(f"{boat.address}api/v1/commissioning?format=html")
    expect(phone.get_by_text("SIMULATED")).to_be_visible()
    expect(phone.get_by_text(re.compile("Left open: .* steps"))).to_be_visible()
    expect(phone.get_by_role("row", name=re.compile("At low pressure nothing runs"))).to_contain_text("pump inlet")
    paper = phone.pdf(format="A4")
    assert len(re.findall(rb"/Type\s*/Page\b", paper)) in {1, 2}
