import { useState } from "preact/hooks";
import { Checklist } from "../frame/Checklist";
import { moment } from "../format";
import { usePage } from "../page";
import type { Commissioning, CommissioningStep } from "./commissioning";

const NOT_KNOWN = "How far the commissioning is cannot be read now.";

function Signed({ step }: { step: CommissioningStep }) {
  const { signed } = step;
  if (signed === null) return null;
  const when = signed.time === null ? "date not known" : moment(signed.time);
  return (
    <p class="seen met" role="status">
      <span aria-hidden="true">✓</span> {step.name}: {signed.who ?? "unsigned"}, {when}
      {signed.seen.length > 0 && <small> · {signed.seen.join(", ")}</small>}
      {signed.note !== "" && <small> · {signed.note}</small>}
    </p>
  );
}

/** A button for each step to sign; what can be measured control signs only when it has seen it. */
export function Sign({
  commissioning,
  steps,
  note,
  onDone,
}: {
  commissioning: Commissioning | null;
  steps: readonly string[];
  note: string;
  onDone: () => void;
}) {
  const { perform, view } = usePage();
  const [text, setText] = useState("");
  const known = (commissioning?.steps ?? []).filter(({ id }) => steps.includes(id));
  if (commissioning === null || known.length === 0) return <p class="nothing">{NOT_KNOWN}</p>;
  const sign = async (step: CommissioningStep) => {
    const written = text.trim() === "" ? {} : { note: text.trim() };
    const taken = await perform("log", { kind: "commissioned", step: step.id, ...written });
    if (taken === true && steps.length === 1) onDone();
  };
  return (
    <div class="log-entry">
      {note !== "" && (
        <label class="field">
          {note}
          <textarea
            rows={2}
            maxLength={500}
            value={text}
            onInput={(event) => setText(event.currentTarget.value)}
          />
        </label>
      )}
      {known.map((step) => (
        <div key={step.id}>
          <button type="button" class="plain wide" disabled={view.past} onClick={() => void sign(step)}>
            {step.signed === null ? "Sign" : "Sign again"}: {step.name}
            {step.measured && <small> measured</small>}
          </button>
          <Signed step={step} />
        </div>
      ))}
    </div>
  );
}

/** Every point ticked, then signed. */
export function SafetyList({
  commissioning,
  onDone,
}: {
  commissioning: Commissioning | null;
  onDone: () => void;
}) {
  const { perform, view } = usePage();
  const [ticked, setTicked] = useState<ReadonlySet<string>>(new Set());
  if (commissioning === null) return <p class="nothing">{NOT_KNOWN}</p>;
  const step = commissioning.steps.find(({ id }) => id === "safety");
  const sign = async () => {
    const taken = await perform("log", { kind: "commissioned", step: "safety", confirmed: [...ticked] });
    if (taken === true) onDone();
  };
  return (
    <div class="log-entry">
      <Checklist
        title="True here, all of it:"
        points={commissioning.safety}
        ticked={ticked}
        onTicked={setTicked}
      />
      <button
        type="button"
        class="plain wide"
        disabled={view.past || ticked.size < commissioning.safety.length}
        onClick={() => void sign()}
      >
        Sign the list
      </button>
      {step !== undefined && <Signed step={step} />}
    </div>
  );
}

/** The sheet with every step, who signed it and what was measured. */
export function ReportToKeep() {
  return (
    <a class="plain wide" href="/api/v1/commissioning?format=html" target="_blank" rel="noopener">
      Report to print and keep
    </a>
  );
}
