"""`halocline rehearse`: play a scenario and say what came of it."""

import argparse
import json
from pathlib import Path
from typing import Any

from halocline.cli.errors import Unusable
from halocline.config import ConfigError
from halocline.rehearsal.scenario import load
from halocline.rehearsal.scenario_runner import ScenarioRunner
from halocline.rehearsal.timeline import as_text, write_folder


def add_parser(subparsers: Any) -> None:
    """Add the command."""
    parser = subparsers.add_parser("rehearse", help="play a scenario on the simulated boat, much faster than real")
    parser.add_argument("scenario", type=Path, help="scenario file (TOML)")
    parser.add_argument("--json", action="store_true", help="one JSON object instead of a timeline")
    parser.add_argument(
        "--out", type=Path, metavar="DIR", help="write timeline, picture, samples and result to this folder"
    )
    parser.add_argument("--seed", type=int, default=1, help="seed of the sensors' noise (1)")
    parser.set_defaults(handler=_rehearse)


def _rehearse(arguments: argparse.Namespace) -> int:
    try:
        stage = ScenarioRunner(load(arguments.scenario), arguments.seed, keep_samples=arguments.out is not None)
        result = stage.play()
    except ConfigError as error:
        raise Unusable(str(problem) for problem in error.problems) from error
    if arguments.out is not None:
        try:
            write_folder(arguments.out, result, stage.played)
        except OSError as error:
            raise Unusable(f"{arguments.out}: cannot be written: {error.strerror}") from error
    print(json.dumps(result, ensure_ascii=False, indent=2) if arguments.json else as_text(result, stage.played))
    return 0 if result["ok"] else 1
