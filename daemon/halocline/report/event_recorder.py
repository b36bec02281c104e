"""Events as the record keeps them: each whole, and what people ask for in tables of its own."""

import json
import sqlite3
from collections.abc import Mapping
from typing import Any

from halocline.report.row_checksum import MARKERS
from halocline.report.schema import CUT_OFF, MARK, TOLD

_INSERT_EVENT = f"INSERT OR IGNORE INTO events (boot, seq, mono_s, wall_s, kind, body, {MARK}) VALUES (?,?,?,?,?,?,?)"
WORK_COMMANDS = ("lay_up", "recommission")
"""Commands that are work done by hand, too."""

TOLD_ELSEWHERE = frozenset({"seq", "mono_s", "wall_s", "kind", "what", "note", "who"})
"""Of an entry of the log, what has a column of its own."""

Moment = tuple[int, int, float | None, float | None]


def details_of(event: Mapping[str, Any]) -> dict[str, Any]:
    """What an entry of the log is about, and what was read."""
    return {key: value for key, value in event.items() if key not in TOLD_ELSEWHERE}


class EventRecorder:
    """Writes events within the caller's transaction. Raises KeyError, TypeError and the like for nonsense."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self._connection = connection

    def write(self, boot: int, event: Mapping[str, Any], wall_s: float | None) -> None:
        """One event. `wall_s` is its time as the record knows it."""
        mono_s = event.get("mono_s")
        moment = (boot, event["seq"], None if mono_s is None else mono_s + 0.0, wall_s)
        kind, body = str(event.get("kind")), json.dumps(event, ensure_ascii=False)
        mark = MARKERS["events"]((*moment[1:3], kind, body))
        self._connection.execute(_INSERT_EVENT, (*moment, kind, body, mark))
        if kind == "alarm":
            self._alarm(moment, event)
        elif kind == "run_started":
            self._start_run(moment, event)
        elif kind == "run_ended":
            self._end_run(moment, event)
        elif kind == "flush_ended":
            self._end_flush(boot, event)
        elif kind == "log":
            self._work(
                moment, str(event.get("what")), str(event.get("note") or ""), event.get("who"), details_of(event)
            )
        elif kind == "calibration":
            self._calibration(moment, event)
        elif kind == "command" and event.get("accepted"):
            self._command(moment, event)

    def count(self, steps: Mapping[str, float]) -> None:
        """Adds to the counters."""
        self._connection.executemany(
            "INSERT INTO counters (name, value) VALUES (?, ?)"
            " ON CONFLICT (name) DO UPDATE SET value = value + excluded.value",
            list(steps.items()),
        )

    def end_open_runs(self, boot: int) -> None:
        """A run whose end control did not live to tell ends with the last row that knew of it."""
        self._connection.execute(
            """
            UPDATE runs SET ended_mono_s = last.mono_s, ended_wall_s = last.wall_s, litres = last.run_litres,
                seconds = last.mono_s - started_mono_s, energy_wh = last.run_energy_wh
            FROM (SELECT run AS of, mono_s, wall_s, run_litres, run_energy_wh, max(seq) FROM samples
                  WHERE boot = :boot AND run IS NOT NULL GROUP BY run) AS last
            WHERE boot = :boot AND run = last.of AND why IS NULL
            """,
            {"boot": boot},
        )
        # Without a row it lasted at least until the last thing that control said.
        self._connection.execute(
            """
            UPDATE runs SET ended_mono_s = last.mono_s, ended_wall_s = last.wall_s,
                seconds = last.mono_s - started_mono_s
            FROM (SELECT mono_s, wall_s FROM events WHERE boot = :boot ORDER BY seq DESC LIMIT 1) AS last
            WHERE boot = :boot AND why IS NULL AND ended_mono_s IS NULL
            """,
            {"boot": boot},
        )
        # The tank may have been open after the last row: rows wait for their batch, changes of the state do not.
        self._connection.execute(
            """
            WITH spans AS (
                SELECT mono_s, json_extract(body, '$.to') AS state, lead(mono_s) OVER (ORDER BY seq) AS until_s
                FROM events WHERE boot = :boot AND kind = 'state' AND json_valid(body))
            UPDATE runs SET producing_s = (SELECT sum(max(coalesce(until_s, ended_mono_s, mono_s) - mono_s, 0.0))
                FROM spans WHERE state = 'producing' AND mono_s >= started_mono_s)
            WHERE boot = :boot AND why IS NULL
            """,
            {"boot": boot},
        )
        self._connection.execute(
            "UPDATE runs SET why = ? WHERE boot = ? AND why IS NULL",
            (json.dumps({"id": CUT_OFF, "values": {}}), boot),
        )

    def raise_peak(self, boot: int, run: str, highest_bar: float) -> None:
        """The highest pressure of a run is at least this."""
        self._connection.execute(
            "UPDATE runs SET peak_pressure_bar = :bar"
            " WHERE boot = :boot AND run = :run AND coalesce(peak_pressure_bar < :bar, true)",
            {"boot": boot, "run": run, "bar": highest_bar},
        )

    def date(self, boot: int, offset_s: float) -> None:
        """Dates what this boot said before its clock was known."""
        values = (offset_s, boot)
        for table in ("events", "alarms", "work", "calibrations"):
            self._connection.execute(
                f"UPDATE {table} SET wall_s = mono_s + ? WHERE boot = ? AND wall_s IS NULL", values
            )
        for end in ("started", "ended"):
            self._connection.execute(
                f"UPDATE runs SET {end}_wall_s = {end}_mono_s + ? WHERE boot = ? AND {end}_wall_s IS NULL", values
            )

    def _alarm(self, moment: Moment, event: Mapping[str, Any]) -> None:
        details = json.dumps(event.get("values") or {}, ensure_ascii=False)
        self._connection.execute(
            "INSERT OR IGNORE INTO alarms (boot, seq, mono_s, wall_s, alarm, state, priority, details)"
            " VALUES (?,?,?,?,?,?,?,?)",
            (*moment, event.get("id"), event.get("to"), event.get("priority"), details),
        )

    def _command(self, moment: Moment, event: Mapping[str, Any]) -> None:
        command, arguments = str(event.get("command")), event.get("arguments") or {}
        if command in WORK_COMMANDS:
            self._work(
                moment, command, ", ".join(str(value) for value in arguments.values()), event.get("who"), arguments
            )

    def _calibration(self, moment: Moment, event: Mapping[str, Any]) -> None:
        """What was calibrated, with its numbers before and after."""
        about = {key: value for key, value in event.items() if key not in ("seq", "mono_s", "wall_s", "kind", "who")}
        self._connection.execute(
            "INSERT OR IGNORE INTO calibrations (boot, seq, mono_s, wall_s, channel, who, details)"
            " VALUES (?,?,?,?,?,?,?)",
            (*moment, event.get("channel"), event.get("who"), json.dumps(about, ensure_ascii=False)),
        )

    def _work(self, moment: Moment, kind: str, note: str, who: object, details: Mapping[str, Any]) -> None:
        """With the counters as they stood, so that hours and litres since then can be told."""
        about = json.dumps(details, ensure_ascii=False)
        self._connection.execute(
            "INSERT OR IGNORE INTO work (boot, seq, mono_s, wall_s, kind, note, who, details, counters)"
            " SELECT ?,?,?,?,?,?,?,?, coalesce(json_group_object(name, value), '{}') FROM counters",
            (*moment, kind, note, None if who is None else str(who), about),
        )

    def _start_run(self, moment: Moment, event: Mapping[str, Any]) -> None:
        run, (boot, _, mono_s, wall_s) = event["run"], moment
        origin, who = self._starter(boot)
        self._connection.execute(
            "INSERT OR IGNORE INTO runs (boot, run, started_mono_s, started_wall_s, asked, target_l, origin, who)"
            " VALUES (?,?,?,?,?,?,?,?)",
            (boot, str(run["id"]), mono_s, wall_s, json.dumps(run.get("why") or {}), run.get("target_l"), origin, who),
        )

    def _starter(self, boot: int) -> tuple[object, object]:
        """Where the newest accepted start came from, and whose it was."""
        found = self._connection.execute(
            "SELECT json_extract(body, '$.origin'), json_extract(body, '$.who') FROM events"
            " WHERE kind = 'command' AND boot = ? AND json_extract(body, '$.command') = 'start'"
            " AND json_extract(body, '$.accepted') ORDER BY seq DESC LIMIT 1",
            (boot,),
        ).fetchone()
        return (None, None) if found is None else found

    def _end_run(self, moment: Moment, event: Mapping[str, Any]) -> None:
        run, (boot, _, mono_s, wall_s) = event["run"], moment
        name = str(run["id"])
        self._connection.execute(
            "INSERT OR IGNORE INTO runs (boot, run, started_mono_s) VALUES (?,?,?)",
            (boot, name, run.get("started_mono_s")),
        )
        figures = ", ".join(f"{figure} = COALESCE(?, {figure})" for figure in TOLD)
        self._connection.execute(
            f"UPDATE runs SET ended_mono_s = ?, ended_wall_s = ?, why = ?, first_out = ?, energy_basis = ?, {figures}"
            " WHERE boot = ? AND run = ?",
            (
                mono_s,
                wall_s,
                json.dumps(run.get("why"), ensure_ascii=False),
                run.get("first_out"),
                run.get("energy_basis"),
                *(run.get(figure) for figure in TOLD),
                boot,
                name,
            ),
        )
        if run.get("peak_pressure_bar") is not None:
            self.raise_peak(boot, name, float(run["peak_pressure_bar"]))
        self.count(
            {
                "runs": 1.0,
                "product_l": float(run.get("litres") or 0.0),
                "energy_wh": float(run.get("energy_wh") or 0.0),
            }
        )

    def _end_flush(self, boot: int, event: Mapping[str, Any]) -> None:
        litres = event.get("litres")
        self.count({"flushes": 1.0, "flush_l": float(litres or 0.0)})
        self._connection.execute(
            "UPDATE runs SET flush_l = ? WHERE boot = ? AND run = ?", (litres, boot, str(event.get("run")))
        )
