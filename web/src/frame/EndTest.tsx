import { useState } from "preact/hooks";
import { usePage } from "../page";
import { Checklist } from "./Checklist";

/** The tests that end the purge owed now, each confirmed for itself: no strip, nose or tongue stands for another. */
export function EndTest({ onDone }: { onDone?: () => void }) {
  const { perform, view } = usePage();
  const [ticked, setTicked] = useState<ReadonlySet<string>>(new Set());
  const purge = view.plant?.owed?.purge ?? null;
  if (purge === null) return null;
  const tests = purge.tests ?? [];
  const against = purge.not_now ?? [];
  const open = tests.some(({ id }) => !ticked.has(id));

  async function confirm() {
    const kept = await perform("log", { kind: "purge_confirmed", confirmed: tests.map(({ id }) => id) });
    if (kept === true) onDone?.();
  }

  return (
    <div class="end-test">
      <Checklist
        title="Tested in this order, from flowing product"
        points={tests}
        ticked={ticked}
        onTicked={setTicked}
      />
      <button
        type="button"
        class="plain wide"
        disabled={view.past || open || against.length > 0}
        onClick={() => void confirm()}
      >
        The purge is done
      </button>
      {against.length > 0 && <p class="hint">Not now: {against[0]}</p>}
    </div>
  );
}
