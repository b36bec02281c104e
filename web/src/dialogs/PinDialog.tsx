import { useRef, useState } from "preact/hooks";
import { openSession } from "../api";
import { Sheet } from "./Sheet";

/** Asks for the PIN, opens a session with it, and goes on with what was asked for. */
export function PinDialog({
  why,
  onOpened,
  onClose,
}: {
  why: string | null;
  onOpened: () => void;
  onClose: () => void;
}) {
  const field = useRef<HTMLInputElement>(null);
  const [wrong, setWrong] = useState<string | null>(null);
  const [busy, setBusy] = useState(false);
  const submit = async (event: Event) => {
    event.preventDefault();
    const pin = field.current?.value ?? "";
    if (pin === "" || busy) return;
    setBusy(true);
    const refusal = await openSession(pin);
    setBusy(false);
    if (refusal === null) {
      onOpened();
      return;
    }
    setWrong(refusal);
    if (field.current !== null) field.current.value = "";
    field.current?.focus();
  };
  return (
    <Sheet title="The boat's PIN" onClose={onClose}>
      <form onSubmit={(event) => void submit(event)}>
        <p>{why ?? "This command needs the PIN. Stop never does."}</p>
        <label class="field">
          PIN
          <input
            ref={field}
            type="password"
            inputMode="numeric"
            autocomplete="current-password"
            aria-invalid={wrong !== null}
            aria-describedby="pin-wrong"
          />
        </label>
        <p id="pin-wrong" class="wrong" role="alert">
          {wrong}
        </p>
        <button type="submit" class="main wide" disabled={busy}>
          {busy ? "Asking…" : "Go on"}
        </button>
      </form>
    </Sheet>
  );
}
