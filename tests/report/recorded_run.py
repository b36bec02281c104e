"""One evening aboard, as the link tells it: a start, a run with a spike and an alarm, a flush, a note, more."""

import contextlib

from halocline.report.store import Entry, Store

WALL_S = 1_790_000_000.0
"""2026-09-21 14:13:20 UTC."""
RUN_S = 600


def row(seq, mono_s, state, run=None, *, dated=True):
    making = state == "producing"
    pressure = [55.0, 54.6, 61.5 if seq == 300 else 55.4, 2.2, "good"] if making else [0.0, 0.0, 0.1, 0.6, "good"]
    return {
        "seq": seq,
        "mono_s": mono_s,
        "wall_s": WALL_S + mono_s if dated else None,
        "state": state,
        "ch": {
            "vessel_pressure": pressure,
            "sea_temperature": [21.5, 21.4, 21.6, 1.8, "good"],
            "product_flow": [58.0, 57.0, 59.0, 40.0, "good"] if making else [None, None, None, None, "stale"],
        },
        "d": {"product_tds_mg_l": 310.0} if making else {},
        "out": ["feed_pump", "high_pressure_pump"] if making else [],
        "run": run,
    }


def evening(boot="b1", *, dated=True):
    """Everything in order, as entries."""
    said = [
        ("command", {"command": "start", "origin": "page", "who": "Ana", "accepted": True, "arguments": {"litres": 9}}),
        ("state", {"from": "standby", "to": "producing", "why": {"id": "start_accepted", "values": {}}}),
        ("run_started", {"run": {"id": f"{boot}-1", "why": {"litres": 9.0}, "target_l": 9.0}}),
    ]
    entries = [
        Entry("hello", boot, {"boot": boot, "host_boot": "hb", "version": "0.1.0", "simulated": False}),
        Entry("configuration", boot, {"limits": {"accept_tds_mg_l": 500.0, "vessel_pressure_high_bar": 60.0}}),
    ]
    seq, mono_s = 0, 100.0

    def tell(kind, content):
        nonlocal seq
        seq += 1
        at = {"seq": seq, "mono_s": mono_s, "wall_s": WALL_S + mono_s if dated else None, "kind": kind}
        entries.append(Entry("event", boot, {**at, **content}))

    for kind, content in said:
        tell(kind, content)
    for second in range(RUN_S):
        seq, mono_s = seq + 1, mono_s + 1.0
        run = {"id": f"{boot}-1", "litres": second / 60.0, "energy_wh": second / 3.0}
        entries.append(Entry("row", boot, row(seq, mono_s, "producing", run, dated=dated)))
        if second == 400:
            raised = {"id": "vessel_pressure_high", "to": "unacknowledged", "priority": "high"}
            tell("alarm", {**raised, "values": {"pressure_bar": 61.5, "limit_bar": 60.0}})
    ended = {
        "id": f"{boot}-1",
        "why": {"id": "target_litres", "values": {"litres": 9.0}},
        "first_out": None,
        "started_mono_s": 100.0,
        "seconds": 600.0,
        "producing_s": 590.0,
        "litres": 9.5,
        "overboard_l": 1.2,
        "tds_worst_mg_l": 410.0,
        "tds_mean_mg_l": 310.0,
        "energy_wh": 200.0,
        "peak_pressure_bar": 61.5,
    }
    tell("run_ended", {"run": ended})
    tell("flush_ended", {"run": f"{boot}-1", "litres": 12.0, "seconds": 90.0, "complete": True, "measured": True})
    for _ in range(60):
        seq, mono_s = seq + 1, mono_s + 1.0
        entries.append(Entry("row", boot, row(seq, mono_s, "standby", dated=dated)))
    tell("log", {"what": "filter_changed", "note": "=both, brown", "who": "Ana"})
    tell("calibration", {"who": "Ana", "channel": "feed_pressure", "before": [0.1], "after": [0.0], "initials": "A.S."})
    return entries


def record_evening(path, *boots, dated=True):
    """A record of one such evening for each boot."""
    with contextlib.closing(Store(path)) as store:
        for boot in boots or ("b1",):
            entries = evening(boot, dated=dated)
            for begin in range(0, len(entries), 200):
                store.write(entries[begin : begin + 200])
    with contextlib.closing(Store(path)) as store:
        while store.backlog:
            store.write([])
    return path
