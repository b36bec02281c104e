"""A played rehearsal as people read it: a timeline as text and picture, a table of samples as CSV."""

import csv
import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from halocline.plant import words
from halocline.rehearsal.picture import as_svg
from halocline.rehearsal.scenario_runner import Played

MARKS = {True: "as expected", False: "NOT AS EXPECTED"}


def clock_text(t_s: float) -> str:
    """Seconds as hours, minutes, seconds."""
    minutes, seconds = divmod(t_s, 60)
    hours, minutes = divmod(int(minutes), 60)
    return f"{hours:d}:{minutes:02d}:{seconds:04.1f}"


def as_text(result: dict[str, Any], played: Played) -> str:
    """The timeline, the truth and the expectations."""
    whys = {(event["t"], event["to"]): event["why"] for event in played.events if event["kind"] == "state"}
    entries = []
    for state in result["states"]:
        why = whys.get((state["t"], state["state"]), {"id": state["why"], "values": {}})
        entries.append((state["t"], 1, f"→ {words.state_name(state['state'])} ({words.reason(why)})"))
    entries += [(fault["t"], 0, f"* {_fault_text(fault)}") for fault in played.faults]
    entries += [
        (alarm["t"], 2, f"! {words.alarm_name(alarm['id'])}: {words.alarm_state_name(alarm['to'])}")
        for alarm in result["alarms"]
    ]
    for command in result["commands"]:
        said = "accepted" if command["accepted"] else "refused: " + " ".join(command["reasons"])
        entries.append((command["t"], 0, f"> {words.command_name(command['command'])}: {said}"))
    lines = [result["title"], "=" * len(result["title"])]
    lines += [f"{clock_text(t_s):>10}  {text}" for t_s, _, text in sorted(entries, key=lambda entry: entry[:2])]
    lines += ["", "What was true, whatever the sensors said:"]
    lines += [f"  {key:28} {_shown(value)}" for key, value in result["truth"].items()]
    if result["expectations"]:
        lines += ["", "Expectations:"]
        for expectation in result["expectations"]:
            lines.append(
                f"  {MARKS[expectation['ok']]}: {_listed(expectation['expected'])}; "
                f"seen {_listed(expectation['seen'])} at {clock_text(expectation['seen_at_s'])}"
            )
    speed = result["duration_s"] / result["wall_s"] if result["wall_s"] else 0.0
    lines += ["", f"Ended {words.state_name(result['final_state'])}; played {speed:.0f} times as fast as real."]
    return "\n".join(lines)


def _fault_text(fault: dict[str, Any]) -> str:
    given = " ".join([fault["fault"], *(f"{key}={_shown(value)}" for key, value in fault["arguments"].items())])
    name = words.fault_text(fault["fault"]).name
    return f"{name}: ends ({given})" if fault["clear"] else f"{name} ({given})"


def _listed(values: Mapping[str, Any]) -> str:
    return ", ".join(f"{key} = {_shown(value)}" for key, value in values.items())


def _shown(value: Any) -> str:
    """As a scenario file writes it; numbers to four figures."""
    if value is None:
        return "none"
    if isinstance(value, bool):
        return str(value).lower()
    return f"{value:.4g}" if isinstance(value, float) else str(value)


def write_folder(folder: Path, result: dict[str, Any], played: Played) -> None:
    """Timeline, picture, result and samples into a folder. Raises OSError."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "timeline.txt").write_text(as_text(result, played) + "\n", encoding="utf-8")
    (folder / "result.json").write_text(json.dumps(result, ensure_ascii=False, indent=2) + "\n", encoding="utf-8")
    (folder / "timeline.svg").write_text(as_svg(result, played.samples), encoding="utf-8")
    with (folder / "samples.csv").open("w", encoding="utf-8", newline="") as file:
        if played.samples:
            writer = csv.DictWriter(file, list(played.samples[0]))
            writer.writeheader()
            writer.writerows(played.samples)
