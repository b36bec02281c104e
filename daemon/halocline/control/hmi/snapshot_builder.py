"""The live snapshot and the recorded row as plain values: ids and numbers only, ready for the link."""

import math
from collections.abc import Mapping
from typing import Any, TypeVar, cast

from halocline.control.annunciator import alarm_message
from halocline.control.commands import Decisions
from halocline.control.duties.attendance import attendance_message
from halocline.control.hmi.operator_prompts import asked
from halocline.control.hmi.prospect import prospect_message
from halocline.control.hmi.status_message import sentence
from halocline.control.inputs import Command
from halocline.control.permissives.people import questions
from halocline.control.permissives.upkeep import PURGE_CONFIRMED
from halocline.control.plant_state import PlantState
from halocline.control.situation import Situation
from halocline.link.snapshot import AttendanceNow, FlushAloneNow, PurgeNow, SnapshotNow
from halocline.plant.purges import end_test
from halocline.plant.settings import Settings
from halocline.plant.vocabulary import DERIVED, OUTPUTS

Message = TypeVar("Message", bound=Mapping[str, Any])

ENOUGH_L = 0.01
"""Energy over less water than this is a number without meaning (chosen)."""
ALARMS_TOLD = 20
"""The most pressing: more no person reads, and a snapshot is one line (chosen)."""
WHO_TOLD = 40
"""Letters of a name: a snapshot is one line (chosen)."""
OUT_OF_SERVICE_TOLD, OUT_OF_SERVICE_WHY = 10, 80
"""So many, and so many letters of each reason: a snapshot is one line; the record has all of it (chosen)."""


def rounded(value: Any) -> Any:
    """Numbers to four significant decimals, nothing that is not finite."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        return value
    return round(value, 4) if math.isfinite(value) else None


def derived(now: Situation, energy_wh: float | None, litres: float) -> dict[str, float | None]:
    """The derived quantities, by their fixed names."""
    values = {
        "product_tds_mg_l": now.tds_mg_l,
        # In a flush the water comes from behind the filters: the difference says nothing about them.
        "filter_drop_bar": now.filter_drop_bar if now.clocks.feed_pump_on_s >= 0 else None,
        "recovery": now.recovery,
        "specific_energy_wh_l": energy_wh / litres if energy_wh is not None and litres > ENOUGH_L else None,
        "pressure_rate_bar_s": now.rate_bar_s,
        "expected_flow_l_h": now.expectation.flow_l_h,
        "expected_tds_mg_l": now.expectation.tds_mg_l,
        "target_pressure_bar": now.expectation.target_pressure_bar,
    }
    return {name: rounded(values[name]) for name in DERIVED}


def limits(settings: Settings) -> dict[str, float]:
    """The limits that the page draws."""
    chosen = settings.limits
    return {
        "accept_tds_mg_l": chosen.accept_tds_mg_l,
        "reject_tds_mg_l": chosen.reject_tds_mg_l,
        "vessel_pressure_high_bar": chosen.vessel_pressure_high_bar,
        "vessel_pressure_high_high_bar": chosen.vessel_pressure_high_high_bar,
        "working_pressure_bar": settings.drive.working_pressure_bar,
        "feed_pressure_low_bar": chosen.feed_pressure_low_bar,
        "feed_pressure_low_low_bar": chosen.feed_pressure_low_low_bar,
        "tank_capacity_l": settings.plant.tank_capacity_l,
        "pump_power_w": settings.plant.pump_power_w,
        "flush_l": settings.sequence.flush_l,
        "wetted_volume_l": settings.plant.wetted_volume_l,
    }


def given_reasons(settings: Settings) -> dict[str, str]:
    """Why the owner lets the plant do what it would not do by itself: the owner's words by the key they stand under."""
    given = {
        "accept_reason": settings.limits.accept_reason,
        "off_reason": settings.sequence.off_reason,
        "motor_plate": settings.drive.motor_plate,
    }
    return {key: why for key, why in given.items() if why.strip()}


def _energy(at: PlantState) -> tuple[float | None, float]:
    return (at.run.energy_wh, at.run.litres) if at.run else (None, 0.0)


def _attendance(at: PlantState, last: Situation) -> AttendanceNow | None:
    message = attendance_message(at.run, last)
    return None if message is None else _clean(message)


def _purge(at: PlantState, decisions: Decisions, present: Situation) -> PurgeNow | None:
    purge = at.retained.purge
    if purge is None:
        return None
    tests = end_test(purge.kinds)
    confirmation = Command("log", {"kind": PURGE_CONFIRMED, "confirmed": list(tests)})
    against = decisions.reasons(confirmation, present)
    return {
        "of": purge.of,
        "also": list(purge.also),
        "rinsed_l": rounded(purge.rinsed_l),
        "rinse_l": rounded(at.rinse_l()),
        "left_s": rounded(purge.left_s),
        "confirm": purge.left_s <= 0,
        "tests": list(tests),
        "not_now": [_clean(reason.as_message()) for reason in against],
    }


def _flush_alone(at: PlantState, decisions: Decisions, present: Situation) -> FlushAloneNow | None:
    """None where the owner's file does not allow it."""
    sequence, consent = at.settings.sequence, at.retained.flush_consent
    if not sequence.automatic_flush:
        return None
    in_force = consent is not None and consent.ended is None
    against = (*at.alone.people, *at.alone.plant) if in_force else ()
    next_s = decisions.next_flush_alone_s(present) if in_force else None
    return {
        "flush_l": sequence.flush_l,
        "tank_percent": sequence.automatic_flush_tank_percent,
        "next_s": rounded(next_s),
        "notice_left_s": rounded(at.alone.left_s(present.now_s)),
        "consent": None
        if consent is None or not in_force
        else {
            "name": consent.name[:WHO_TOLD],
            "until_wall_s": rounded(consent.until_wall_s),
            "left_l": rounded(consent.left_l),
            "failures": consent.failures,
        },
        "not_now": [_clean(reason.as_message()) for reason in against],
    }


def now_message(at: PlantState, decisions: Decisions, last: Situation) -> SnapshotNow:
    """The body of a `now` message after the tick whose situation `last` is, without the stamps that housekeeping
    adds."""
    present = at.present(last)
    allowed, refused = decisions.overview(present)
    return {
        "simulated": at.simulated,
        "state": at.state,
        "since_s": rounded(last.now_s - at.position.since_s),
        "sentence": _clean(sentence(at, last, refused.get("start", ())).as_message()),
        "ask": asked(at, last),
        "first_out": at.position.first_out,
        "readings": {
            channel: {
                "value": rounded(reading.value),
                "raw": rounded(reading.raw),
                "unit": reading.unit,
                "quality": reading.quality,
                "age_s": rounded(reading.age_s),
            }
            for channel, reading in last.inputs.readings.items()
        },
        "contacts": dict(last.inputs.active),
        "retries": {f"0x{address:02x}": count for address, count in last.inputs.retries.items()},
        "derived": derived(last, *_energy(at)),
        "outputs": {output: output in at.outputs.on for output in OUTPUTS if output in at.settings.outputs},
        "run": at.run.message(last.now_s, last.flow_l_h) if at.run else None,
        "alarms": [_clean(alarm_message(alarm, last.now_s)) for alarm in at.alarms.alarms[:ALARMS_TOLD]],
        "out_of_service": [
            {
                "alarm": withdrawn.alarm,
                "who": withdrawn.who[:WHO_TOLD],
                "why": withdrawn.why[:OUT_OF_SERVICE_WHY],
                "wall_s": withdrawn.wall_s,
            }
            for withdrawn in at.retained.out_of_service[:OUT_OF_SERVICE_TOLD]
        ],
        "attendance": _attendance(at, last),
        "owed": {
            "flush": at.retained.flush_owed,
            "chlorine": at.retained.chlorine_suspected,
            "purge": _purge(at, decisions, present),
        },
        "flush_alone": _flush_alone(at, decisions, present),
        "locked": {"name": at.retained.lock.name, "reason": at.retained.lock.reason} if at.retained.lock else None,
        "allowed": allowed,
        "refused": {name: [_clean(reason.as_message()) for reason in reasons] for name, reasons in refused.items()},
        "limits": limits(at.settings),
        "given_reasons": given_reasons(at.settings),
        "prospect": _clean(prospect_message(at, present)),
        "drive": {"pump": at.settings.drive.pump, "regulator": at.settings.drive.regulator},
        "questions": list(questions(at.retained.trips_proved_wall_s, last.inputs.wall_s))
        if at.settings.sequence.start_questions
        else [],
    }


def row_message(
    at: PlantState, last: Situation, statistics: Mapping[str, tuple[float, float] | None]
) -> dict[str, Any]:
    """One second of the record: value, least, most, raw and quality of each channel."""
    channels = {}
    for channel, reading in last.inputs.readings.items():
        low, high = statistics.get(channel) or (reading.value, reading.value)
        channels[channel] = [
            rounded(reading.value),
            rounded(low),
            rounded(high),
            rounded(reading.raw),
            reading.quality.value,
        ]
    return {
        "state": at.state.value,
        "ch": channels,
        "d": {name: value for name, value in derived(last, *_energy(at)).items() if value is not None},
        "out": sorted(at.outputs.on),
        "run": {
            "id": at.run.id,
            "litres": round(at.run.litres, 4),
            "energy_wh": round(at.run.energy_wh, 3),
        }
        if at.run
        else None,
    }


def _clean(message: Message) -> Message:
    cleaned = {key: _clean(value) if isinstance(value, dict) else rounded(value) for key, value in message.items()}
    return cast(Message, cleaned)
