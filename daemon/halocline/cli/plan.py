"""`halocline plan`: when to make water in the coming days, and what a run would give now. Starts nothing."""

import argparse
import json
import time
from pathlib import Path
from typing import Any

from halocline.app.paths import SYSTEM_CONFIG
from halocline.cli import boat_units, line, record_place
from halocline.cli.errors import Unusable
from halocline.cli.orders import number
from halocline.config import ConfigError, load_demo, load_report
from halocline.plant import words
from halocline.plant.offer import Need, need_of, prospect_of
from halocline.plant.regular_file import OURS_MOST_BYTES, read_regular
from halocline.plant.settings import PlanSettings, UnitSettings
from halocline.report.plan import offer_message, plan_message
from halocline.report.planning.answer import answered
from halocline.report.planning.planner import Planner
from halocline.report.planning.question import Unaskable, question_of


def add_parser(subparsers: Any) -> None:
    """Add the command."""
    parser = subparsers.add_parser("plan", help="what a run would give now, and what ends it; starts nothing")
    parser.add_argument("--litres", type=number, help="litres into the tank")
    parser.add_argument("--minutes", type=number, help="minutes of water into the tank")
    parser.add_argument("--until", help="a time of day (18:30) or an ISO 8601 date and time")
    parser.add_argument(
        "--from", dest="case", type=Path, metavar="CASE.json", help="plan for the question in this file instead"
    )
    line.add_arguments(parser)
    parser.add_argument("--json", action="store_true", help="as JSON")
    parser.set_defaults(handler=_plan)


def _plan(arguments: argparse.Namespace) -> int:
    if arguments.case is not None:
        return _of_case(arguments)
    with line.connect(arguments) as client:
        now = line.now_of(client)
    units, wall_s = line.units_of(client, arguments), time.time()
    said = plan_message(now, units, wall_s)
    try:
        need = need_of(arguments.litres, arguments.minutes, arguments.until, wall_s)
    except ValueError as error:
        raise Unusable(str(error)) from error
    if need != Need() and (on := prospect_of(now)) is not None:
        said["offers"] = [offer_message(on, need, now, units, wall_s)]
    ahead = Planner(_record(arguments), _settings(arguments.config, simulated=bool(now.get("simulated")))).message(
        now, units, wall_s
    )
    if arguments.json:
        print(json.dumps({**said, "ahead": ahead}, ensure_ascii=False, indent=2))
        return 0
    answer = ahead["answer"]
    entered = [each["text"] for each in ahead["forbidden"]] + ([ahead["forecast"]] if ahead["forecast"] else [])
    planned = ahead["missing"] if answer is None else words.plan_lines(answer, units)
    days = [*ahead["problems"], *planned, *entered]
    for text in [*days, *plan_lines(said, units)]:
        print(text)
    return 0


def _record(arguments: argparse.Namespace) -> Path | None:
    """The record, which tells use and settings; None where there is none to read."""
    try:
        return record_place.record_to_read(arguments)
    except Unusable:
        return None


def _settings(config: Path | None, *, simulated: bool) -> PlanSettings:
    """What was entered of battery, sun and crew; the defaults where no configuration can be read."""
    try:
        return load_demo()[1].plan if config is None and simulated else load_report(config or SYSTEM_CONFIG).plan
    except ConfigError:
        return PlanSettings()


def _of_case(arguments: argparse.Namespace) -> int:
    """The answer to the question in a file; no boat is asked."""
    try:
        said = answered(question_of(json.loads(read_regular(arguments.case, OURS_MOST_BYTES))))
    except OSError as error:
        raise Unusable(f"{arguments.case} cannot be read: {error.strerror}") from error
    except Unaskable as error:
        raise Unusable(error.lines) from error
    except (ValueError, RecursionError) as error:
        raise Unusable(f"{arguments.case} is no JSON: {error}") from error
    if arguments.json:
        print(json.dumps(said, ensure_ascii=False, indent=2))
        return 0
    for text in words.plan_lines(said, boat_units.units_of(arguments.config)):
        print(text)
    return 0


def plan_lines(said: dict[str, Any], units: UnitSettings) -> list[str]:
    """What is printed: why nothing can be had now, then each offer with its words."""
    lines = [f"- {reason}" for reason in said["reasons"]]
    for each in said["offers"]:
        if each["reasons"]:
            lines += [f"- {reason}" for reason in each["reasons"]]
            continue
        cost = (words.quantity(each["seconds"], "s"), words.quantity(each["energy_wh"], "Wh", units))
        wanted = each["need"]["litres"]
        full = "until full" if each["ended_by"] == "tank" else "as much as one run gives"
        what = "asked for" if any(each["need"].values()) else full
        lines.append(f"{what if wanted is None else words.quantity(wanted, 'L', units)}: {cost[0]}, {cost[1]}")
        lines += [f"  {text}" for text in each["says"]]
    return [*lines, said["says"]] if said["says"] else lines
