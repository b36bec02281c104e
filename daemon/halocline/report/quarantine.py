"""What was set aside beside the record and waits for a person: while it lies there, its loss is told."""

from pathlib import Path

from halocline.report.write_ahead import beside

DAMAGED, REJECTED = "damaged", "rejected"


def kept_aside(record: Path) -> tuple[str, ...]:
    """The names of damaged records and journals beside this one, oldest first; none where it cannot be seen."""
    try:
        names = sorted(path.name for path in record.parent.iterdir())
    except OSError:
        return ()
    return tuple(name for name in names if _is_aside(name, record))


def _is_aside(name: str, record: Path) -> bool:
    """A copy that salvage made of one has a name behind the number, and what SQLite puts beside one, too."""
    whats = (f"{record.name}.{DAMAGED}-", f"{beside(record).name}.{REJECTED}-")
    return any(name.startswith(what) and name.removeprefix(what).isdigit() for what in whats)
