"""A live snapshot as the link carries it: a plant at rest. Values are invented."""

WALL_S = 1_790_000_000.0


def reading(value, unit="bar", quality="good", raw=1.5):
    return {"value": value, "raw": raw, "unit": unit, "quality": quality, "age_s": 0.1}


def live_now(**changes):
    return {
        "boot": "b1",
        "seq": 7,
        "mono_s": 100.0,
        "wall_s": WALL_S,
        "uptime_s": 90.0,
        "simulated": True,
        "state": "standby",
        "since_s": 60.0,
        "sentence": {"id": "standby_ready", "values": {"why": "command_stop"}},
        "ask": None,
        "first_out": None,
        "readings": {"vessel_pressure": reading(0.2)},
        "contacts": {"stop_button": False},
        "derived": {"product_tds_mg_l": None},
        "outputs": {"feed_pump": False, "heartbeat": True},
        "run": None,
        "alarms": [],
        "owed": {"flush": False, "chlorine": False, "purge": None},
        "flush_alone": None,
        "locked": None,
        "allowed": ["start", "stop"],
        "refused": {"reset": [{"id": "is_standby", "values": {}}]},
        "limits": {"accept_tds_mg_l": 500.0},
        "attendance": None,
        "out_of_service": [],
        "retries": {},
        "given_reasons": {},
        "prospect": {},
        "drive": {"pump": "relay", "regulator": "hand_each_run"},
        "questions": [],
        **changes,
    }
