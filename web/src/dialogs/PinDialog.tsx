import { useRef, useState } from "preact/hooks";
import { Sheet } from "./Sheet";

export interface PinDialogProps {
  why: string | null;
  /** A session may be signed with a name; a PIN asked again belongs to the one who opened it. */
  asksName: boolean;
  /** Tries the PIN. Gives what stands against it, or null when it was right. */
  onPin: (pin: string, name: string) => Promise<string | null>;
  onClose: () => void;
}

const NAME = "halocline.name";

function rememberedName(): string {
  try {
    return localStorage.getItem(NAME) ?? "";
  } catch {
    return "";
  }
}

function rememberName(name: string): void {
  try {
    localStorage.setItem(NAME, name);
  } catch {
    // Nothing is kept in a private window.
  }
}

/** Asks for the PIN until it is right or the asking is given up. */
export function PinDialog({ why, asksName, onPin, onClose }: PinDialogProps) {
  const field = useRef<HTMLInputElement>(null);
  const [name, setName] = useState(rememberedName);
  const [wrong, setWrong] = useState<string | null>(null);
  const [busy, setBusy] = useState(false);
  const submit = async (event: Event) => {
    event.preventDefault();
    const pin = field.current?.value ?? "";
    if (pin === "" || busy) return;
    setBusy(true);
    if (asksName) rememberName(name.trim());
    const refusal = await onPin(pin, name.trim());
    setBusy(false);
    setWrong(refusal);
    if (refusal === null) return;
    if (field.current !== null) field.current.value = "";
    field.current?.focus();
  };
  return (
    <Sheet title="The boat's PIN" onClose={onClose}>
      <form onSubmit={(event) => void submit(event)}>
        <p>{why ?? "This command needs the PIN. Stop never does."}</p>
        {asksName && (
          <label class="field">
            Your name, for the log (may stay empty)
            <input
              type="text"
              maxLength={40}
              autocomplete="username"
              value={name}
              onInput={(event) => setName(event.currentTarget.value)}
            />
          </label>
        )}
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
