"""`halocline backup`, `restore` and `salvage`: copies of the record, checked before anybody relies on them."""

import argparse
from pathlib import Path
from typing import Any

from halocline.cli import record_place
from halocline.cli.errors import Unusable
from halocline.cli.progress import Progress
from halocline.plant.words.moments import date_of
from halocline.report.backup import Contents, back_up, restore
from halocline.report.database_open import StoreError
from halocline.report.feed import RECORD_NAME
from halocline.report.salvage import salvage


def add_parser(subparsers: Any) -> None:
    """Add the commands."""
    backup = subparsers.add_parser("backup", help="copy the record while it is written, and check the copy")
    record_place.add_arguments(backup)
    backup.add_argument("--to", type=Path, metavar="DIR", help="folder of the copies (default: backups, in the data)")
    backup.add_argument("--keep", type=int, default=7, metavar="N", help="how many copies to keep there (7)")
    backup.set_defaults(handler=_backup)
    put_back = subparsers.add_parser("restore", help="put a copy in the record's place, after it was checked")
    put_back.add_argument("copy", type=Path, metavar="FILE", help="the copy")
    record_place.add_arguments(put_back)
    put_back.set_defaults(handler=_restore)
    save = subparsers.add_parser(
        "salvage",
        help="read what can be read of a damaged record into a new file",
        description="Reads row by row what can still be read of a damaged record and writes it into a new file, with "
        "the rows of the record that took its place. Both stay as they are. At the end it says how many rows are lost "
        "and how the new file is put in place.",
    )
    save.add_argument("damaged", type=Path, metavar="FILE", help="the file that was set aside")
    save.add_argument("--to", type=Path, metavar="FILE", help="the new file (default: beside it)")
    record_place.add_arguments(save)
    save.set_defaults(handler=_salvage)


def _backup(arguments: argparse.Namespace) -> int:
    if arguments.keep < 1:
        raise Unusable("--keep has to be 1 or more")
    record = record_place.record_to_read(arguments)
    folder = arguments.to or record.parent / "backups"
    try:
        with Progress("backup") as progress:
            copy, contents = back_up(record, folder, arguments.keep, progress)
    except StoreError as error:
        raise Unusable(str(error), exit_status=1) from error
    print(f"{copy}: checked, {_told(contents)}")
    return 0


def _restore(arguments: argparse.Namespace) -> int:
    if not arguments.copy.exists():
        raise Unusable(f"{arguments.copy}: there is no such file")
    record = _record_to_replace(arguments)
    try:
        with Progress("restore") as progress:
            former, contents = restore(arguments.copy, record, progress)
    except StoreError as error:
        raise Unusable(str(error), exit_status=1) from error
    print(f"{record}: restored, {_told(contents)}")
    if former is not None:
        print(f"The former record is {former}")
    return 0


def _record_to_replace(arguments: argparse.Namespace) -> Path:
    folders = record_place.folders_of(arguments)
    found = [folder for folder in folders if record_place.has_record(folder)]
    if not found and arguments.data is None:
        raise Unusable("there is no record to replace; name its folder with --data")
    return Path((found or folders)[0]) / RECORD_NAME


def _salvage(arguments: argparse.Namespace) -> int:
    damaged = arguments.damaged
    if not damaged.exists():
        found = [folder / damaged for folder in record_place.folders_of(arguments) if (folder / damaged).exists()]
        if not found:
            raise Unusable(f"{damaged}: there is no such file")
        damaged = found[0]
    current = damaged.with_name(RECORD_NAME)
    target = arguments.to or damaged.with_name(f"{damaged.name}.salvaged.sqlite3")
    sources = [damaged, *([current] if current.exists() and current != damaged else [])]
    try:
        with Progress("salvage") as progress:
            saved = salvage(sources, target, progress)
    except StoreError as error:
        raise Unusable(str(error), exit_status=1) from error
    print(f"{target}: {', '.join(f'{count} {table}' for table, count in saved.rows.items() if count)}")
    if saved.unreadable:
        print(f"{saved.unreadable} places could not be read.")
    if saved.lost:
        told = "rows or events that control told could not be saved; at rest up to ten such rows are one of the record"
        print(f"{saved.lost} {told}. In the new file halocline runs --holes tells which.")
    print(f"To use it, end halocline, then: halocline restore {target} --data {damaged.parent}")
    return 0


def _told(contents: Contents) -> str:
    span = ""
    if contents.first_s is not None and contents.last_s is not None:
        span = f", {date_of(contents.first_s)} to {date_of(contents.last_s)}"
    return f"{contents.samples} samples, {contents.events} events, {contents.runs} runs{span}"
