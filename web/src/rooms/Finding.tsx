import { useState } from "preact/hooks";
import type { Schemas } from "../api";
import { moment, number } from "../format";
import { usePage } from "../page";

type Found = Schemas["Finding"];

function AsideForm({ finding, onDone }: { finding: Found; onDone: () => void }) {
  const { perform, view } = usePage();
  const [reason, setReason] = useState("");
  const submit = async (event: Event) => {
    event.preventDefault();
    const taken = await perform("log", { kind: "finding_aside", finding: finding.name, note: reason.trim() });
    if (taken === true) onDone();
  };
  return (
    <form class="log-entry" onSubmit={submit}>
      <label class="field">
        Why it can wait
        <input
          type="text"
          maxLength={200}
          value={reason}
          onInput={(event) => setReason(event.currentTarget.value)}
        />
      </label>
      <button type="submit" class="plain wide" disabled={view.past || reason.trim() === ""}>
        Put aside
      </button>
    </form>
  );
}

function asideWords({ on, reason, who }: NonNullable<Found["aside"]>): string {
  return `Put aside ${on === null ? "" : `on ${moment(on)} `}${who === null ? "" : `by ${who} `}until it changes: ${reason}`;
}

/** What is sure, how sure, and the way to put it aside with a reason. */
export function FindingNotice({ finding }: { finding: Found }) {
  const [asking, setAsking] = useState(false);
  const [done, setDone] = useState(false);
  const { aside } = finding;
  return (
    <section class={`finding${aside === null ? "" : " aside"}`} aria-label="Found about the plant">
      <p>
        <strong>{finding.text}</strong> {number(100 * finding.confidence, 0)}
        {"\u00a0"}% sure.
      </p>
      {aside !== null && <p class="hint">{asideWords(aside)}</p>}
      {aside === null && done && <p class="hint">Put aside; it is told again when it changes.</p>}
      {aside === null && !done && asking && <AsideForm finding={finding} onDone={() => setDone(true)} />}
      {aside === null && !done && !asking && (
        <button type="button" class="plain" onClick={() => setAsking(true)}>
          Put aside…
        </button>
      )}
    </section>
  );
}
