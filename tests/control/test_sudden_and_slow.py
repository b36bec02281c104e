"""Sudden change of product flow and salt is told apart from slow drift: other parts are to blame, other work is due.

Common practice of membrane plants: fouling and scaling move normalised flow and salt passage over days and weeks; a
change within minutes is a meter, a probe, an O-ring or a brine seal.
"""

import pytest
from hand_driven_plant import QUICK, Plant, quick_settings

from halocline.control.performance import Share, membrane_key
from halocline.control.retained.retained_state import RetainedState, Usual, decode, encode
from halocline.plant import words
from halocline.plant.words.alarm_names import ALARM_TEXTS


class Model(Plant):
    """A plant whose product is a share of what its membrane model expects."""

    flow_share = 1.0
    salt_share = 1.0

    def _values(self):
        last = self.core.last
        expectation = last.expectation if last else None
        values = super()._values()
        if expectation and expectation.flow_l_h and self.pressure_bar > 50:
            values["product_flow"] = self.flow_share * expectation.flow_l_h
            self.tds_mg_l = self.salt_share * expectation.tds_mg_l
        return values


def made(retained=None, settings=QUICK):
    plant = Model(settings, retained=retained)
    plant.tick()
    assert plant.give("start") == []
    plant.until("producing")
    return plant.wait(80)


@pytest.mark.parametrize(("kind", "to"), [("flow", 0.7), ("flow", 1.22), ("salt", 1.45), ("salt", 0.55)], ids=str)
def test_a_sudden_change_is_told_within_a_minute(kind, to):
    plant = made()
    setattr(plant, f"{kind}_share", to)
    plant.wait(60)
    alarm = plant.core.plant.alarms.get(f"product_{kind}_jumped")
    assert alarm.state.value == "unacknowledged"
    assert alarm.values["share"] > alarm.values["limit"]
    assert plant.state == "producing"


@pytest.mark.parametrize(
    ("kind", "end", "level"), [("flow", 0.72, "product_flow_low"), ("salt", 1.8, "product_salt_high")]
)
def test_a_slow_change_is_told_as_slow(kind, end, level):
    # Five hours in one run: a motor without a limit, so that what is judged is the drift alone.
    settings = quick_settings(
        plant={"tank_capacity_l": 2000.0}, sequence={"run_limit_s": 24 * 3600.0, "motor_run_limits": False}
    )
    plant = made(settings=settings)
    steps = 300
    for step in range(steps):
        setattr(plant, f"{kind}_share", 1.0 + (end - 1.0) * (step + 1) / steps)
        plant.wait(60, dt=5.0)
    plant.wait(200, dt=5.0)
    assert plant.alarm(f"product_{kind}_jumped") is None
    assert plant.alarm(level) == "unacknowledged"


def test_what_came_suddenly_is_not_told_a_second_time_as_slow():
    plant = made()
    plant.flow_share = 0.6
    plant.wait(200)
    assert plant.alarm("product_flow_jumped") == "unacknowledged"
    assert plant.alarm("product_flow_low") == "suppressed"
    assert plant.core.plant.alarms.get("product_flow_low").suppressed_by == "product_flow_jumped"


def test_who_has_looked_makes_the_new_the_usual_one():
    plant = made()
    plant.flow_share = 0.8
    plant.wait(60)
    plant.give("acknowledge", alarm="product_flow_jumped")
    plant.wait(60)
    assert plant.alarm("product_flow_jumped") is None
    assert plant.core.plant.performance.shares["flow"].usual == pytest.approx(0.8, abs=0.02)


def test_what_is_usual_is_remembered_from_run_to_run_and_over_a_restart():
    plant = made()
    plant.give("stop")
    plant.until("standby")
    kept = decode(encode(plant.core.plant.retained))
    assert kept.usual == Usual(membrane_key(plant.settings), 1.0, 1.0)
    later = Model(retained=kept)
    later.flow_share = 0.75
    later.tick()
    assert later.give("start") == []
    later.until("producing")
    later.wait(60)
    assert later.alarm("product_flow_jumped") == "unacknowledged"


def test_another_calibration_of_the_membrane_has_no_past():
    plant = Model(retained=RetainedState(usual=Usual("1.0 1.0", 0.5, 0.5)))
    assert plant.core.plant.performance.shares == {"flow": Share(), "salt": Share()}


@pytest.mark.parametrize("kind", ["element_changed", "cleaned"])
def test_another_or_a_clean_membrane_is_learnt_anew(kind):
    plant = made()
    plant.give("stop")
    plant.until("standby")
    plant.give("log", kind=kind)
    assert plant.core.plant.performance.shares["flow"].usual is None
    assert plant.core.plant.retained.usual is None


def test_nothing_is_learnt_or_told_while_the_pressure_moves_or_product_is_not_trusted():
    plant = made()
    before = plant.core.plant.performance.shares["flow"].usual
    plant.lose("product_flow")
    plant.wait(30)
    assert plant.core.plant.performance.shares["flow"].usual == before
    assert plant.alarm("product_flow_jumped") is None


def test_noise_of_the_meters_is_no_change():
    plant = made()
    for step in range(1200):
        plant.flow_share = 1.0 + (0.08 if step % 2 else -0.08)
        plant.salt_share = 1.0 + (0.2 if step % 3 else -0.2)
        plant.tick()
    assert plant.alarm("product_flow_jumped") is None
    assert plant.alarm("product_salt_jumped") is None


def test_sudden_and_slow_send_people_to_different_parts():
    for kind, slow in (("flow", "product_flow_low"), ("salt", "product_salt_high")):
        sudden = ALARM_TEXTS[f"product_{kind}_jumped"]
        assert "seal" in sudden.do
        assert "cleaning" not in sudden.do
        assert "cleaning" in ALARM_TEXTS[slow].do
        assert "slowly" in ALARM_TEXTS[slow].means
    said = words.alarm_texts("product_flow_jumped", {"flow_l_h": 40.0, "usual_l_h": 60.0, "share": 0.33, "limit": 0.15})
    assert said[0].startswith("Product flow is 40 L/h, usual at this pressure 60 L/h.")


def test_what_was_usual_before_a_calibration_is_usual_no_longer():
    plant = made().wait(60)
    assert plant.core.plant.performance.shares["flow"].usual is not None
    plant.wait(plant.settings.sequence.membrane_window_s)
    assert plant.give("calibrate", membrane=True, initials="MB") == []
    assert plant.core.plant.retained.usual is None
    assert plant.core.plant.performance.shares["flow"].learnt_s < 1.0
