"""When a duty is due, what a reading makes of it, how stores are counted: pure functions of what the record held."""

import json
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from halocline.cli.main import main
from halocline.plant.duties import BY_ID, DUTIES, PARTS, USED_BY, While
from halocline.plant.readings import NEEDED, READINGS
from halocline.plant.vocabulary import LOG_KINDS
from halocline.plant.words.duty_texts import BECAUSE, DUTY_TEXTS, PART_NAMES
from halocline.report.duties.answer import duties_answer, stores_answer
from halocline.report.duties.facts import DAY_S, Entry, Facts, Run
from halocline.report.duties.state import ORDER, state, states
from halocline.report.duties.stores import shopping, stores
from halocline.report.duties.water import turnover_s, water

NOW_S = 1_790_000_000.0
EMPTY = Facts(NOW_S, None, [], [], {}, {})


def ago(days):
    return NOW_S - days * DAY_S


def used(days=400.0, **facts):
    """A plant that runs an hour every second day."""
    runs = [Run(ago(day), 3600.0, 60.0) for day in range(int(days), -1, -2)]
    return replace(EMPTY, began_s=ago(days), runs=runs, **facts)


def done(duty, days, kind="duty_done", **readings):
    counters = {"high_pressure_pump_s": 0.0}
    return Entry(ago(days), kind, who="Ana", details={"duty": duty, "readings": readings}, counters=counters)


def test_every_row_is_complete_and_fits_the_rest_of_the_program():
    assert set(DUTY_TEXTS) == {duty.id for duty in DUTIES}
    assert set(PART_NAMES) == set(PARTS)
    for duty in DUTIES:
        assert duty.days or duty.pump_h or duty.product_l, duty.id
        assert duty.source
        assert set(duty.uses or {}) <= set(PARTS)
        assert {*duty.kinds, *duty.after} <= {*LOG_KINDS, "lay_up"}
        assert not duty.begins or duty.id not in {"prove_trips", "tank_turnover"}
    assert all(set(uses) <= set(PARTS) for uses in USED_BY.values())
    assert set(NEEDED) <= set(READINGS)


@pytest.mark.parametrize(
    ("days", "expected"), [(0, "done"), (150, "done"), (160, "soon"), (183, "due"), (199, "due"), (201, "overdue")]
)
def test_by_the_calendar(days, expected):
    of = used(work=[done("prove_diverter", days)])
    found = state(BY_ID["prove_diverter"], of)
    assert (found.state, found.because) == (expected, "calendar")
    assert found.due.at_s == ago(days) + 182 * DAY_S
    assert found.due.basis == "computed"


def test_cartridges_age_faster_in_warm_water_and_where_nobody_knows_how_warm_it_is():
    of = used(work=[Entry(ago(20), "filter_changed")])
    cartridges = BY_ID["cartridges"]
    assert state(cartridges, replace(of, sea_c=18.0)).state == "done"
    assert state(cartridges, replace(of, sea_c=26.0)).state == "overdue"
    assert state(cartridges, replace(of, sea_c=None)).state == "overdue"


def test_what_wears_with_use_rests_while_the_plant_rests():
    of = replace(used(), runs=[Run(ago(30), 3600.0, 60.0)], work=[done("oil_look", 20)])
    assert state(BY_ID["oil_look"], of).because == "not_used"
    assert state(BY_ID["seacocks"], of).state == "overdue"


def test_hours_give_a_date_that_is_foreseen_from_the_use_so_far():
    entry = replace(done("pump_oil", 40, kind="oil_changed"), counters={"high_pressure_pump_s": 100 * 3600.0})
    of = used(work=[entry], counters={"high_pressure_pump_s": 120 * 3600.0})
    found = state(BY_ID["pump_oil"], of)
    assert found.share == pytest.approx(40 / 365), "by hours it is 20 of 200, which is less"
    later = replace(of, counters={"high_pressure_pump_s": 280 * 3600.0})
    found = state(BY_ID["pump_oil"], later)
    assert (found.because, found.due.basis) == ("pump_hours", "foreseen")
    assert found.due.at_s == pytest.approx(NOW_S + 20.0 / (31 / 60) * DAY_S)


def test_the_first_oil_is_changed_early():
    of = used(work=[], counters={"high_pressure_pump_s": 51 * 3600.0}, days=100)
    assert state(BY_ID["pump_oil"], of).state == "due"


@pytest.mark.parametrize(
    ("duty", "readings", "passed"),
    [
        ("prove_trips", {"measured": 1.0}, True),
        ("prove_trips", {"measured": 1.2}, False),
        ("prove_pressure_switch", {"measured": 63.9}, False),
        ("prove_pressure_switch", {"measured": 71.0, "expected": 70.0}, False),
        ("prove_trips", {"measured": 5.0, "expected": 9.0}, False),
        ("prove_trips", {"measured": 0.8, "expected": 0.5}, False),
        ("preservative", {"measured": 3.0, "expected": 2.0}, False),
        ("gauge_against_test_gauge", {"measured": 41.0, "expected": 40.0}, True),
        ("prove_check_valves", {"measured": 0.0}, True),
        ("prove_check_valves", {"measured": 0.1}, False),
        ("relief_valve", {"measured": 66.0}, True),
        ("relief_valve", {"measured": 70.0}, False),
    ],
)
def test_a_test_that_did_not_show_what_it_had_to_is_not_passed(duty, readings, passed):
    of = used(work=[done(duty, 1, **readings)])
    assert (state(BY_ID[duty], of).state == "done") is passed


@pytest.mark.parametrize(
    ("duty", "key"), [("relief_valve", "relief_bar"), ("prove_pressure_switch", "pressure_switch_bar")]
)
def test_what_guards_the_pressure_is_held_against_the_settings_of_this_plant(duty, key):
    of = used(work=[done(duty, 1, measured=66.0, expected=66.0)], settings={"plant": {key: 60.0}})
    found = state(BY_ID[duty], of)
    assert (found.because, found.last.expected) == ("test_failed", 60.0)


@pytest.mark.parametrize("duty", [duty.id for duty in DUTIES if not duty.begins and duty.counts is While.ALWAYS])
def test_what_a_wrong_clock_dated_into_the_future_was_not_done(duty):
    row = BY_ID[duty]
    value = None if row.expected is None else row.expected.value
    entry = done(duty, -3650, **({} if value is None else {"measured": value}))
    found = state(row, used(work=[entry]))
    assert (found.state == "done", found.last) == (False, None)


def test_a_run_that_a_wrong_clock_dated_into_the_future_turns_over_no_tank():
    settings = {"boat": {"tank_capacity_l": 50.0}}
    of = replace(EMPTY, runs=[Run(ago(90), 3600.0, 60.0), Run(ago(-900), 3600.0, 60.0)], settings=settings)
    assert turnover_s(of) == ago(90)


def test_doubtful_water_makes_the_disinfection_due_and_chlorine_stands_until_a_strip_reads_zero():
    work = [
        Entry(ago(10), "tank_chlorinated"),
        Entry(ago(9), "chlorine_strip_zero"),
        Entry(ago(2), "shore_water_taken"),
    ]
    of = used(work=work)
    assert state(BY_ID["disinfect_tank"], of).because == "after_entry"
    assert water(of).chlorine_since_s == ago(2)
    dosed = Entry(NOW_S - 3600.0, "tank_chlorinated", details={"readings": {"mg_l": 50.0, "contact_h": 4.0}})
    of = replace(of, work=[*work, dosed])
    assert state(BY_ID["disinfect_tank"], of).state == "done"
    assert water(of).contact_until_s == NOW_S + 3 * 3600.0
    assert "nobody drinks it" in duties_answer(of)["water"]["chlorine_text"]
    of = replace(of, work=[*of.work, Entry(NOW_S, "chlorine_strip_zero")])
    assert duties_answer(of)["water"]["chlorine_text"] is None


def test_a_tank_is_turned_over_once_a_whole_tankful_was_made():
    of = used(settings={"boat": {"tank_capacity_l": 150.0}})
    assert turnover_s(of) == ago(4)
    assert state(BY_ID["tank_turnover"], of).last.entry is None
    assert turnover_s(replace(of, runs=of.runs[-2:])) is None


def test_a_plant_without_brushes_has_none_to_look_at():
    induction = used(settings={"drive": {"motor": "induction"}})
    assert "motor_brushes" not in {one.duty.id for one in states(induction)}
    assert "motor_brushes" in {one.duty.id for one in states(used())}


def count(part, aboard, days=100, **more):
    readings = {"aboard": aboard, **more}
    return Entry(ago(days), "stores_counted", "part 4711", "Ana", {"part": part, "readings": readings})


def test_work_takes_from_the_stores_and_never_below_none():
    work = [count("fine_cartridge", 3.0, minimum=1.0), *[Entry(ago(day), "filter_changed") for day in (80, 60)]]
    kept = {one.part: one for one in stores(used(work=work))}
    assert (kept["fine_cartridge"].aboard, kept["fine_cartridge"].number) == (1.0, "part 4711")
    assert kept["coarse_cartridge"].aboard is None
    work += [Entry(ago(day), "filter_changed") for day in (40, 20)]
    assert {one.part: one for one in stores(used(work=work))}["fine_cartridge"].aboard == 0.0


def test_the_list_for_the_next_harbour_counts_what_comes_due_and_what_health_foresees():
    of = used(work=[count("fine_cartridge", 1.0), count("membrane", 0.0)], sea_c=18.0)
    bought = {one.store.part: one for one in shopping(of, states(of), stores(of), None)}
    assert bought["fine_cartridge"].need == 4.0, "now, and after 30, 60 and 90 days"
    assert bought["fine_cartridge"].buy == 4.0 + 2.0 - 1.0
    assert "membrane" not in bought
    damaged = {"quantities": {}, "patterns": [{"name": "membrane_damage", "confidence": 0.9}]}
    assert "membrane" in {one.store.part for one in shopping(of, states(of), stores(of), damaged)}
    ends = {"quantities": {"salt_passage": {"reached_on": {"estimate": "2026-10-30"}}}, "patterns": []}
    assert "membrane" in {one.store.part for one in shopping(of, states(of), stores(of), ends)}


entries = st.builds(
    Entry,
    st.floats(ago(500), NOW_S),
    st.sampled_from(LOG_KINDS),
    details=st.fixed_dictionaries(
        {"readings": st.dictionaries(st.sampled_from(["measured", "aboard", "mg_l", "contact_h"]), st.floats(0, 100))},
        optional={"duty": st.sampled_from([duty.id for duty in DUTIES]), "part": st.sampled_from(list(PARTS))},
    ),
)
histories = st.builds(
    Facts,
    st.just(NOW_S),
    st.one_of(st.none(), st.floats(ago(900), NOW_S)),
    st.lists(entries, max_size=12),
    st.lists(st.builds(Run, st.floats(ago(500), NOW_S), st.floats(0, 2e4), st.floats(0, 500)), max_size=8),
    st.dictionaries(st.sampled_from(["high_pressure_pump_s", "product_l"]), st.floats(0, 1e7)),
    st.sampled_from([{}, {"boat": {"tank_capacity_l": 200.0}}, {"drive": {"motor": "brush"}}]),
    st.one_of(st.none(), st.floats(0, 35)),
)


@given(histories)
def test_whatever_is_on_record_there_is_an_answer_in_words_and_in_order(of):
    said = duties_answer(of)
    told = [each["state"] for each in said["duties"]]
    assert told == sorted(told, key=ORDER.index)
    assert all(each["text"] and each["because"] in BECAUSE for each in said["duties"])
    assert all(each["due"] for each in said["duties"] if each["state"] != "resting")
    for each in said["duties"]:
        kept_up = each["state"] in ("done", "soon")
        assert not kept_up or each["last"] is None or each["last"]["passed"]
    aboard = stores_answer(of, None)
    assert all(each["aboard"] is None or each["aboard"] >= 0.0 for each in aboard["stores"])
    assert all(each["buy"] > 0.0 for each in aboard["shopping"])


@given(histories, st.floats(0, 400))
def test_time_alone_makes_nothing_less_pressing(of, days):
    """Without an entry or a run between two moments nothing gets better."""
    order = list(ORDER)
    later = {one.duty.id: one for one in states(replace(of, now_s=NOW_S + days * DAY_S))}
    for one in states(of):
        calendar = one.duty.pump_h is None and one.duty.product_l is None and one.duty.warm_days is None
        if calendar and one.state != "resting":
            assert order.index(later[one.duty.id].state) <= order.index(one.state)


def test_what_counts_while_laid_up_rests_otherwise():
    laid_up = used(work=[Entry(ago(40), "lay_up")])
    assert state(BY_ID["preservative"], laid_up).state == "overdue"
    back = replace(laid_up, work=[*laid_up.work, Entry(ago(1), "recommission")])
    assert state(BY_ID["preservative"], back).because == "not_laid_up"
    assert BY_ID["preservative"].counts is While.LAID_UP


def test_for_people_it_is_a_list_of_lines(evening, capsys):
    assert main(["duties", "--data", str(evening.parent)]) == 0
    text = capsys.readouterr().out
    assert text.startswith(("Due: ", "Nothing is due."))
    assert "Move the seacocks: overdue since" in text
    assert main(["stores", "--data", str(evening.parent)]) == 0
    assert "fine cartridge: never counted" in capsys.readouterr().out


def test_as_json_it_says_which_dates_are_foreseen(evening, capsys):
    assert main(["duties", "--data", str(evening.parent), "--json"]) == 0
    said = json.loads(capsys.readouterr().out)
    assert {each["due"]["basis"] for each in said["duties"] if each["due"]} <= {"computed", "foreseen"}


@pytest.mark.parametrize("command", ["duties", "stores"])
def test_a_folder_without_a_record_is_one_line(command, tmp_path, capsys):
    assert main([command, "--data", str(tmp_path)]) == 1
    assert len(capsys.readouterr().err.splitlines()) == 1
