import { useState } from "preact/hooks";
import { usePage } from "../page";

/** Before a housing is opened: while the lock stands nothing starts, flushes or moves, on any face. */
export function ServiceLock({ open = false }: { open?: boolean }) {
  const { view, perform } = usePage();
  const [name, setName] = useState("");
  const [reason, setReason] = useState("");
  const possible = view.plant?.allowed_commands?.includes("service_lock") === true && !view.past;
  if (!possible || view.plant?.locked != null) return null;
  const ready = name.trim() !== "" && reason.trim() !== "";
  const submit = (event: Event) => {
    event.preventDefault();
    if (ready) perform("service_lock", { name: name.trim(), reason: reason.trim() });
  };
  return (
    <details class="picker" open={open}>
      <summary>Lock the plant for service</summary>
      <form class="log-entry" onSubmit={submit}>
        <p class="hint">
          Before anything is opened: lock, breaker off, seacock shut, 0 bar on the mechanical gauge.
        </p>
        <label class="field">
          Your name
          <input
            type="text"
            maxLength={40}
            value={name}
            onInput={(event) => setName(event.currentTarget.value)}
          />
        </label>
        <label class="field">
          What is open
          <input
            type="text"
            maxLength={200}
            value={reason}
            onInput={(event) => setReason(event.currentTarget.value)}
          />
        </label>
        <button type="submit" class="main wide" disabled={!ready}>
          Lock
        </button>
      </form>
    </details>
  );
}
