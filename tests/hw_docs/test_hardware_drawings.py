"""The drawings: well-formed, described, self-contained, black on white, readable on a phone."""

import re
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

DRAWINGS = sorted((Path(__file__).parents[2] / "hw").glob("*.svg"))
SVG = "{http://www.w3.org/2000/svg}"
WIDTHS = {"fijlt.,:;'’|!()[] /-·I": 0.30, "mwMW…−→≥≤": 0.87, "ABCDEFGHJKLNOPQRSTUVXYZΩ": 0.70}
"""Width of characters over their size in the usual sans-serif faces, rounded up; all others are 0.56."""
PHONE_WIDTH = 360.0
SMALLEST_PX = 9.0

every_drawing = pytest.mark.parametrize("path", DRAWINGS, ids=lambda path: path.name)


def root_of(path: Path) -> ET.Element:
    return ET.parse(path).getroot()


def size_px(root: ET.Element, text: ET.Element) -> float:
    style = root.findtext(f"{SVG}style") or ""
    sizes = dict(re.findall(r"(svg|\.\w+) \{[^}]*font-size: ([\d.]+)px", style))
    return float(sizes[".small"] if "small" in text.get("class", "").split() else sizes["svg"])


def length_px(text: str, size: float) -> float:
    return size * sum(next((width for signs, width in WIDTHS.items() if sign in signs), 0.56) for sign in text)


def test_there_are_drawings() -> None:
    assert {path.stem for path in DRAWINGS} >= {"hydraulics", "coil-chain", "sensor-inputs"}


@every_drawing
def test_a_drawing_says_what_it_shows(path: Path) -> None:
    root = root_of(path)
    assert root.tag == f"{SVG}svg"
    assert root.get("role") == "img"
    title, description = root.find(f"{SVG}title"), root.find(f"{SVG}desc")
    assert title is not None
    assert title.text
    assert description is not None
    assert description.text
    assert len(description.text) > 80
    assert root.get("aria-labelledby") == f"{title.get('id')} {description.get('id')}"


@every_drawing
def test_a_drawing_needs_nothing_from_elsewhere(path: Path) -> None:
    source = path.read_text(encoding="utf-8")
    assert "<!DOCTYPE" not in source
    assert "@import" not in source
    assert not re.search(r"url\((?!#)", source)
    for element in root_of(path).iter():
        assert element.tag.removeprefix(SVG) not in {"script", "image", "foreignObject"}
        for key, value in element.attrib.items():
            assert not key.startswith("on")
            assert not key.endswith("href") or value.startswith("#")


@every_drawing
def test_a_drawing_prints_in_black_and_white(path: Path) -> None:
    source = path.read_text(encoding="utf-8")
    colours = set(re.findall(r"(?:fill|stroke)(?:=\"|: ?)([#\w]+)", source))
    assert colours <= {"#000", "#fff", "none"}


@every_drawing
def test_texts_stay_inside_and_can_be_read_on_a_phone(path: Path) -> None:
    root = root_of(path)
    _, _, width, height = (float(number) for number in root.get("viewBox", "").split())
    for text in root.iter(f"{SVG}text"):
        size = size_px(root, text)
        assert size * PHONE_WIDTH / width >= SMALLEST_PX, text.text
        length = length_px(text.text or "", size)
        x, y, classes = float(text.get("x", "nan")), float(text.get("y", "nan")), text.get("class", "").split()
        left = x - length if "end" in classes else x - length / 2 if "middle" in classes else x
        assert left >= 0, f"{text.text} leaves the drawing on the left"
        assert left + length <= width, f"{text.text} leaves the drawing on the right"
        assert 0 < y < height, text.text
