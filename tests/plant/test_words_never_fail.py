"""Whatever the values are, there are words: short, whole, and without the signs of a program that has none."""

import math
import re
from string import Formatter
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from halocline.plant import words
from halocline.plant.settings import UnitSettings
from halocline.plant.words.alarm_names import ALARM_TEXTS
from halocline.plant.words.refusal_texts import REFUSAL_TEXTS
from halocline.plant.words.sentences import ASK_TEXTS, SENTENCE_TEXTS
from halocline.plant.words.why_texts import WHY_TEXTS

KEYS = sorted(
    {
        key
        for template in [
            *SENTENCE_TEXTS.values(),
            *[text.whole for text in REFUSAL_TEXTS.values()],
            *WHY_TEXTS.values(),
            *[part for text in ALARM_TEXTS.values() for part in (text.brief, text.means)],
        ]
        for _, key, _, _ in Formatter().parse(template)
        if key and not key.endswith("_said") and key not in {"about", "unmeasured"}
    }
    | {"why", "reason", "more", "cause", "membrane_bar", "since_s"}
)
TEXT_WITHOUT_N = st.text(st.characters(exclude_characters="nN", exclude_categories=["Cs"]), max_size=300)
"""No text of its own can spell "None", "nan" or "inf"."""
IDS = st.sampled_from(sorted({*SENTENCE_TEXTS, *REFUSAL_TEXTS, *WHY_TEXTS, *ALARM_TEXTS, "tripped", "tide", ""}))
ANYTHING = st.one_of(
    st.none(),
    st.booleans(),
    st.floats(),
    st.integers(),
    st.just(10**400),
    st.sampled_from(
        ["None", "nan", "inf", "-inf", "{x}", "[", "]", "}{", "feed_pressure", "open", "a, b, c, d, e", ""]
    ),
    TEXT_WITHOUT_N,
    st.lists(st.integers(), max_size=2),
)
VALUES = st.dictionaries(st.sampled_from(KEYS), st.one_of(ANYTHING, IDS), max_size=len(KEYS))
UNITS = st.one_of(
    st.none(),
    st.just(UnitSettings()),
    st.just(UnitSettings(pressure="psi", volume="gal", temperature="F", salt="uS/cm")),
)
LONGEST = 220


def assert_readable(text: str) -> None:
    assert 0 < len(text) <= LONGEST
    assert text.isprintable()
    assert not re.search(r"\b(None|nan|inf|NaN|null)\b", text)


@settings(max_examples=250)
@given(IDS, VALUES, UNITS)
def test_any_reason_reads_well_whatever_its_values(identifier: str, values: dict[str, Any], units: Any) -> None:
    assert_readable(words.reason({"id": identifier, "values": values}, units))


@settings(max_examples=250)
@given(IDS, VALUES, UNITS)
def test_any_alarm_reads_well_whatever_its_values(identifier: str, values: dict[str, Any], units: Any) -> None:
    for text in (words.alarm_name(identifier), *words.alarm_texts(identifier, values, units)):
        assert_readable(text)


@settings(max_examples=400)
@given(
    st.tuples(IDS, VALUES),
    UNITS,
    st.one_of(ANYTHING, st.sampled_from(sorted(ASK_TEXTS))),
    ANYTHING,
    st.lists(IDS, max_size=3),
)
def test_any_sentence_reads_well_whatever_its_values(
    said: tuple[str, dict[str, Any]], units: Any, asked: Any, odd: Any, alarms: list[str]
) -> None:
    identifier, values = said
    now = {
        "state": odd,
        "sentence": {"id": identifier, "values": values},
        "ask": asked,
        "first_out": alarms[0] if alarms else odd,
        "alarms": [{"id": alarm, "values": values} for alarm in alarms] or odd,
        "allowed": odd,
        "refused": {"reset": odd},
        "limits": {"accept_tds_mg_l": odd},
    }
    assert_readable(words.sentence(now, units))


@given(st.sampled_from(["state", "sentence", "alarms", "refused", "limits", "first_out"]), ANYTHING, IDS)
def test_a_mangled_snapshot_still_gives_a_sentence(key: str, odd: Any, identifier: str) -> None:
    assert_readable(words.sentence({"state": "standby", "sentence": {"id": identifier, "values": {}}, key: odd}))


@given(st.sampled_from([*sorted(ASK_TEXTS), "other"]), VALUES, UNITS)
def test_any_request_reads_well_whatever_its_values(asked: str, values: dict[str, Any], units: Any) -> None:
    text = words.ask(asked, values, units)
    assert text is not None
    assert_readable(text)


def test_numbers_that_are_missing_read_unknown() -> None:
    for nothing in (None, math.nan, math.inf, "None"):
        said = words.reason({"id": "pressure_present", "values": {"pressure_bar": nothing}})
        assert said.startswith("There is still unknown at the membrane")


def test_with_usual_values_no_text_has_to_be_cut() -> None:
    values: dict[str, Any] = dict.fromkeys(KEYS, 1234.5)
    values |= {
        "channel": "filter_inlet_pressure",
        "other": "product_conductivity",
        "contact": "diverter_overboard",
        "output": "high_pressure_pump",
        "quality": "open",
        "of": "new_element",
        "why": "tank_ceiling",
        "reason": "somebody has the filter housing open",
        "name": "Somebody Aboard",
        "causes": "sensor_fault_vessel_pressure, sensor_fault_feed_pressure, product_salty_at_once, bilge_wet",
        "questions": "seacocks_open, strainer_clean, sea_clean, tank_chosen",
        "known": "litres, minutes, until, until_s, until_unknown, confirmed",
    }
    for identifier in {*REFUSAL_TEXTS, *WHY_TEXTS, *ALARM_TEXTS}:
        assert not words.reason({"id": identifier, "values": values}).endswith("…"), identifier
        cause = {**values, "cause": identifier}
        assert not words.sentence({"sentence": {"id": "tripped", "values": cause}}).endswith("…"), identifier
    for identifier in SENTENCE_TEXTS:
        assert not words.sentence({"sentence": {"id": identifier, "values": values}}).endswith("…"), identifier
