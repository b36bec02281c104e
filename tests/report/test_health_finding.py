"""What is told of how the plant ages without being asked, and how a person puts it aside."""

import json

import pytest

from halocline.plant.vocabulary import FINDINGS, LOG_KINDS
from halocline.plant.words.health_texts import STORIES, STORY_NAMES
from halocline.report.database_open import connect_to_write
from halocline.report.health.finding import RENEWED_BY_CALIBRATION, RENEWED_BY_WORK, finding
from halocline.report.health.seen import Aside, Seen, seen
from halocline.report.health.stories import NOTHING
from halocline.report.health.stories import STORIES as TABLE

SURE = [{"name": "fouling", "confidence": 0.93}, {"name": "nothing", "confidence": 0.05}]


def has(*, work=(), calibrations=(), asides=()):
    return Seen(1000.0, [], work, calibrations, {}, (), asides)


def aside(finding_id="fouling", at_s=500.0):
    return Aside(at_s, finding_id, "cleaning in March", "Ana")


def test_every_story_but_nothing_is_a_finding_with_words():
    assert {story.name for story in TABLE} - {NOTHING, ""} | {"prefilter"} == set(FINDINGS)
    assert set(FINDINGS) | {NOTHING} == set(STORIES) == set(STORY_NAMES)
    assert set(RENEWED_BY_CALIBRATION) | set(RENEWED_BY_WORK) <= set(FINDINGS)
    assert {kind for kinds in RENEWED_BY_WORK.values() for kind in kinds} <= set(LOG_KINDS)


@pytest.mark.parametrize(
    ("patterns", "known"),
    [
        ([], True),
        ([{"name": "fouling", "confidence": 0.79}], True),
        ([{"name": "nothing", "confidence": 0.99}], True),
        (SURE, False),
    ],
)
def test_what_is_not_sure_is_not_told_unasked(patterns, known):
    assert finding(patterns, has(), known=known) is None


def test_what_is_sure_is_told_until_it_is_put_aside_with_a_reason():
    assert finding(SURE, has(), known=True) == {"name": "fouling", "confidence": 0.93, "aside": None}
    put = finding(SURE, has(asides=[aside()]), known=True)["aside"]
    assert put == {"on": "1970-01-01T00:08:20.000Z", "reason": "cleaning in March", "who": "Ana"}


def test_another_story_is_told_again():
    assert finding(SURE, has(asides=[aside("scaling")]), known=True)["aside"] is None
    # Fouling was put aside, then scaling: what is fouling again is a new story.
    assert finding(SURE, has(asides=[aside(), aside("scaling", 600.0)]), known=True)["aside"] is None


@pytest.mark.parametrize(
    ("name", "renewed"),
    [
        ("fouling", {"work": [(600.0, "cleaned", "")]}),
        ("prefilter", {"work": [(600.0, "filter_changed", "")]}),
        ("conductivity_drift", {"calibrations": [(600.0, "product_conductivity", {})]}),
    ],
)
def test_after_what_it_was_about_was_renewed_it_is_told_again(name, renewed):
    patterns = [{"name": name, "confidence": 0.9}]
    before = has(asides=[aside(name, 700.0)], **renewed)
    after = has(asides=[aside(name, 500.0)], **renewed)
    assert finding(patterns, before, known=True)["aside"] is not None
    assert finding(patterns, after, known=True)["aside"] is None


def test_the_record_keeps_what_was_put_aside(tmp_path):
    """So it holds over restarts of any program, and a copy of the record has it too."""
    connection = connect_to_write(tmp_path / "record.sqlite3")
    body = {"what": "finding_aside", "finding": "fouling", "note": "cleaning in March", "who": "Ana"}
    connection.execute(
        "INSERT INTO events (boot, seq, mono_s, wall_s, kind, body) VALUES (1, 5, 10.0, 1.8e9, 'log', ?)",
        (json.dumps(body),),
    )
    connection.execute(
        "INSERT INTO work (boot, seq, wall_s, kind, note, who)"
        " VALUES (1, 5, 1.8e9, 'finding_aside', 'fouling: cleaning in March', 'Ana')"
    )
    assert seen(connection, None).asides == [Aside(1.8e9, "fouling", "cleaning in March", "Ana")]
    assert seen(connection, 1.7e9).asides == []
    connection.close()
