import { useState } from "preact/hooks";
import { usePage } from "../page";
import { KINDS } from "./work";

/** Work done by hand: only people can put it on record. */
export function LogEntry() {
  const { perform, view } = usePage();
  const [kind, setKind] = useState("filter_changed");
  const [note, setNote] = useState("");
  const asks = KINDS.find(([each]) => each === kind)?.[2];
  const submit = async (event: Event) => {
    event.preventDefault();
    const taken = await perform("log", note.trim() === "" ? { kind } : { kind, note: note.trim() });
    // What was refused is not typed again.
    if (taken === true) setNote("");
  };
  return (
    <form class="log-entry" onSubmit={submit}>
      <label class="field">
        What was done
        <select value={kind} onChange={(event) => setKind(event.currentTarget.value)}>
          {KINDS.map(([id, label]) => (
            <option key={id} value={id}>
              {label}
            </option>
          ))}
        </select>
      </label>
      <label class="field">
        Note: {asks?.toLowerCase()}
        <textarea
          rows={3}
          maxLength={500}
          value={note}
          onInput={(event) => setNote(event.currentTarget.value)}
        />
      </label>
      <button type="submit" class="main wide" disabled={view.past || (kind === "note" && note.trim() === "")}>
        Put on record
      </button>
    </form>
  );
}
