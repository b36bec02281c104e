import { useRef, useState } from "preact/hooks";
import type { Arguments, Question, Schemas, UnitChoice } from "../api";
import { clock, duration, rounded } from "../format";
import { nextTime, offerPath, startArguments, USUAL_QUESTIONS, usualTime, type Need } from "../need";
import { usePage } from "../page";
import { tankOf } from "../rooms/planned";
import { useRead, type Said } from "../rooms/useRead";
import { measure, typedIn } from "../units";
import { Hold } from "./Hold";
import { Sheet } from "./Sheet";

type Kind = Need["kind"];

const KINDS: [Kind, string][] = [
  ["litres", "Amount"],
  ["until", "Until a time"],
  ["full", "Until full"],
];

const USUAL = [20, 40, 60, 100];
const TO_BEGIN_WITH = 60;
const PER_GALLON = 4;

/** Usual amounts in the unit of the page, those the tank has room for: none is offered that would be refused. */
export function usualAmounts(units: UnitChoice, room_l: number | null): number[] {
  const amounts = USUAL.map((each) => (units.volume === "L" ? each : Math.round(each / PER_GALLON)));
  return amounts.filter((each) => room_l === null || typedIn(each, "volume", units) <= room_l);
}

/** What stands in the field at first: what a plan proposes, in whole units; else an amount that the tank has room for. */
export function firstAmount(litres: number | undefined, units: UnitChoice, room_l: number | null): string {
  if (litres !== undefined) return String(Math.round(measure(litres, "volume", units).value));
  const wanted = units.volume === "L" ? TO_BEGIN_WITH : TO_BEGIN_WITH / PER_GALLON;
  if (room_l === null || typedIn(wanted, "volume", units) <= room_l) return String(wanted);
  return String(usualAmounts(units, room_l).at(-1) ?? Math.floor(room_l / typedIn(1, "volume", units)));
}

/** The tank fills and rests end while the sheet is open. */
const ASK_AGAIN_S = 30;

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

function Amount({
  typed,
  room_l,
  onType,
}: {
  typed: string;
  room_l: number | null;
  onType: (text: string) => void;
}) {
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
        {usualAmounts(units, room_l).map((amount) => (
          <button key={amount} type="button" class="plain" onClick={() => onType(String(amount))}>
            {`${amount}\u00a0${unit}`}
          </button>
        ))}
      </div>
    </div>
  );
}

/** A forecast to the watt-hour would only look exact. */
function about(value: number, step: number): number {
  return Math.round(value / step) * step;
}

function CostTable({ offer }: { offer: Schemas["PublicOffer"] }) {
  const { units, view } = usePage();
  const { seconds, ends, litres, energy_wh } = offer;
  const tank = tankOf(view.plant);
  const cells: [string, string | null][] = [
    ["Time", seconds === null ? null : `about ${duration(seconds)}`],
    ["Done", ends === null ? null : `about ${clock(new Date(ends))}`],
    [
      "Into the tank",
      litres === null ? null : `about ${rounded(about(litres, litres < 10 ? 0.1 : 1), "volume", units)}`,
    ],
    [
      "From the battery",
      energy_wh === null ? null : `about ${rounded(about(energy_wh, 10), "energy", units)}`,
    ],
  ];
  if (tank !== null && litres !== null) {
    const then = about(Math.min(tank.capacity_l, tank.level_l + litres), litres < 10 ? 0.1 : 1);
    const all = rounded(tank.capacity_l, "volume", units);
    cells.push(["Tank then", `about ${rounded(then, "volume", units)} of ${all}`]);
  }
  return (
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
  );
}

/** What a start for the need would come to, in the server's own words; the reasons where it would be refused. */
function Offered({ said }: { said: Said<Schemas["PublicOffer"]> }) {
  if (said.kind === "loading") return <p class="hint">Asking the plant…</p>;
  if (said.kind === "failed") return <p class="wrong">{said.text}</p>;
  const { reasons, says } = said.value;
  if (reasons.length > 0) return <p class="wrong">{reasons.join(" ")}</p>;
  return (
    <>
      <CostTable offer={said.value} />
      <ul class="says">
        {says.map((text) => (
          <li key={text}>{text}</li>
        ))}
      </ul>
    </>
  );
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
  litres,
  onStart,
  onClose,
}: {
  /** What a plan proposes. */
  litres?: number | undefined;
  onStart: (args: Arguments) => void;
  onClose: () => void;
}) {
  const { view, snapshot, units } = usePage();
  const [kind, setKind] = useState<Kind>("litres");
  const [own, setOwn] = useState<string | null>(null);
  const [time, setTime] = useState(() => usualTime(new Date()));
  const [ticked, setTicked] = useState<Set<string>>(new Set());
  const list = useRef<HTMLDivElement>(null);

  const full = useRead<Schemas["PublicOffer"]>(offerPath({ kind: "full" }), ASK_AGAIN_S);
  const room_l = full.kind === "ready" ? full.value.wanted_l : null;
  const typed = own ?? firstAmount(litres, units, room_l);
  const amount = typedIn(Number(typed.replace(",", ".")), "volume", units);
  const need = needFrom(kind, amount, nextTime(time, new Date()));
  const path = offerPath(need);
  const said = useRead<Schemas["PublicOffer"]>(path, ASK_AGAIN_S);
  const questions = snapshot?.questions ?? USUAL_QUESTIONS;
  const missing = questions.filter(({ id }) => !ticked.has(id)).length;
  const offered = path !== null && said.kind === "ready" && said.value.reasons.length === 0;
  const ready = need !== null && offered && missing === 0 && !view.past;

  const tick = (id: string, on: boolean) => {
    const next = new Set(ticked);
    if (on) next.add(id);
    else next.delete(id);
    setTicked(next);
  };

  return (
    <Sheet title="Start making water" onClose={onClose}>
      <NeedPicker kind={kind} onPick={setKind} />
      {kind === "litres" && <Amount typed={typed} room_l={room_l} onType={setOwn} />}
      {kind === "until" && (
        <label class="field">
          Make water until
          <input type="time" value={time} onInput={(event) => setTime(event.currentTarget.value)} />
        </label>
      )}
      {path === null ? (
        <p class="wrong">{kind === "until" ? "Give a time like 18:00." : "Say how much water is needed."}</p>
      ) : (
        <Offered said={said} />
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
