import { useState } from "preact/hooks";
import { capital } from "../format";

/** Stands where a part of the page is still to come, or could not be had: what that means, and a way to try again. */
export function Fetching({
  name,
  failed,
  again,
}: {
  name: string;
  failed: boolean;
  /** False when nothing answered. */
  again: () => Promise<boolean>;
}) {
  const [asking, setAsking] = useState(false);
  const [tries, setTries] = useState(0);
  if (!failed) return <p class="nothing fetching">Fetching {name}…</p>;
  const press = async () => {
    setAsking(true);
    if (await again()) return;
    setAsking(false);
    setTries(tries + 1);
  };
  return (
    <div class="fetching-failed" role="alert">
      <p>
        {capital(name)} could not be fetched from the boat's computer. The plant is not affected, and Stop
        works as before.
      </p>
      {tries > 0 && <p class="hint">Still no answer. Is this device in the boat's network?</p>}
      <button type="button" class="plain wide" disabled={asking} onClick={() => void press()}>
        {asking ? "Asking…" : "Try again"}
      </button>
    </div>
  );
}
