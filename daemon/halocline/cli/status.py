"""`halocline status`: what the plant does and why, in a few lines or as JSON."""

import argparse
import json
from collections.abc import Mapping
from datetime import datetime
from typing import Any

from halocline.app.boat_name import NAMELESS
from halocline.cli import line
from halocline.plant import words
from halocline.plant.settings import UnitSettings
from halocline.plant.words.moments import minute_of
from halocline.report.public import Frame, snapshot
from halocline.report.public_types import FlushAlone, PublicSnapshot

MOVING_L_H = 1.0
"""Below it nothing moves that a probe could tell of."""

FOLLOWS = "suppressed"
"""An alarm in this state comes with another, and goes with it: that one says what to do."""

SHOWN = (
    "vessel_pressure",
    "feed_pressure",
    "product_flow",
    "sea_temperature",
    "tank_fill",
    "battery_voltage",
)


def add_parser(subparsers: Any) -> None:
    """Add the command."""
    parser = subparsers.add_parser("status", help="what the plant does, and why")
    line.add_arguments(parser)
    parser.add_argument("--json", action="store_true", help="the whole snapshot as JSON")
    parser.set_defaults(handler=_status)


def _status(arguments: argparse.Namespace) -> int:
    with line.connect(arguments) as client:
        now = line.now_of(client)
    units = line.units_of(client, arguments)
    frame = Frame(boat=str(client.hello.get("boat") or NAMELESS), units=units, simulated=now["simulated"])
    public = snapshot(now, 0.0, frame)
    if arguments.json:
        print(json.dumps(public, ensure_ascii=False, indent=2))
        return 0
    for text in status_lines(public, units):
        print(text)
    return 0


def status_lines(public: PublicSnapshot, units: UnitSettings) -> list[str]:
    """What is printed: boat, sentence, what is asked, the alarms, the numbers, the run."""
    lines = [f"{public['boat']}, SIMULATED" if public["simulated"] else public["boat"]]
    lines.append(public["sentence"])
    asked = public["ask"]
    if asked is not None and asked["place"] is words.AskPlace.APART:
        lines.append(f"→ {asked['text']}")
    for alarm in public["alarms"] or ():
        remedy = "" if alarm["state"] == FOLLOWS else f": {alarm['do']}"
        standing = f"{words.priority_name(alarm['priority'])}, {words.alarm_state_name(alarm['state'])}"
        lines.append(f"! {words.alarm_name(alarm['id'])} ({standing}){remedy}")
    tds = public["derived"].get("product_tds_mg_l")
    doubt = "" if tds is None else _salt_doubt(public["readings"].get("product_flow"))
    lines.append(f"  {'salt in product':22} {words.quantity(tds, 'mg/L', units)}{doubt}")
    for channel in SHOWN:
        reading = public["readings"].get(channel)
        if reading is None:
            continue
        shown = words.quantity(reading["value"], reading["unit"], units)
        doubt = "" if reading["quality"] == "good" else f"  ({words.quality_text(reading['quality'])})"
        lines.append(f"  {words.channel_name(channel):22} {shown}{doubt}")
    owed, run = public["owed"], public["run"]
    if owed is not None and owed["flush"] and run is None:
        lines.append("  owed                   a fresh-water flush: sea water stands in the membrane")
    alone = public["flush_alone"]
    if alone is not None and alone["by"] is not None:
        lines.append(f"  flushes by itself      {_consent(alone, units)}")
    purge = None if owed is None else owed["purge"]
    if purge is not None:
        lines.append(
            f"  owed                   the first water goes overboard: it may carry {purge['named']}, nobody drinks it"
        )
        lines += [f"  end test               {test['id']}: {test['text']}" for test in purge["tests"]]
        if purge["confirm"]:
            done = " ".join(test["id"] for test in purge["tests"])
            lines.append(f"  once all are passed    halocline log add purge_confirmed --confirmed {done}")
    if run is not None:
        target = "" if run["target_l"] is None else f" of {words.quantity(run['target_l'], 'L', units)}"
        lines.append(f"  this run               {words.quantity(run['litres'], 'L', units)}{target}")
    return lines


def _consent(alone: FlushAlone, units: UnitSettings) -> str:
    """Who consented, until when, to how much, and when the next flush comes."""
    left = words.quantity(alone["left_l"], "L", units)
    return (
        f"{alone['by']} consented until {_local(alone['until'])}, at most {left} more in all; "
        f"the next {_local(alone['next'])} at the earliest"
    )


def _local(iso: str | None) -> str:
    """The boat's time of day on that date."""
    if iso is None:
        return "at a time not known"
    return minute_of(datetime.fromisoformat(iso).timestamp())


def _salt_doubt(flow: Mapping[str, Any] | None) -> str:
    """What the salt is of, where it is not known to be of flowing product: a dry probe reads like perfect water."""
    if flow is None or flow["quality"] != "good" or flow["value"] is None:
        return "  (whether product flows is not known)"
    return "" if flow["value"] > MOVING_L_H else "  (no product flows: what stands at the probe, or a dry probe)"
