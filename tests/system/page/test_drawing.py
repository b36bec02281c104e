"""The drawing of the plant, measured in a real browser: no words on a line, none on others, at any width."""

import pytest
from playwright.sync_api import expect

pytestmark = [pytest.mark.system, pytest.mark.timeout(120)]

SIGHTS = ["producing", "diverting", "american", "flushing", "many_alarms", "priming", "no_switches", "long_texts"]

# Every line is walked in steps of a pixel; its thickness counts. Words are where the browser says their box is; what it
# leaves above and below for accents and tails that these words do not have is taken off.
TOUCHES = """
() => {
  const svg = document.querySelector(".stream > svg");
  const boxes = [...svg.querySelectorAll("text")].filter((text) => !text.closest(".mark, .fork")).map((text) => {
    const { left, right, top, bottom } = text.getBoundingClientRect();
    const spare = (bottom - top) * 0.14;
    return { words: text.textContent, left, right, top: top + spare, bottom: bottom - spare };
  });
  const lines = [...svg.querySelectorAll("path, rect, circle")].filter((each) => {
    const { stroke, strokeWidth } = getComputedStyle(each);
    return stroke !== "none" && parseFloat(strokeWidth) > 0 && !each.closest(".mark");
  });
  const found = [];
  for (const line of lines) {
    const matrix = line.getScreenCTM();
    const half = (parseFloat(getComputedStyle(line).strokeWidth) / 2) * matrix.a;
    const length = line.getTotalLength();
    for (let at = 0; at <= length; at += 1 / matrix.a) {
      const { x, y } = line.getPointAtLength(at).matrixTransform(matrix);
      for (const box of boxes) {
        const touches =
          x > box.left - half && x < box.right + half && y > box.top - half && y < box.bottom + half;
        const name = line.closest("g")?.getAttribute("class");
        if (touches && !found.some((each) => each[0] === box.words && each[1] === name)) found.push([box.words, name]);
      }
    }
  }
  boxes.forEach((one, place) => boxes.slice(place + 1).forEach((other) => {
    if (one.left < other.right && other.left < one.right && one.top < other.bottom && other.top < one.bottom)
      found.push([one.words, other.words]);
  }));
  return [boxes.length, lines.length, found];
}
"""


@pytest.mark.parametrize("width", [320, 360, 430, 820, 1440])
def test_no_words_of_the_drawing_touch_a_line_or_other_words(open_page, address, width):
    page = open_page(f"{address}/gallery.html#standby")
    page.set_viewport_size({"width": width, "height": 900})
    found = {}
    for sight in SIGHTS:
        page.goto(f"{address}/gallery.html#{sight}")
        expect(page.locator(f'[data-shows="{sight}"] .stream > svg')).to_be_visible()
        words, lines, touching = page.evaluate(TOUCHES)
        assert words > 10
        assert lines > 20
        if touching:
            found[sight] = touching
    assert found == {}


def test_the_flush_pipe_ends_at_the_main_line_and_goes_through_its_valve(open_page, address):
    page = open_page(f"{address}/gallery.html#flushing")
    expect(page.locator(".pipe.flush .pipe-dash")).to_be_attached()
    ends = page.evaluate(
        """() => {
          const pipe = document.querySelector(".pipe.flush .pipe-wall");
          const box = pipe.getBoundingClientRect();
          const valve = [...document.querySelectorAll(".machine")].find(
            (each) => each.querySelector("path:only-child"));
          const at = valve.getBoundingClientRect();
          const line = document.querySelector(".pipe.sea .pipe-wall").getBoundingClientRect();
          return [box.top < at.top, at.bottom < box.bottom, Math.abs(box.bottom - line.top) < 6,
                  Math.abs((at.left + at.right) / 2 - (box.left + box.right) / 2) < 1];
        }"""
    )
    assert ends == [True, True, True, True]
