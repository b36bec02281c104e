"""Documents drawn from the tables: the sequence with its diagram, causes and effects, buzzer patterns, thresholds.

`python -m halocline.control.documents` writes them; a test says when they are stale.
"""

from collections.abc import Iterator
from pathlib import Path

from halocline.control.annunciator import PATTERNS
from halocline.control.sequence import sequence_table as sequence
from halocline.plant import rationale, words
from halocline.plant.alarms import EFFECT_ORDER, ROWS, AlarmDefinition, AlarmState, Effect
from halocline.plant.vocabulary import State

FOLDER = Path(__file__).parent
MADE = "*Made from the code by `make docs`; do not edit.*"
EFFECT_TEXT = {
    Effect.TRIP: "Trip: every actuator off in the same step, latched until acknowledged, cause gone and reset.",
    Effect.STOP: "Stop: product overboard at once, then the orderly end of a run.",
    Effect.DIVERT: "Divert: product overboard at once, the plant goes on.",
    Effect.WARN: "Warn: nothing is switched; a person should know.",
}


def sequence_document() -> str:
    """SEQUENCE.md."""
    theory = (sequence.__doc__ or "").strip()
    return "\n".join(["# The sequence", "", MADE, "", theory, "", *_diagram(), "", *_rows(), "", *_outputs(), ""])


def _diagram() -> Iterator[str]:
    yield "```mermaid"
    yield "stateDiagram-v2"
    for row in sequence.TABLE:
        if row.fact == "trip":
            continue
        for state in State:
            if state in row.states:
                yield f"    {state} --> {row.to}: {row.fact.replace('_', ' ')}"
    yield "    note right of tripped: a trip leads here from every state but laid_up"
    yield "```"


def _rows() -> Iterator[str]:
    yield "| from | when | to |"
    yield "|---|---|---|"
    for row in sequence.TABLE:
        states = (
            "every state but tripped and laid_up"
            if row.states == sequence.ANYWHERE
            else ", ".join(f"`{state}`" for state in State if state in row.states)
        )
        yield f"| {states} | {row.fact.replace('_', ' ')} | `{row.to}` |"


def _outputs() -> Iterator[str]:
    yield "What each state energises; everything else is off."
    yield ""
    yield "| state | outputs (condition) |"
    yield "|---|---|"
    for state in State:
        parts = [
            f"`{output}`" + ("" if condition == "always" else f" ({condition.replace('_', ' ')})")
            for output, condition in sequence.ENERGISED[state].items()
        ]
        yield f"| `{state}` | {', '.join(parts) or '—'} |"


def causes_document() -> str:
    """CAUSES.md."""
    lines = ["# Causes and effects", "", MADE, "", "Why a number that is no setting has its value: THRESHOLDS.md.", ""]
    for effect in EFFECT_ORDER:
        lines += [f"## {effect.value}", "", EFFECT_TEXT[effect], ""]
        lines += [
            "| id | priority | judged in | after | pump | gone after | dead band | listed under | what it means "
            "| if ignored | what to do |",
            "|---|---|---|---|---|---|---|---|---|---|---|",
        ]
        lines += [_cause(row) for row in ROWS if row.effect is effect]
        lines.append("")
    lines += ["## The life of an alarm", "", *_life(), "", "## Buzzer and beacon", "", *_patterns(), ""]
    return "\n".join(lines)


def _cause(row: AlarmDefinition) -> str:
    means, ignored, remedy = (text.replace("unknown", "…") for text in words.alarm_texts(row.id, {}))
    armed = "always" if row.armed == frozenset(State) else ", ".join(state for state in State if state in row.armed)
    after = "at once" if row.delay_s == 0 else f"{row.delay_s:g} s"
    if row.delay_setting is not None:
        after = f"`limits.{row.delay_setting}`"
    gone = "at once" if row.clear_s == 0 else f"{row.clear_s:g} s"
    pump = f"stops {row.stop}" if row.effect in (Effect.TRIP, Effect.STOP) else "—"
    band = f"{row.dead_band:g}" if row.dead_band else "—"
    suppressed_by = ", ".join(f"`{root}`" for root in row.consequence_of) or "—"
    cells = (f"`{row.id}`", row.priority, armed, after, pump, gone, band, suppressed_by, means, ignored, remedy)
    return f"| {' | '.join(cells)} |"


LIFE = (
    (AlarmState.NORMAL, "the cause is not there"),
    (AlarmState.UNACKNOWLEDGED, "the cause is there and nobody has said that they have seen it; it sounds"),
    (AlarmState.ACKNOWLEDGED, "the cause is there and a person has seen it; quiet, the beacon stays lit"),
    (AlarmState.RETURNED, "the cause has gone and nobody has seen that it was there; it sounds"),
    (AlarmState.LATCHED, "a trip that was seen and whose cause has gone; it waits for `reset`"),
    (AlarmState.SHELVED, "a person has put it aside for some minutes, a day at most; it comes back by itself"),
    (AlarmState.SUPPRESSED, "its first cause stands; it is listed under that one and calls nobody"),
    (AlarmState.OUT_OF_SERVICE, "a person has taken it out of service, with a reason, until it is put back"),
)


def _life() -> Iterator[str]:
    yield "The states of IEC 62682. None of them touches what the cause does to the plant."
    yield ""
    yield "| state | meaning |"
    yield "|---|---|"
    for state, meaning in LIFE:
        yield f"| {state} | {meaning} |"
    yield ""
    yield "Only what merely warns and is not urgent can be shelved or taken out of service: not the question whether"
    yield "a person is still there. `silence` quiets the buzzer for what sounds now and acknowledges nothing; the next"
    yield "alarm sounds again."


def _patterns() -> Iterator[str]:
    yield "| priority | every | sounds |"
    yield "|---|---|---|"
    for priority, (period_s, spans) in PATTERNS.items():
        sounds = ", ".join(f"{end - start:g} s" for start, end in spans)
        yield f"| {priority} | {period_s:g} s | {sounds} |"
    yield ""
    yield "The beacon follows the buzzer until everything is acknowledged; then it stays lit while such an alarm is."


DOCUMENTS = {"SEQUENCE.md": sequence_document, "CAUSES.md": causes_document, "THRESHOLDS.md": rationale.document}


def main() -> None:
    """Write them all."""
    for name, make in DOCUMENTS.items():
        (FOLDER / name).write_text(make(), encoding="utf-8")


if __name__ == "__main__":
    main()
