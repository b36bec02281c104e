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


PLACE = """
(over) => {
  over.scrollIntoView({ block: "center" });
  const box = over.getBoundingClientRect();
  return [box.x, box.width, box.y + box.height / 2];
}
"""


def plot_box(page):
    """Left edge, width and middle of the first chart; in one step, for a new span makes a new chart in its place."""
    return page.locator(".plot .u-over").first.evaluate(PLACE)


def test_a_thumb_on_a_trend_reads_the_value_and_what_was_raised_and_done_there(trends, touch):
    trends.get_by_role("button", name="7 d").tap()
    caption = trends.locator(".trend figcaption").first
    expect(trends.locator(".trend [role=img]").first).to_have_attribute(
        "aria-label", re.compile("2 alarms were raised. Work was done 2 times")
    )
    left, width, middle = plot_box(trends)
    touch("touchStart", (left + width * 0.3, middle))
    expect(caption).to_contain_text(re.compile(r"\d mg/L, "))
    # In the made journal and work list: one alarm 74.8 hours ago, a meter compared 76 hours ago, a strainer 0.9.
    touch("touchMove", (left + width * (1 - 74.8 / 168), middle))
    expect(caption).to_contain_text("inlet pressure too low")
    touch("touchMove", (left + width * (1 - 76.6 / 168), middle))
    expect(caption).to_contain_text("Hand meter compared")
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
    assert channels == {"product_tds_mg_l", "product_flow", "feed_pressure", "sea_temperature"}
