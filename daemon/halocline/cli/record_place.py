"""Where the record lies that a command reads."""

import argparse
from pathlib import Path

from halocline.app.paths import SYSTEM_STATE, state_dir
from halocline.cli.errors import Unusable
from halocline.report.feed import RECORD_NAME


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """How to find the record."""
    parser.add_argument("--data", type=Path, metavar="DIR", help="data folder of the report process")


def record_to_read(arguments: argparse.Namespace) -> Path:
    """The record in the folder named, else the first that is found. Raises Unusable when there is none."""
    folders = folders_of(arguments)
    for folder in folders:
        if has_record(folder):
            return folder / RECORD_NAME
    looked = ", ".join(str(folder) for folder in folders)
    raise Unusable(f"there is no record in {looked}. Name the folder with --data", exit_status=1)


def has_record(folder: Path) -> bool:
    """Whether a record lies there. Raises Unusable where one may not look."""
    try:
        return (folder / RECORD_NAME).exists()
    except PermissionError:
        who = folder.owner() if folder.exists() else "its owner"
        raise Unusable(f"{folder} is not yours to read; put before the command: sudo -u {who}", exit_status=1) from None


def folders_of(arguments: argparse.Namespace) -> list[Path]:
    """Where a record may lie, the likeliest first."""
    if arguments.data is not None:
        return [arguments.data]
    return [SYSTEM_STATE, *(state_dir(simulated=simulated) for simulated in (False, True))]
