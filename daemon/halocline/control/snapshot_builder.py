"""The live snapshot and the recorded row as plain values: ids and numbers only, ready for the link."""

import math
from collections.abc import Mapping
from typing import Any, TypeVar, cast

from halocline.control.annunciator import alarm_message
from halocline.control.core import Core
from halocline.control.duties.attendance import attendance_message
from halocline.control.inputs import Command
from halocline.control.permissives.people import QUESTIONS
from halocline.control.permissives.upkeep import PURGE_CONFIRMED
from halocline.control.prospect import prospect_message
from halocline.control.situation import Situation
from halocline.control.status_message import sentence
from halocline.link.snapshot import AttendanceNow, PurgeNow, SnapshotNow
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


def _energy(core: Core) -> tuple[float | None, float]:
    return (core.plant.run.energy_wh, core.plant.run.litres) if core.plant.run else (None, 0.0)


def _attendance(core: Core, now: Situation) -> AttendanceNow | None:
    message = attendance_message(core.plant.run, now)
    return None if message is None else _clean(message)


def _purge(core: Core) -> PurgeNow | None:
    purge = core.plant.retained.purge
    if purge is None:
        return None
    tests = end_test(purge.kinds)
    confirmation = Command("log", {"kind": PURGE_CONFIRMED, "confirmed": list(tests)})
    against = core.decisions.reasons(confirmation, core.present())
    return {
        "of": purge.of,
        "also": list(purge.also),
        "rinsed_l": rounded(purge.rinsed_l),
        "rinse_l": rounded(core.plant.rinse_l()),
        "left_s": rounded(purge.left_s),
        "confirm": purge.left_s <= 0,
        "tests": list(tests),
        "not_now": [_clean(reason.as_message()) for reason in against],
    }


def now_message(core: Core) -> SnapshotNow:
    """The body of a `now` message, without the stamps that housekeeping adds."""
    now = core.last
    assert now is not None
    allowed, refused = core.decisions.overview(core.present())
    said = sentence(core)
    return {
        "simulated": core.plant.simulated,
        "state": core.plant.state,
        "since_s": rounded(now.now_s - core.plant.position.since_s),
        "sentence": _clean(said.as_message()),
        "ask": core.ask(),
        "first_out": core.first_out,
        "readings": {
            channel: {
                "value": rounded(reading.value),
                "raw": rounded(reading.raw),
                "unit": reading.unit,
                "quality": reading.quality,
                "age_s": rounded(reading.age_s),
            }
            for channel, reading in now.inputs.readings.items()
        },
        "contacts": dict(now.inputs.active),
        "retries": {f"0x{address:02x}": count for address, count in now.inputs.retries.items()},
        "derived": derived(now, *_energy(core)),
        "outputs": {output: output in core.on for output in OUTPUTS if output in core.plant.settings.outputs},
        "run": core.plant.run.message(now.now_s, now.flow_l_h) if core.plant.run else None,
        "alarms": [_clean(alarm_message(alarm, now.now_s)) for alarm in core.plant.alarms.alarms[:ALARMS_TOLD]],
        "out_of_service": [
            {
                "alarm": withdrawn.alarm,
                "who": withdrawn.who[:WHO_TOLD],
                "why": withdrawn.why[:OUT_OF_SERVICE_WHY],
                "wall_s": withdrawn.wall_s,
            }
            for withdrawn in core.plant.retained.out_of_service[:OUT_OF_SERVICE_TOLD]
        ],
        "attendance": _attendance(core, now),
        "owed": {
            "flush": core.plant.retained.flush_owed,
            "chlorine": core.plant.retained.chlorine_suspected,
            "purge": _purge(core),
        },
        "locked": {"name": core.plant.retained.lock.name, "reason": core.plant.retained.lock.reason}
        if core.plant.retained.lock
        else None,
        "allowed": allowed,
        "refused": {name: [_clean(reason.as_message()) for reason in reasons] for name, reasons in refused.items()},
        "limits": limits(core.plant.settings),
        "given_reasons": given_reasons(core.plant.settings),
        "prospect": _clean(prospect_message(core.plant, core.present())),
        "drive": {"pump": core.plant.settings.drive.pump, "regulator": core.plant.settings.drive.regulator},
        "questions": list(QUESTIONS) if core.plant.settings.sequence.start_questions else [],
    }


def row_message(core: Core, statistics: Mapping[str, tuple[float, float] | None]) -> dict[str, Any]:
    """One second of the record: value, least, most, raw and quality of each channel."""
    now = core.last
    assert now is not None
    channels = {}
    for channel, reading in now.inputs.readings.items():
        low, high = statistics.get(channel) or (reading.value, reading.value)
        channels[channel] = [
            rounded(reading.value),
            rounded(low),
            rounded(high),
            rounded(reading.raw),
            reading.quality.value,
        ]
    return {
        "state": core.plant.state.value,
        "ch": channels,
        "d": {name: value for name, value in derived(now, *_energy(core)).items() if value is not None},
        "out": sorted(core.on),
        "run": {
            "id": core.plant.run.id,
            "litres": round(core.plant.run.litres, 4),
            "energy_wh": round(core.plant.run.energy_wh, 3),
        }
        if core.plant.run
        else None,
    }


def _clean(message: Message) -> Message:
    cleaned = {key: _clean(value) if isinstance(value, dict) else rounded(value) for key, value in message.items()}
    return cast(Message, cleaned)
