"""`halocline runs`: what the record knows of runs, as a list, one in full, or one on a sheet of paper."""

import argparse
import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from halocline.app.boat_name import boat_name
from halocline.cli import boat_units, record_place
from halocline.cli.errors import Unusable
from halocline.plant import words
from halocline.plant.settings import UnitSettings
from halocline.plant.words.moments import minute_of
from halocline.report.database_open import StoreError
from halocline.report.journal import MAX_LISTED, Journal, Run
from halocline.report.public import run_message
from halocline.report.quarantine import kept_aside
from halocline.report.run_sheet import ended
from halocline.report.texts import RECORD_ASIDE, RECORD_ASIDE_DO, hole_text

FIGURES: tuple[tuple[str, str], ...] = (
    ("lasted", "seconds"),
    ("into the tank", "litres"),
    ("overboard", "overboard_l"),
    ("flushed with", "flush_l"),
    ("salt, mean", "tds_mean_mg_l"),
    ("salt, one sample", "tds_worst_mg_l"),
    ("highest pressure", "peak_pressure_bar"),
    ("energy of pumps", "energy_wh"),
)

_LISTED = ("seconds", "litres", "tds_mean_mg_l", "energy_wh")


def add_parser(subparsers: Any) -> None:
    """Add the command."""
    parser = subparsers.add_parser("runs", help="what was made, when, how, and why it ended")
    parser.add_argument("run", nargs="?", metavar="RUN", help="one run: its number, its id, or last")
    record_place.add_arguments(parser)
    parser.add_argument("--config", type=Path, metavar="F", help="configuration file, for the boat's name and units")
    parser.add_argument("--limit", type=int, default=20, metavar="N", help="how many to list (20)")
    parser.add_argument("--json", action="store_true", help="as JSON")
    parser.add_argument("--html", type=Path, metavar="FILE", help="one run as a page to print on one sheet")
    parser.add_argument("--holes", action="store_true", help="what the record has not got")
    parser.set_defaults(handler=_runs)


def _runs(arguments: argparse.Namespace) -> int:
    record = record_place.record_to_read(arguments)
    units = boat_units.units_of(arguments.config)
    journal = Journal(record)
    try:
        if arguments.holes:
            return _holes(journal, kept_aside(record), as_json=arguments.json)
        if arguments.html is not None:
            return _sheet(record, _one(journal, arguments.run or "last"), arguments, units)
        if arguments.run is not None:
            return _tell(_one(journal, arguments.run), units, as_json=arguments.json)
        runs = journal.runs(max(1, min(arguments.limit, MAX_LISTED)))
    except StoreError as error:
        raise Unusable(str(error), exit_status=1) from error
    if arguments.json:
        print(json.dumps({"runs": [run_message(run, units) for run in runs]}, ensure_ascii=False, indent=2))
    else:
        for line in _table(runs, units):
            print(line)
    return 0


def _one(journal: Journal, name: str) -> Run:
    run = next(iter(journal.runs(1)), None) if name == "last" else journal.run(name)
    if run is None:
        raise Unusable(f"there is no run {name} in the record; halocline runs lists them", exit_status=1)
    return run


def _tell(run: Run, units: UnitSettings, *, as_json: bool) -> int:
    if as_json:
        message = {**run_message(run, units), "configuration": dict(run.configuration), "simulated": run.simulated}
        print(json.dumps(message, ensure_ascii=False, indent=2))
        return 0
    goes_on = run.why is None
    print(f"Run {run.id} ({run.run}){', SIMULATED' if run.simulated else ''}")
    for name, text in (
        ("started", minute_of(run.started_s)),
        ("ended", ended(run)),
        ("asked by", _asked_by(run)),
        ("why it ended", "–" if goes_on else words.reason(dict(run.why or {}), units)),
    ):
        print(f"  {name:18} {text}")
    if goes_on:
        print("What it made is told when it has ended; until then halocline status tells what there is so far.")
        return 0
    for name, figure in FIGURES:
        print(f"  {name:18} {words.run_figure(figure, run.figures, units, cut_off=run.cut_off)}")
    print(f"  {'':18} {words.energy_basis(run.energy_basis)}")
    print(f"{words.PEAK_MEANS} {words.SALT_MEANS}")
    return 0


def _asked_by(run: Run) -> str:
    origin = None if run.origin is None else words.origin_name(run.origin)
    return ", ".join(name for name in (run.who, origin) if name) or "not on record"


def _sheet(record: Path, run: Run, arguments: argparse.Namespace, units: UnitSettings) -> int:
    from halocline.report.run_report import run_report  # noqa: PLC0415

    boat = boat_name(arguments.config, simulated=run.simulated)
    try:
        arguments.html.write_text(run_report(record, run, boat, units), encoding="utf-8")
    except OSError as error:
        raise Unusable(f"{arguments.html}: {error.strerror}") from error
    print(f"Run {run.id} is on {arguments.html}; open it in a browser and print it.")
    return 0


def _holes(journal: Journal, aside: Sequence[str], *, as_json: bool) -> int:
    holes, taken = journal.holes(), journal.unaccounted()
    if as_json:
        print(json.dumps({"holes": holes, "unaccounted": [gap._asdict() for gap in taken], "aside": aside}, indent=2))
    elif not holes and not taken and not aside:
        print("Nothing is missing.")
    else:
        for gap in taken:
            what = "say something else than was written" if gap.altered else "are gone"
            print(f"{gap.boot or gap.of}: {gap.missing} from {gap.from_seq} to {gap.to_seq} {what} ({gap.of})")
        for hole in holes:
            print(f"{hole['boot']}: {hole_text(hole['from_seq'], hole['to_seq'], hole['reason'])}")
        if aside:
            print(f"{RECORD_ASIDE.format(names=', '.join(aside))} {RECORD_ASIDE_DO}")
    return 0


def _table(runs: Sequence[Run], units: UnitSettings) -> list[str]:
    if not runs:
        return ["No run is recorded yet."]
    head = f"{'lasted':>12}  {'tank':>8}  {'salt':>9}  {'energy':>8}"
    began = [minute_of(run.started_s) for run in runs]
    width = max(map(len, began))
    lines = [f"{'run':>5}  {'started':{width}}  {head}  why it ended"]
    for run, started in zip(runs, began, strict=True):
        lasted, tank, salt, energy = (_short(run, figure, units) for figure in _LISTED)
        why = "goes on" if run.why is None else words.reason_alone(run.why, units)
        lines.append(f"{run.id:>5}  {started:{width}}  {lasted:>12}  {tank:>8}  {salt:>9}  {energy:>8}  {why}")
    return lines


def _short(run: Run, figure: str, units: UnitSettings) -> str:
    """≥ where nobody told the end of the run."""
    value, least = run.figures[figure], run.cut_off and words.FIGURES[figure].grows
    if value is None or (least and value <= 0.0):
        return "–"
    return ("≥ " if least else "") + words.quantity(value, words.FIGURES[figure].unit, units, down=least)
