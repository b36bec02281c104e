"""How far a commissioning is, out of the record: what was signed since it was begun, by whom, on what was seen.

It is kept nowhere else, so it goes on after a restart of either process, on any phone, and in a copy of the record.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from html import escape
from typing import Any

from halocline.plant import words
from halocline.plant.commissioning import BEGUN, SAFETY_LIST, Step, steps
from halocline.plant.settings import UnitSettings
from halocline.plant.words.moments import minute_of
from halocline.report.journal import Happened
from halocline.report.public import iso
from halocline.report.run_report import STYLE

SEEN: Mapping[str, tuple[str, str]] = {
    "vessel_pressure_bar": ("membrane pressure", "bar"),
    "feed_pressure_bar": ("pump inlet pressure", "bar"),
    "product_flow_l_h": ("product flow", "L/h"),
    "product_tds_mg_l": ("product salt", "mg/L"),
    "sea_temperature_c": ("sea temperature", "°C"),
    "aired_s": ("feed pump alone", "s"),
    "still_s": ("product's meter still meanwhile", "s"),
    "fresh_s": ("fresh product under pressure", "s"),
}
"""What is recorded with a step: its name, its unit."""


@dataclass(frozen=True, slots=True)
class Progress:
    """The steps in their order, and what was signed of them since the commissioning was last begun."""

    steps: Sequence[Step]
    signed: Mapping[str, Happened]

    @property
    def begun(self) -> Happened | None:
        """The entry that began it."""
        return self.signed.get(BEGUN)


def progress_of(entries: Iterable[Happened], fitted: Iterable[str]) -> Progress:
    """How far it is; `entries` oldest first. A step that was signed twice counts as it was signed last."""
    signed: dict[str, Happened] = {}
    for entry in entries:
        step = str(entry.body.get("step"))
        if step == BEGUN:
            signed.clear()
        signed[step] = entry
    return Progress(steps(fitted), signed)


def seen_texts(entry: Happened, units: UnitSettings) -> list[str]:
    """What control measured when the step was signed, in the boat's units."""
    seen = entry.body.get("seen") or {}
    return [f"{name} {_shown(seen[key], unit, units)}" for key, (name, unit) in SEEN.items() if key in seen]


def _shown(value: float, unit: str, units: UnitSettings) -> str:
    return words.duration(value) if unit == "s" else words.quantity(value, unit, units)


def _note(entry: Happened) -> str:
    return str(entry.body.get("note") or "")


def progress_message(progress: Progress, units: UnitSettings) -> dict[str, Any]:
    """As the API tells it."""
    return {
        "begun": progress.begun is not None,
        "steps": [
            {
                "id": step.id,
                "name": words.step_name(step.id),
                "measured": step.proof not in {None, "list"},
                "signed": _signed(progress.signed.get(step.id), units),
            }
            for step in progress.steps
        ],
        "safety": [{"id": point, "text": words.safety_point(point)} for point in SAFETY_LIST],
    }


def _signed(entry: Happened | None, units: UnitSettings) -> dict[str, Any] | None:
    if entry is None:
        return None
    seen = seen_texts(entry, units)
    return {"time": iso(entry.wall_s), "who": entry.body.get("who"), "note": _note(entry), "seen": seen}


def sheet(progress: Progress, boat: str, units: UnitSettings, *, simulated: bool) -> str:
    """The report to keep: one page, without anything from elsewhere."""
    rows = "".join(_row(step, progress.signed.get(step.id), units) for step in progress.steps)
    left = sum(step.id not in progress.signed for step in progress.steps)
    open_steps = "Nothing is left open." if left == 0 else f"Left open: {left} of {len(progress.steps)} steps."
    marked = '<p class="simulated">SIMULATED: no real plant</p>' if simulated else ""
    return (
        f'<!doctype html><html lang="en"><head><meta charset="utf-8"><title>Commissioning, {escape(boat)}</title>'
        f"<style>{STYLE}</style></head><body><h1>Commissioning, {escape(boat)}</h1>{marked}<p>{open_steps}</p>"
        f"<table><thead><tr><td>step</td><td>signed</td><td>measured then, and notes</td></tr></thead>"
        f'<tbody>{rows}</tbody></table><p class="small">Pressures, flow and salt are what control measured in the'
        " moment of signing. What is not signed was not done.</p></body></html>"
    )


def _row(step: Step, entry: Happened | None, units: UnitSettings) -> str:
    name = escape(words.step_name(step.id))
    if entry is None:
        return f"<tr><td>{name}</td><td><strong>open</strong></td><td></td></tr>"
    who = escape(str(entry.body.get("who") or "unsigned"))
    details = [*seen_texts(entry, units), *([_note(entry)] if _note(entry) else [])]
    when = escape(minute_of(entry.wall_s))
    return f"<tr><td>{name}</td><td>{when}, {who}</td><td>{escape('; '.join(details))}</td></tr>"
