"""One run on one sheet of paper: a page that needs nothing else, with its figures, charts and alarms."""

import base64
import hashlib
import sqlite3
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from html import escape
from pathlib import Path
from typing import Any

from halocline import __version__
from halocline.plant import words
from halocline.plant.settings import UnitSettings
from halocline.plant.words.moments import minute_of
from halocline.plant.words.units import shown_in
from halocline.report import charts
from halocline.report.charts import Chart, Limit, Phase
from halocline.report.database_open import reading
from halocline.report.history import UNITS, Bucket, run_buckets
from halocline.report.journal import AlarmChange, Journal, Run, parsed
from halocline.report.run_sheet import facts, story

POINTS = 320
ALARMS_SHOWN = 8
CHARTED: tuple[tuple[str, str, tuple[tuple[str, str], ...]], ...] = (
    ("vessel_pressure", "Membrane pressure", (("vessel_pressure_high_bar", "warning"),)),
    (
        "product_tds_mg_l",
        "Product salt",
        (("accept_tds_mg_l", "accepted below"), ("reject_tds_mg_l", "overboard above")),
    ),
    ("product_flow", "Product flow", ()),
    ("feed_pressure", "Pump inlet pressure", (("feed_pressure_low_bar", "warning"),)),
    ("sea_temperature", "Sea temperature", ()),
    ("battery_voltage", "Battery", ()),
)
"""Quantity, its title, and the limits in force that are drawn with it."""

FAR_FROM_ZERO = frozenset({"sea_temperature", "battery_voltage"})

STYLE = """
@page{size:A4;margin:10mm}
body{font:9pt/1.3 system-ui,sans-serif;color:#111;background:#fff;margin:0 auto;max-width:190mm;padding:2mm}
h1{font-size:14pt;margin:0}h2{font-size:10pt;margin:2mm 0 .5mm}p{margin:.5mm 0}
.simulated{font-weight:700;border:.4mm solid #111;padding:.5mm 2mm;display:inline-block}
dl{display:grid;grid-template-columns:repeat(3,1fr);gap:.6mm 5mm;margin:1.5mm 0}
dl div{display:flex;justify-content:space-between;border-bottom:.1mm solid #bbb}
dt{color:#444}dd{margin:0;font-weight:600;text-align:right}
svg{display:block;width:100%;height:auto;break-inside:avoid}
svg .title{font-size:3.2px;font-weight:600}svg .axis{font-size:2.6px;fill:#444}svg .note{font-size:2.4px;fill:#444}
svg .grid{stroke:#ddd;stroke-width:.15;fill:none}svg .mean{stroke:#0b4f8a;stroke-width:.45;fill:none}
svg .band{fill:#0b4f8a;fill-opacity:.22}svg .limit{stroke:#a40;stroke-width:.25;stroke-dasharray:1.2 .8;fill:none}
svg rect{fill:none}svg rect.producing{fill:#0a7d3c;fill-opacity:.12}svg rect.diverting{fill:#777;fill-opacity:.1}
svg rect.flushing{fill:#2b6cb0;fill-opacity:.1}svg rect.tripped{fill:#a40;fill-opacity:.15}
table{border-collapse:collapse;width:100%}td{padding:.2mm 2mm .2mm 0;vertical-align:top}
.small{color:#444;font-size:7.5pt}
"""

STYLE_SOURCE = "sha256-" + base64.b64encode(hashlib.sha256(STYLE.encode()).digest()).decode()
"""What a content security policy has to allow for the page to be drawn."""


@dataclass(frozen=True, slots=True)
class Sheet:
    """What is known of one run."""

    run: Run
    boat: str
    length_s: float
    series: Mapping[str, Sequence[Bucket]]
    phases: Sequence[Phase]
    alarms: Sequence[AlarmChange]


def run_report(path: Path, run: Run, boat: str, units: UnitSettings) -> str:
    """The page as HTML. Raises StoreError."""
    return _page(_read(path, run, boat), units)


def _read(path: Path, run: Run, boat: str) -> Sheet:
    with reading(path) as connection:
        length_s = _length_s(connection, run)
        series = {name: run_buckets(connection, name, run, length_s, POINTS) for name, _, _ in CHARTED}
        phases = tuple(_phases(connection, run, length_s))
    return Sheet(run, boat, length_s, series, phases, Journal(path).alarms_of(run))


def _length_s(connection: sqlite3.Connection, run: Run) -> float:
    """By the monotonic clock, which no setting of the time moves."""
    if run.started_mono_s is None:
        return run.figures["seconds"] or 0.0
    ended_s = run.ended_mono_s
    if ended_s is None:
        query = (
            "SELECT mono_s FROM samples WHERE boot = (SELECT id FROM boots WHERE boot = ?) ORDER BY seq DESC LIMIT 1"
        )
        row = connection.execute(query, (run.boot,)).fetchone()
        ended_s = run.started_mono_s if row is None else row[0]
    return max(ended_s - run.started_mono_s, 0.0)


def _phases(connection: sqlite3.Connection, run: Run, length_s: float) -> Iterator[Phase]:
    if run.started_mono_s is None:
        return
    begin_s, state = 0.0, "priming"
    rows = connection.execute(
        "SELECT mono_s, body FROM events WHERE kind = 'state' AND boot = (SELECT id FROM boots WHERE boot = ?)"
        " AND mono_s > ? AND mono_s <= ? ORDER BY seq",
        (run.boot, run.started_mono_s, run.started_mono_s + length_s),
    )
    for mono_s, body in rows.fetchall():
        at_s = mono_s - run.started_mono_s
        yield Phase(begin_s, at_s, state, words.state_name(state))
        begin_s, state = at_s, str(parsed(body).get("to"))
    if begin_s < length_s:
        yield Phase(begin_s, length_s, state, words.state_name(state))


def _page(sheet: Sheet, units: UnitSettings) -> str:
    title = f"{sheet.boat}: run of {minute_of(sheet.run.started_s)}"
    return "".join(
        (
            '<!doctype html><html lang="en"><head><meta charset="utf-8">',
            '<meta name="viewport" content="width=device-width,initial-scale=1">',
            f"<title>{escape(title)}</title><style>{STYLE}</style></head><body>",
            f"<h1>{escape(title)}</h1>",
            '<p class="simulated">SIMULATED</p>' if sheet.run.simulated else "",
            f"<p>{escape(story(sheet.run, units))}</p>",
            _list(facts(sheet.run, units)),
            f'<p class="small">Energy of the pumps is {escape(words.energy_basis(sheet.run.energy_basis))}. '
            f"{escape(words.PEAK_MEANS)} {escape(words.SALT_MEANS)}</p>",
            *_charts(sheet, units),
            _alarms(sheet.alarms, sheet.run, units),
            _configuration(sheet.run.configuration),
            f'<p class="small">Minutes since the start. Lines are means, bands reach from the lowest to the highest '
            f"value; green: to the tank. Salt is measured, germs are not. Run {escape(sheet.run.run)}, halocline "
            f"{__version__}.</p></body></html>\n",
        )
    )


def _list(told: Iterable[tuple[str, str]]) -> str:
    rows = "".join(f"<div><dt>{escape(name)}</dt><dd>{escape(value)}</dd></div>" for name, value in told)
    return f"<dl>{rows}</dl>"


def _charts(sheet: Sheet, units: UnitSettings) -> Iterator[str]:
    in_force = sheet.run.configuration.get("limits") or {}
    for name, title, limits in CHARTED:
        unit, convert = shown_in(UNITS[name], units)
        points = [_converted(point, convert) for point in sheet.series[name]]
        if not any(point.mean is not None for point in points):
            continue
        drawn = [
            Limit(convert(in_force[key]), text) for key, text in limits if isinstance(in_force.get(key), int | float)
        ]
        chart = Chart(title, unit, points, drawn, from_zero=name not in FAR_FROM_ZERO)
        yield charts.drawn(chart, sheet.length_s, sheet.phases)


def _converted(point: Bucket, convert: Any) -> Bucket:
    def shown(value: float | None) -> float | None:
        return None if value is None else convert(value)

    return Bucket(point.time_s, shown(point.low), shown(point.mean), shown(point.high))


def _alarms(alarms: Sequence[AlarmChange], run: Run, units: UnitSettings) -> str:
    came = [alarm for alarm in alarms if alarm.state == "unacknowledged"]
    if not came:
        return f"<h2>Alarms</h2><p>{'None on record.' if run.cut_off else 'None.'}</p>"
    rows = []
    for alarm in came[:ALARMS_SHOWN]:
        at_s = (alarm.mono_s or 0.0) - (run.started_mono_s or 0.0)
        means, _, _ = words.alarm_texts(alarm.alarm, dict(alarm.values), units)
        name = words.alarm_name(alarm.alarm)
        rows.append(f"<tr><td>{at_s / 60:.1f} min</td><td>{escape(name)}</td><td>{escape(means)}</td></tr>")
    more = f"<p>and {len(came) - ALARMS_SHOWN} more</p>" if len(came) > ALARMS_SHOWN else ""
    return f"<h2>Alarms</h2><table>{''.join(rows)}</table>{more}"


def _configuration(configuration: Mapping[str, Any]) -> str:
    """What was in force, in one small paragraph."""
    pairs = [
        f"{key}: {value:g}" if isinstance(value, int | float) else f"{key}: {value}"
        for table in configuration.values()
        if isinstance(table, dict)
        for key, value in sorted(table.items())
    ]
    if not pairs:
        return ""
    return f'<p class="small">In force: {escape("; ".join(pairs))}.</p>'
