"""What the page fetches only when it is opened: found gone, found unreachable, found again."""

import re

import pytest
from playwright.sync_api import expect

pytestmark = [pytest.mark.system, pytest.mark.timeout(120)]

PART_OF_LOG = re.compile(r"/assets/Log-[^/]+\.js")
COUNT_LOADS = "sessionStorage.setItem('loads', 1 + Number(sessionStorage.getItem('loads')))"
LOADS = "Number(sessionStorage.getItem('loads'))"


def open_log(page):
    page.get_by_role("navigation").get_by_text("Log", exact=True).click()


@pytest.fixture
def page(open_page, address, put):
    put(address, "producing")
    page = open_page("about:blank")
    page.context.add_init_script(COUNT_LOADS)
    return page


def test_a_page_of_an_older_build_loads_itself_anew_once_and_opens_the_room(page, address):
    gone = []

    def answer(route):
        # Only the first page that asks is the old one.
        if gone:
            route.continue_()
        else:
            gone.append(route.request.url)
            route.fulfill(status=404, body="")

    page.route(PART_OF_LOG, answer)
    page.goto(address)
    open_log(page)
    expect(page.get_by_role("region", name="Log")).to_be_visible()
    assert page.evaluate(LOADS) == 2
    assert page.url.endswith("#/log")


def test_a_room_whose_files_stay_missing_says_so_and_does_not_load_the_page_for_ever(page, address):
    page.route(PART_OF_LOG, lambda route: route.fulfill(status=404, body=""))
    page.goto(address)
    open_log(page)
    expect(page.get_by_text("Log could not be fetched")).to_be_visible()
    assert page.evaluate(LOADS) == 2
    expect(page.get_by_role("button", name="Stop")).to_be_enabled()


def test_without_a_link_the_page_stays_and_a_press_brings_the_room_once_there_is_one(page, address):
    page.goto(address)
    page.route("**/*", lambda route: route.abort() if route.request.url != f"{address}/api/v1/stream" else None)
    open_log(page)
    expect(page.get_by_text("Log could not be fetched")).to_be_visible()
    page.get_by_role("button", name="Try again").click()
    expect(page.get_by_text("Still no answer")).to_be_visible()
    page.unroute("**/*")
    page.get_by_role("button", name="Try again").click()
    expect(page.get_by_role("region", name="Log")).to_be_visible()
    assert page.evaluate(LOADS) == 2
