"""Trends under a thumb: read, pinch, drag, pick, download."""

import re
from pathlib import Path

import pytest
from playwright.sync_api import expect

pytestmark = [pytest.mark.system, pytest.mark.timeout(120)]


@pytest.fixture
def trends(open_page, address, put):
    """The trends of an hour on a phone, under the server's own content policy."""
    put(address, "producing")
    page = open_page(f"{address}/#/trends", has_touch=True, is_mobile=True)
    expect(page.locator(".plot canvas").nth(1)).to_be_visible()
    return page


def span_words(page):
    return page.locator(".span-words").inner_text()


@pytest.fixture
def touch(trends):
    """Puts down, moves or lifts fingers."""
    session = trends.context.new_cdp_session(trends)

    def touch_(kind, *points):
        session.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": [{"x": x, "y": y} for x, y in points]})

    return touch_


def plot_box(page):
    over = page.locator(".plot .u-over").first
    over.scroll_into_view_if_needed()
    box = over.bounding_box()
    return box["x"], box["width"], box["y"] + box["height"] / 2


def test_a_thumb_on_a_trend_reads_the_value_and_what_was_raised_there(trends, touch):
    trends.get_by_role("button", name="7 d").tap()
    caption = trends.locator(".trend figcaption").first
    expect(trends.locator(".trend [role=img]").first).to_have_attribute(
        "aria-label", re.compile("One alarm was raised")
    )
    left, width, middle = plot_box(trends)
    touch("touchStart", (left + width * 0.3, middle))
    expect(caption).to_contain_text(re.compile(r"\d mg/L, "))
    # The made journal has one alarm, 74.8 hours ago.
    touch("touchMove", (left + width * (1 - 74.8 / 168), middle))
    expect(caption).to_contain_text("inlet pressure too low")
    touch("touchEnd")


def test_two_fingers_pinch_and_drag_the_time_axis_and_later_returns_to_now(trends, touch):
    trends.get_by_role("button", name="24 h").tap()
    before = span_words(trends)
    assert before.endswith("now")
    left, width, middle = plot_box(trends)
    touch("touchStart", (left + width * 0.4, middle), (left + width * 0.6, middle))
    touch("touchMove", (left + width * 0.2, middle), (left + width * 0.8, middle))
    touch("touchEnd")
    expect(trends.locator(".span-words")).not_to_have_text(before)
    zoomed = span_words(trends)
    assert not zoomed.endswith("now")
    expect(trends.locator(".plot canvas").first).to_be_visible()
    left, width, middle = plot_box(trends)
    touch("touchStart", (left + width * 0.4, middle), (left + width * 0.6, middle))
    touch("touchMove", (left + width * 0.6, middle), (left + width * 0.8, middle))
    touch("touchEnd")
    expect(trends.locator(".span-words")).not_to_have_text(zoomed)
    for _ in range(6):
        if span_words(trends).endswith("now"):
            break
        trends.get_by_role("button", name="Later").tap()
    assert span_words(trends).endswith("now")


def test_channels_are_picked_and_remembered_and_what_is_shown_is_downloaded(trends):
    trends.get_by_text("Choose what is shown").tap()
    trends.get_by_role("checkbox", name="Membrane pressure").uncheck()
    trends.get_by_role("checkbox", name="Sea temperature").check()
    trends.reload()
    titles = trends.locator(".trend figcaption strong")
    expect(titles.filter(has_text="Sea temperature")).to_be_visible()
    expect(titles.filter(has_text="Membrane pressure")).to_have_count(0)
    expect(trends.locator(".plot canvas").nth(3)).to_be_attached()
    with trends.expect_download() as download:
        trends.get_by_role("button", name="Download what is shown").tap()
    lines = Path(download.value.path()).read_text(encoding="utf-8").splitlines()
    assert lines[0] == "channel,unit,time_utc,min,mean,max"
    channels = {line.split(",")[0] for line in lines[1:]}
    assert channels == {"product_tds_mg_l", "product_flow", "feed_pressure", "water_temperature"}
