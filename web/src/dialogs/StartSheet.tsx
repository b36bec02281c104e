import { useRef, useState } from "preact/hooks";
import type { Arguments, Plant, Question, RunRecord } from "../api";
import { clock, duration, moment, rounded } from "../format";
import {
  cost,
  factsOf,
  NO_FORECAST,
  nextTime,
  startArguments,
  tellingRun,
  USUAL_QUESTIONS,
  type Cost,
  type Need,
} from "../need";
import { usePage } from "../page";
import { flowRestsOn, tankOf } from "../rooms/planned";
import { useRead } from "../rooms/useRead";
import { typedIn } from "../units";
import { Hold } from "./Hold";
import { Sheet } from "./Sheet";

type Kind = Need["kind"];

const KINDS: [Kind, string][] = [
  ["litres", "Amount"],
  ["until", "Until a time"],
  ["full", "Until full"],
];

const USUAL = [20, 40, 60, 100];

function NeedPicker({ kind, onPick }: { kind: Kind; onPick: (kind: Kind) => void }) {
  return (
    <fieldset class="choices three">
      <legend>How much water?</legend>
      {KINDS.map(([each, label]) => (
        <label key={each} class={each === kind ? "chosen" : ""}>
          <input type="radio" name="need" checked={each === kind} onChange={() => onPick(each)} />
          {label}
        </label>
      ))}
    </fieldset>
  );
}

function Amount({ typed, onType }: { typed: string; onType: (text: string) => void }) {
  const { units } = usePage();
  const unit = units.volume;
  return (
    <div class="amount">
      <label class="field">
        Into the tank, {unit}
        <input
          type="text"
          inputMode="decimal"
          value={typed}
          onInput={(event) => onType(event.currentTarget.value)}
        />
      </label>
      <div class="quick" role="group" aria-label="Usual amounts">
        {USUAL.map((each) => {
          const amount = unit === "L" ? each : Math.round(each / 4);
          return (
            <button key={each} type="button" class="plain" onClick={() => onType(String(amount))}>
              {`${amount}\u00a0${unit}`}
            </button>
          );
        })}
      </div>
    </div>
  );
}

/** A forecast to the watt-hour would only look exact. */
function about(value: number, step: number): number {
  return Math.round(value / step) * step;
}

function CostTable({ planned, restsOn }: { planned: Cost; restsOn: string }) {
  const { units, view } = usePage();
  if (planned.problem !== null) return <p class="wrong">{planned.problem}</p>;
  const { seconds, ends, litres, energy_wh, flush_l } = planned;
  const tank = tankOf(view.plant);
  const cells: [string, string | null][] = [
    ["Time", seconds === null ? null : `about ${duration(seconds)}`],
    ["Done", ends === null ? null : `about ${clock(ends)}`],
    [
      "Into the tank",
      litres === null ? null : `about ${rounded(about(litres, litres < 10 ? 0.1 : 1), "volume", units)}`,
    ],
    [
      "From the battery",
      energy_wh === null ? null : `about ${rounded(about(energy_wh, 10), "energy", units)}`,
    ],
    ["Flush afterwards", flush_l === null ? null : `${rounded(flush_l, "volume", units)} of fresh water`],
  ];
  if (tank !== null && litres !== null) {
    const then = about(Math.min(tank.capacity_l, tank.level_l + litres), litres < 10 ? 0.1 : 1);
    const all = rounded(tank.capacity_l, "volume", units);
    cells.push(["Tank then", `about ${rounded(then, "volume", units)} of ${all}`]);
  }
  return (
    <>
      <dl class="costs">
        {cells.map(
          ([label, value]) =>
            value !== null && (
              <div key={label}>
                <dt>{label}</dt>
                <dd>{value}</dd>
              </div>
            ),
        )}
      </dl>
      <p class="hint">{restsOn}</p>
    </>
  );
}

/** What time and energy are told from, or why they are not. */
function restsOnWords(plant: Plant | null, run: RunRecord | null): string {
  switch (flowRestsOn(plant, run)) {
    case "now":
      return "By the flow expected now and the power in the configuration.";
    case "run":
      return `By the flow of the run of ${moment(run?.started)} and the power in the configuration.`;
    case "nothing":
      return NO_FORECAST;
  }
}

function Questions({
  questions,
  ticked,
  onTick,
}: {
  questions: Question[];
  ticked: Set<string>;
  onTick: (id: string, on: boolean) => void;
}) {
  if (questions.length === 0) return null;
  return (
    <fieldset class="questions">
      <legend>Seen with your own eyes</legend>
      {questions.map(({ id, text }) => (
        <label key={id}>
          <input
            type="checkbox"
            checked={ticked.has(id)}
            onChange={(event) => onTick(id, event.currentTarget.checked)}
          />
          <span>{text}</span>
        </label>
      ))}
    </fieldset>
  );
}

function goToOpen(list: HTMLElement | null): void {
  const open = list?.querySelector<HTMLInputElement>("input:not(:checked)");
  open?.scrollIntoView({ block: "center" });
  open?.focus();
}

function needFrom(kind: Kind, amount: number, at: Date | null): Need | null {
  if (kind === "litres") return { kind, litres: amount };
  if (kind === "full") return { kind };
  return at === null ? null : { kind, at };
}

/** From the need to the start: time and cost first, then the list only eyes can answer, then a second of holding. */
export function StartSheet({
  onStart,
  onClose,
}: {
  onStart: (args: Arguments) => void;
  onClose: () => void;
}) {
  const { view, snapshot, units } = usePage();
  const [kind, setKind] = useState<Kind>("litres");
  const [typed, setTyped] = useState(units.volume === "L" ? "60" : "15");
  const [time, setTime] = useState("18:00");
  const [ticked, setTicked] = useState<Set<string>>(new Set());
  const list = useRef<HTMLDivElement>(null);

  const said = useRead<{ runs: RunRecord[] }>("/runs");
  const run = said.kind === "ready" ? tellingRun(said.value.runs ?? []) : null;
  const facts = factsOf(view.plant, run);
  const now = new Date();
  const amount = typedIn(Number(typed.replace(",", ".")), "volume", units);
  const need = needFrom(kind, amount, nextTime(time, now));
  const planned = need === null ? null : cost(need, facts, now);
  const questions = snapshot?.questions ?? USUAL_QUESTIONS;
  const missing = questions.filter(({ id }) => !ticked.has(id)).length;
  const ready = need !== null && planned?.problem === null && missing === 0 && !view.past;

  const tick = (id: string, on: boolean) => {
    const next = new Set(ticked);
    if (on) next.add(id);
    else next.delete(id);
    setTicked(next);
  };

  return (
    <Sheet title="Start making water" onClose={onClose}>
      <NeedPicker kind={kind} onPick={setKind} />
      {kind === "litres" && <Amount typed={typed} onType={setTyped} />}
      {kind === "until" && (
        <label class="field">
          Make water until
          <input type="time" value={time} onInput={(event) => setTime(event.currentTarget.value)} />
        </label>
      )}
      {planned === null ? (
        <p class="wrong">Give a time like 18:00.</p>
      ) : (
        <CostTable planned={planned} restsOn={restsOnWords(view.plant, run)} />
      )}
      <div ref={list}>
        <Questions questions={questions} ticked={ticked} onTick={tick} />
      </div>
      <div class="sheet-end">
        {missing > 0 && (
          <button type="button" class="plain to-tick" onClick={() => goToOpen(list.current)}>
            Still to be seen and ticked: {missing} <span aria-hidden="true">↓</span>
          </button>
        )}
        <Hold
          label="Hold for one second to start"
          disabled={!ready}
          onHeld={() => need !== null && onStart(startArguments(need, [...ticked]))}
        />
      </div>
    </Sheet>
  );
}
