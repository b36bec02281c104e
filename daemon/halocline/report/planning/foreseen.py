"""What is foreseen and what is forbidden: from a file that others write, from the broker, from the page.

One file beside the record keeps what broker and page said, so that a restart forgets nothing. Of several forecasts the
newest counts.
"""

import json
import threading
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import Any, Literal

from halocline.plant import words
from halocline.plant.own_files import replace_whole
from halocline.plant.regular_file import OURS_MOST_BYTES, read_regular
from halocline.report.planning.question import LONGEST_H, Blocked, Forecast, Unaskable, forecast_of, timely
from halocline.report.watched_file import WatchedFile

NAME = "foreseen.json"
FILE_MODE = 0o640
FORBIDDEN_FOR = ("silt", "harbour", "bloom", "oil")
"""Why a water is forbidden, by id."""
PLACE_LETTERS = 40
"""The name of an anchorage fits; a story does not fit on a phone's line (chosen)."""

Source = Literal["file", "broker", "page"]
KEPT: tuple[Source, ...] = ("broker", "page")


@dataclass(frozen=True, slots=True)
class Outlook:
    """The forecast that counts, who said it and when (Unix seconds), the forbidden waters, and what cannot be used."""

    forecast: Forecast | None = None
    source: Source | None = None
    taken_s: float | None = None
    forbidden: tuple[Blocked, ...] = ()
    problems: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class _Said:
    """A forecast as it came, and when. One that is forgotten stays on file: a broker brings the same message
    again at each connection, and that is no news."""

    message: Mapping[str, Any]
    taken_s: float
    forgotten: bool = False


@dataclass(frozen=True, slots=True)
class _Kept:
    """What stands in the file of our own."""

    said: Mapping[Source, _Said] = field(default_factory=dict)
    forbidden: tuple[Blocked, ...] = ()
    problems: tuple[str, ...] = ()


def _read(path: Path) -> tuple[Any, tuple[str, ...]]:
    """The JSON in a file, or why there is none."""
    try:
        return json.loads(read_regular(path, OURS_MOST_BYTES)), ()
    except OSError as error:
        return None, (error.strerror or "it cannot be read",)
    except (ValueError, RecursionError):
        return None, ("it is no JSON",)


def read_forecast(path: Path) -> tuple[Forecast | None, float, tuple[str, ...]]:
    """The forecast in a file that others write, since when (Unix seconds), or why it cannot be used."""
    message, problems = _read(path)
    try:
        return (None, 0.0, problems) if problems else (forecast_of(message), path.stat().st_mtime, ())
    except Unaskable as error:
        return None, 0.0, error.lines
    except OSError as error:
        return None, 0.0, (error.strerror or "it cannot be read",)


def _read_kept(path: Path) -> _Kept:
    """Our own file; one that is damaged counts as none, and says so."""
    if not path.exists():
        return _Kept()
    message, problems = _read(path)
    try:
        if problems:
            return _Kept(problems=problems)
        return _Kept(
            {source: _said(message["forecasts"][source]) for source in KEPT if source in message["forecasts"]},
            tuple(
                Blocked(
                    from_s=float(each["from_s"]),
                    to_s=float(each["to_s"]),
                    why=str(each["why"]),
                    place=str(each.get("place", "")),
                )
                for each in message["forbidden"]
            ),
        )
    except (KeyError, TypeError, ValueError):
        return _Kept(problems=(f"{path} is damaged, and is written anew with the next one",))


def _said(said: Mapping[str, Any]) -> _Said:
    return _Said(said["message"], float(said["taken_s"]), said["forgotten"] is True)


class Foreseen:
    """The one owner of forecasts and forbidden waters. Thread-safe. `path` is its own file, None where there is no
    folder for one; `file` is the one that others write."""

    def __init__(self, path: Path | None, file: Path | None) -> None:
        self._path = path
        self._kept = None if path is None else WatchedFile(path, _read_kept)
        self._file: Callable[[], tuple[Forecast | None, float, tuple[str, ...]]] | None = (
            None if file is None else WatchedFile(file, read_forecast)
        )
        self._lock = threading.Lock()
        self._refused: tuple[str, ...] = ()

    def __call__(self, now_s: float) -> Outlook:
        """What counts now."""
        with self._lock:
            return self._outlook(now_s)

    def _outlook(self, now_s: float) -> Outlook:
        kept = _Kept() if self._kept is None else self._kept()
        problems = [*self._refused, *kept.problems]
        said: list[tuple[float, Source, Forecast]] = []
        for source, one in kept.said.items():
            try:
                said += [] if one.forgotten else [(one.taken_s, source, timely(forecast_of(one.message), now_s))]
            except Unaskable as error:
                problems += error.lines
        if self._file is not None:
            forecast, since_s, why_not = self._file()
            problems += why_not
            try:
                said += [] if forecast is None else [(since_s, "file", timely(forecast, now_s))]
            except Unaskable as error:
                problems += error.lines
        standing = tuple(each for each in kept.forbidden if each.to_s > now_s)
        if not said:
            return Outlook(forbidden=standing, problems=tuple(problems))
        taken_s, newest, forecast = max(said, key=lambda one: one[0])
        return Outlook(forecast, newest, taken_s, standing, tuple(problems))

    def accept(self, message: object, source: Source, now_s: float) -> None:
        """Keep a forecast. The same one from the broker is no news. Raises `Unaskable`, OSError."""
        timely(forecast_of(message), now_s)
        assert isinstance(message, Mapping)
        with self._lock:
            self._refused = ()
            kept = self._now()
            known = kept.said.get(source)
            if source == "page" or known is None or known.message != message:
                self._keep(replace(kept, said={**kept.said, source: _Said(message, now_s)}), now_s)

    def refuse(self, lines: tuple[str, ...]) -> None:
        """A forecast came that cannot be used: said until one comes that can."""
        with self._lock:
            self._refused = lines

    def forget(self, now_s: float) -> None:
        """No forecast of broker or page counts any more. Raises OSError."""
        with self._lock:
            self._refused = ()
            kept = self._now()
            said = {source: replace(one, forgotten=True) for source, one in kept.said.items()}
            self._keep(replace(kept, said=said), now_s)

    def forbid(self, why: str, hours: float, now_s: float, place: str = "") -> float:
        """From now on for so many hours no run is planned, because of the water at this place; 0 ends it. Until when,
        Unix seconds. Raises OSError."""
        to_s = now_s + min(max(hours, 0.0), LONGEST_H) * 3600
        with self._lock:
            kept = self._now()
            others = tuple(each for each in kept.forbidden if each.why != why)
            added = (Blocked(from_s=now_s, to_s=to_s, why=why, place=place),) if to_s > now_s else ()
            self._keep(replace(kept, forbidden=(*others, *added)), now_s)
        return to_s

    def _now(self) -> _Kept:
        return _Kept() if self._kept is None else self._kept()

    def _keep(self, kept: _Kept, now_s: float) -> None:
        if self._path is None:
            raise OSError("there is no folder to keep it in")
        content = {
            "forecasts": {source: asdict(one) for source, one in kept.said.items()},
            "forbidden": [asdict(each) for each in kept.forbidden if each.to_s > now_s],
        }
        replace_whole(self._path, json.dumps(content, ensure_ascii=False, indent=1).encode(), FILE_MODE)


def marked_texts(marked: Sequence[Blocked]) -> list[str]:
    """What people have marked of the water here, for whoever is about to start."""
    return [words.marked_text(each.why, each.to_s, each.place) for each in marked]


def reaches_to_s(forecast: Forecast, offset_s: float) -> float | None:
    """Until when a forecast tells the sun, Unix seconds; None where it tells none."""
    if forecast.sun_w:
        return forecast.from_s + len(forecast.sun_w) * 3600
    if forecast.sun_wh_day:
        first = (forecast.from_s + offset_s) // 86400
        return (first + len(forecast.sun_wh_day)) * 86400 - offset_s
    return None
