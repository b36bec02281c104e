import contextlib
import re
import shutil
import sqlite3
import subprocess
import xml.etree.ElementTree as ET
from html.parser import HTMLParser

import pytest
from hypothesis import given
from hypothesis import strategies as st

from halocline.plant import svg
from halocline.plant.settings import UnitSettings
from halocline.report import charts
from halocline.report.charts import Chart, Limit, Phase
from halocline.report.history import Bucket
from halocline.report.journal import Journal
from halocline.report.run_report import run_report
from halocline.report.store import Entry, Store


def sheet(path, run="b1-1", **units):
    found = Journal(path).run(run)
    return run_report(path, found, "Cagarra", UnitSettings(**units))


class Balanced(HTMLParser):
    """Complains about a tag that is not closed in its place."""

    VOID = frozenset({"meta", "br"})

    def __init__(self):
        super().__init__()
        self.open = []
        self.text = []

    def handle_starttag(self, tag, attrs):
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        pass

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        self.text.append(data)


def text_of(page):
    parser = Balanced()
    parser.feed(page)
    assert parser.open == []
    return " ".join(parser.text)


def test_the_sheet_tells_why_the_run_began_and_ended_and_what_it_made(evening):
    text = text_of(sheet(evening))
    assert "Cagarra: run of 2026-09-21 14:15 UTC" in text
    assert "Asked for 9 L by Ana (page). Ended: 9 L went to the tank, as asked." in text
    for fact in (
        "Into the tank 9.5 L",
        "Overboard 1.2 L",
        "Flushed with 12 L",
        "Salt, mean in the tank 310 mg/L",
        "Salt, highest sample 410 mg/L",
        "Energy of the pumps 200 Wh",
    ):
        assert fact in text
    assert "accept_tds_mg_l: 500" in text
    assert "SIMULATED" not in text
    assert "germs are not" in text


def test_alarms_of_the_run_stand_on_it_with_their_minute(evening):
    text = text_of(sheet(evening))
    assert "6.7 min" in text
    assert "Membrane pressure is 61.5 bar" in text


def test_the_owner_reads_his_own_units(evening):
    text = text_of(sheet(evening, pressure="psi", volume="gal"))
    assert "Membrane pressure, psi" in text
    assert "Highest pressure 892 psi" in text
    assert "Into the tank 2.5 gal" in text


def test_a_spike_is_on_the_paper(evening):
    page = sheet(evening)
    drawing = next(part for part in re.findall(r"<svg.*?</svg>", page) if "Membrane pressure" in part)
    band = ET.fromstring(drawing).find("path[@class='band']").get("d")
    heights = [float(y) for y in re.findall(r" (-?[\d.]+)", band)]
    scale = [float(mark) for mark in re.findall(r'class="axis"[^>]*text-anchor="end">([\d.]+)<', drawing)]
    spike_y = 30 - 5 - (61.5 - min(scale)) / (max(scale) - min(scale)) * 20
    assert min(heights) == pytest.approx(spike_y, abs=0.01)


def test_the_sheet_needs_nothing_from_anywhere(evening):
    page = sheet(evening)
    assert not re.search(r"(?:src|href|url\()|https?://|<script|@import", page)
    assert len(page) < 200_000


def test_a_run_without_a_clock_has_a_sheet_too(tmp_path, evening_aboard):
    path = evening_aboard.record_evening(tmp_path / "record.sqlite3", dated=False)
    text = text_of(sheet(path))
    assert "run of unknown time" in text
    assert "Into the tank 9.5 L" in text
    assert "Membrane pressure, bar" in text


def test_a_run_whose_seconds_were_given_up_is_drawn_from_its_minutes(evening):
    whole = sheet(evening).count("<svg")
    with contextlib.closing(sqlite3.connect(evening)) as connection:
        connection.execute("DELETE FROM samples")
        connection.execute("INSERT INTO forgotten VALUES (0, 4e9)")
        connection.commit()
    assert sheet(evening).count("<svg") == whole


def test_a_run_that_goes_on_says_so(tmp_path, evening_aboard):
    path = tmp_path / "record.sqlite3"
    with contextlib.closing(Store(path)) as store:
        store.write(evening_aboard.evening()[:120])
    text = text_of(sheet(path))
    assert "It goes on." in text
    assert "Ended goes on" in text


def test_what_somebody_typed_is_text_and_never_markup(tmp_path, evening_aboard):
    path = tmp_path / "record.sqlite3"
    entries = evening_aboard.evening()
    content = {**entries[2].content, "who": "<script>alert(1)</script>"}
    entries[2] = Entry("event", "b1", content)
    with contextlib.closing(Store(path)) as store:
        store.write(entries[:50])
    page = sheet(path)
    assert "<script" not in page
    assert "&lt;script&gt;" in page


points = st.lists(
    st.tuples(st.floats(0, 1000), st.floats(0, 1000), st.floats(0, 1000), st.booleans()), max_size=30
).map(
    lambda made: [
        Bucket(n * 10.0, None, None, None) if gap else Bucket(n * 10.0, min(values), sorted(values)[1], max(values))
        for n, (*values, gap) in enumerate(made)
    ]
)


@given(points, st.floats(0, 1e5), st.booleans(), st.lists(st.floats(0, 2000), max_size=2))
def test_every_chart_is_well_formed_and_stays_on_its_paper(points, length_s, from_zero, limits):
    chart = Chart("Salt & <light>", "mg/L", points, [Limit(value, "limit") for value in limits], from_zero)
    drawing = ET.fromstring(charts.drawn(chart, length_s, [Phase(0, length_s / 2, "producing", "making water")]))
    for path in drawing.findall("path"):
        for x, y in re.findall(r"(-?[\d.]+) (-?[\d.]+)", path.get("d")):
            assert -0.1 <= float(x) <= charts.WIDTH + 0.1
            assert -0.1 <= float(y) <= charts.HEIGHT + 0.1


@given(st.floats(-1e4, 1e4), st.floats(0.01, 1e5))
def test_ticks_are_round_few_and_reach_over_what_is_drawn(low, span):
    marks = svg.ticks(low, low + span, 4)
    assert marks[0] <= low + 1e-6 * span
    assert marks[-1] >= low + span * (1 - 1e-6)
    assert 2 <= len(marks) <= 8


@pytest.mark.system
def test_the_sheet_prints_on_one_page(evening, tmp_path):
    browser = shutil.which("chromium")
    assert browser, "chromium is needed: .ci/setup system"
    page, pdf = tmp_path / "run.html", tmp_path / "run.pdf"
    page.write_text(sheet(evening), encoding="utf-8")
    subprocess.run(
        [browser, "--headless", "--no-sandbox", "--disable-gpu", f"--print-to-pdf={pdf}", page.as_uri()],
        check=True,
        capture_output=True,
        timeout=60,
    )
    assert len(re.findall(rb"/Type\s*/Page\b", pdf.read_bytes())) == 1
