"""A record copied as one file while it is written: whole and on the card, or not there."""

import contextlib
import os
import sqlite3
from collections.abc import Callable
from pathlib import Path

from halocline.report.database_open import TROUBLE, connect_to_read, said

STEP_PAGES = 500

Progress = Callable[[float], None]


def copy_record(source: Path, target: Path, progress: Progress = lambda _: None) -> None:
    """One consistent state of the source, as one file that needs no journal beside it; whole, or not there."""
    making = target.with_name(f"{target.name}.part")
    making.unlink(missing_ok=True)
    try:
        with (
            contextlib.closing(connect_to_read(source)) as reader,
            contextlib.closing(sqlite3.connect(making, isolation_level=None)) as writer,
        ):
            reader.execute("BEGIN")
            reader.execute("SELECT count(*) FROM boots").fetchone()

            def told(_status: int, remaining: int, total: int) -> None:
                progress(1.0 - remaining / max(total, 1))

            reader.backup(writer, pages=STEP_PAGES, progress=told, sleep=0.0)
            writer.execute("PRAGMA journal_mode=DELETE")
        sync(making)
        making.rename(target)
        sync(target.parent)
    except TROUBLE as error:
        raise said(source, "copied", error) from None
    finally:
        making.unlink(missing_ok=True)


def sync(path: Path) -> None:
    """Puts a file or folder on the card. Raises OSError."""
    descriptor = os.open(path, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
