"""Rows of the link as rows of the record: checked, flattened, and at rest folded to one in ten seconds."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import groupby
from typing import Any

from halocline.plant.vocabulary import CHANNELS, DERIVED
from halocline.report.schema import CHANNEL_PARTS, PLACE

Sample = tuple[Any, ...]

REST_STATES = frozenset({"standby", "laid_up"})
FOLD_S = 10

_SEQ, _MONO, _WALL, _STATE, _ROWS = (PLACE[name] for name in ("seq", "mono_s", "wall_s", "state", "rows"))
_UNCHANGED = tuple(PLACE[name] for name in ("boot", "state", "outputs", "run"))
_QUALITIES = tuple(PLACE[f"{channel}_quality"] for channel in CHANNELS)
_NOTHING = (None,) * len(CHANNEL_PARTS)


def sample_of(boot: int, row: Mapping[str, Any], wall_s: float | None) -> Sample:
    """A link row as the values of `SAMPLE_COLUMNS`. Raises KeyError, TypeError or ValueError for nonsense."""
    channels, derived, run = row.get("ch") or {}, row.get("d") or {}, row.get("run") or {}
    values: list[Any] = [
        boot,
        row["seq"],
        _needed(row["mono_s"]),
        _number(wall_s),
        _text(row.get("state")),
        ",".join(row.get("out") or ()),
        str(run["id"]) if run else None,
        _number(run.get("litres")),
        _number(run.get("energy_wh")),
    ]
    for channel in CHANNELS:
        given = channels.get(channel)
        if given is None:
            values += _NOTHING
        else:
            value, low, high, raw, quality = given
            values += (_number(value), _number(low), _number(high), _number(raw))
            values.append(None if quality == "good" else _text(quality))
    values += (_number(derived.get(name)) for name in DERIVED)
    values.append(1)
    return tuple(values)


def _number(value: Any) -> float | None:
    if value is None:
        return None
    if type(value) is float or type(value) is int:
        return value + 0.0  # as SQLite gives it back: no whole number, and no -0.0
    raise TypeError(f"{value!r} is no number")


def _needed(value: Any) -> float:
    number = _number(value)
    if number is None:
        raise TypeError("a row needs its mono_s")
    return number


def _text(value: Any) -> str | None:
    if value is None or isinstance(value, str):
        return value
    raise TypeError(f"{value!r} is no text")


def folded(samples: Iterable[Sample]) -> Iterator[Sample]:
    """At rest, while nothing changes, what stands in the same ten seconds becomes one row; the rest passes as it is.

    Its values are means, its extremes those of all rows, its number and time those of the last.
    """
    for key, group in groupby(samples, _fold_key):
        rows = list(group)
        if len(rows) == 1 or key[0] not in REST_STATES:
            yield from rows
        else:
            yield _fold(rows)


def _fold_key(sample: Sample) -> tuple[Any, ...]:
    state, wall_s = sample[_STATE], sample[_WALL]
    if state not in REST_STATES:
        return (state,)
    time_s = sample[_MONO] if wall_s is None else wall_s
    unchanged = (sample[place] for place in (*_UNCHANGED, *_QUALITIES))
    return (state, wall_s is None, time_s // FOLD_S, *unchanged)


def _fold(rows: Sequence[Sample]) -> Sample:
    last = list(rows[-1])
    columns = tuple(zip(*rows, strict=True))
    for channel in CHANNELS:
        value, low, high = (PLACE[channel + part] for part in ("", "_min", "_max"))
        last[low] = _of(min, [*columns[low], *columns[value]])
        last[high] = _of(max, [*columns[high], *columns[value]])
        last[value] = _mean(columns[value])
    for name in DERIVED:
        last[PLACE[name]] = _mean(columns[PLACE[name]])
    last[_ROWS] = sum(columns[_ROWS])
    return tuple(last)


def _of(extreme: Any, values: Sequence[float | None]) -> float | None:
    known = [value for value in values if value is not None]
    return extreme(known) if known else None


def _mean(values: Sequence[float | None]) -> float | None:
    known = [value for value in values if value is not None]
    return round(sum(known) / len(known), 4) + 0.0 if known else None
