import { useState } from "preact/hooks";
import { number, withUnit } from "../format";
import { usePage } from "../page";
import { typedIn } from "../units";
import { EndTest } from "../frame/EndTest";
import { ServiceLock } from "../rooms/ServiceLock";
import { CalibrateForm } from "./CalibrateForm";
import { outputSteps, type Commissioning } from "./commissioning";
import { look } from "./conditions";
import { ReportToKeep, SafetyList, Sign } from "./Signing";
import type { Step } from "./table";

const OUTPUTS: [id: string, label: string, seconds: number][] = [
  ["product_to_tank", "Diverter to the tank", 3],
  ["flush_valve", "Flush valve", 3],
  ["feed_pump", "Feed pump", 10],
  ["high_pressure_pump", "High-pressure pump (jog)", 2],
  ["pressure_release", "Pressure release", 3],
  ["buzzer", "Buzzer", 2],
  ["beacon", "Beacon", 2],
];

/** Only what was taken is done: a refused entry does not let anybody pass. */
async function once(given: Promise<boolean> | void, onDone: () => void): Promise<void> {
  if ((await given) === true) onDone();
}

function LogForm({ entry, note, onDone }: { entry: string; note: string; onDone: () => void }) {
  const { perform, view } = usePage();
  const [text, setText] = useState("");
  const wanted = entry === "note" && text.trim() === "";
  return (
    <div class="log-entry">
      <label class="field">
        {note}
        <textarea
          rows={3}
          maxLength={500}
          value={text}
          onInput={(event) => setText(event.currentTarget.value)}
        />
      </label>
      <button
        type="button"
        class="plain wide"
        disabled={view.past || wanted}
        onClick={() => {
          const args = text.trim() === "" ? { kind: entry } : { kind: entry, note: text.trim() };
          void once(perform("log", args), onDone);
        }}
      >
        Put on record
      </button>
    </div>
  );
}

const NONE: readonly string[] = [];

export function Bench({
  without = NONE,
  only,
  longer_s,
}: {
  without?: readonly string[];
  only?: readonly string[];
  longer_s?: number;
}) {
  const { perform, view } = usePage();
  const fitted = view.plant?.outputs ?? {};
  const refused = view.plant?.refused?.["bench"] ?? [];
  return (
    <div class="bench">
      {refused.length > 0 && view.plant?.state !== "bench" && (
        <ul class="reasons">
          {refused.map((reason) => (
            <li key={reason}>{reason}</li>
          ))}
        </ul>
      )}
      {OUTPUTS.filter(
        ([id]) => id in fitted && !without.includes(id) && (only === undefined || only.includes(id)),
      ).map(([id, label, usual_s]) => {
        const seconds = longer_s ?? usual_s;
        return (
          <button
            key={id}
            type="button"
            class="plain wide"
            disabled={view.past}
            aria-pressed={fitted[id] === true}
            onClick={() => perform("bench", { output: id, seconds })}
          >
            {label}: {fitted[id] === true ? "on" : "off"} <small>try {seconds} s</small>
          </button>
        );
      })}
    </div>
  );
}

/** The wetted volume and half as much again to fill hoses and bucket, in whole tenths of a litre. */
export function preservative_l(wetted_l: number): number {
  return Math.ceil(wetted_l * 15 - 1e-9) / 10;
}

/** One percent of that. */
export function preservative_g(wetted_l: number): number {
  return Math.round(10 * preservative_l(wetted_l));
}

function Preservative() {
  const { view, units } = usePage();
  const wetted_l = view.plant?.limits?.["wetted_volume_l"];
  const strength = `${number(10 * typedIn(1, "volume", units), 0)}\u00a0g in each ${units.volume === "L" ? "litre" : "gallon"}`;
  if (typeof wetted_l !== "number") {
    return <p class="hint">{strength} of water; half as much again as your plant's wetted volume.</p>;
  }
  return (
    <p class="amount">
      {preservative_g(wetted_l)} g in {withUnit(preservative_l(wetted_l), "volume", units)} of water
      <small>
        {" "}
        (wetted volume {withUnit(wetted_l, "volume", units)} and half as much again, {strength})
      </small>
    </p>
  );
}

const FEED_PUMP = ["feed_pump"];
const HIGH_PRESSURE = ["high_pressure_pump"];
const JOGGED = [...FEED_PUMP, ...HIGH_PRESSURE];

/** What there is to press or to fill in at a step. */
export function StepBody({
  step,
  commissioning,
  onDone,
}: {
  step: Step;
  commissioning: Commissioning | null;
  onDone: () => void;
}) {
  const { perform, view, units } = usePage();
  switch (step.kind) {
    case "command": {
      // What is done already is refused as well, and nobody wants to read that.
      const done = step.until !== undefined && look(step.until, view.plant, view.past, units).met === true;
      const refused = done ? [] : (view.plant?.refused?.[step.command] ?? []);
      return (
        <>
          <button
            type="button"
            class="plain wide"
            disabled={view.past}
            onClick={() => {
              void once(perform(step.command, step.args), onDone);
            }}
          >
            {step.label}
          </button>
          {refused.length > 0 && <p class="hint">Not now: {refused[0]}</p>}
        </>
      );
    }
    case "lock":
      return <ServiceLock open />;
    case "log":
      return <LogForm entry={step.entry} note={step.note} onDone={onDone} />;
    case "bench":
      return <Bench {...(step.without === undefined ? {} : { without: [step.without] })} />;
    case "sign":
      return (
        <>
          {step.feed === true && <Bench only={FEED_PUMP} longer_s={60} />}
          <Sign commissioning={commissioning} steps={[step.step]} note={step.note} onDone={onDone} />
          {step.step === "closed" && <ReportToKeep />}
        </>
      );
    case "safety":
      return <SafetyList commissioning={commissioning} onDone={onDone} />;
    case "outputs": {
      const jog = step.which === "jog";
      return (
        <>
          {jog ? <Bench only={JOGGED} /> : <Bench without={HIGH_PRESSURE} />}
          <Sign
            commissioning={commissioning}
            steps={outputSteps(step, commissioning)}
            note=""
            onDone={onDone}
          />
        </>
      );
    }
    case "end_test":
      return <EndTest onDone={onDone} />;
    case "preservative":
      return <Preservative />;
    case "calibrate":
      return <CalibrateForm membrane={step.of === "membrane"} />;
    default:
      return null;
  }
}
