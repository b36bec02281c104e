import { useState } from "preact/hooks";
import { usePage } from "../page";

const KINDS: [kind: string, label: string][] = [
  ["filter_changed", "Filters changed"],
  ["circuit_opened", "Sea-water circuit opened"],
  ["element_changed", "Membrane changed"],
  ["cleaned", "Membrane cleaned"],
  ["strainer_cleaned", "Strainer cleaned"],
  ["oil_changed", "Pump oil changed"],
  ["hand_meter", "Hand meter compared"],
  ["shore_water_taken", "Shore water taken"],
  ["tank_chlorinated", "Tank chlorinated"],
  ["chlorine_strip_zero", "Chlorine strip reads 0"],
  ["note", "Something else"],
];

/** Work done by hand: only people can put it on record. */
export function LogEntry() {
  const { perform, view } = usePage();
  const [kind, setKind] = useState("filter_changed");
  const [note, setNote] = useState("");
  const submit = (event: Event) => {
    event.preventDefault();
    perform("log", note.trim() === "" ? { kind } : { kind, note: note.trim() });
    setNote("");
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
        Note
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
