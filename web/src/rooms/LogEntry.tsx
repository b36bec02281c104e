import { useState } from "preact/hooks";
import { usePage } from "../page";
import { READINGS, readingOf, unitOf } from "./readings";
import { KINDS } from "./work";

type Typed = Record<string, string>;

/** The numbers of what was read beside the sensors, and how they were got. */
function ReadingFields({
  kind,
  typed,
  way,
  onTyped,
  onWay,
}: {
  kind: string;
  typed: Typed;
  way: string;
  onTyped: (typed: Typed) => void;
  onWay: (way: string) => void;
}) {
  const { units } = usePage();
  const reading = READINGS[kind];
  if (reading === undefined) return null;
  return (
    <>
      <p class="hint">{reading.how}</p>
      {reading.asks.map((asked) => (
        <label key={asked.name} class="field">
          {asked.label} ({unitOf(asked, units)})
          <input
            type="text"
            inputMode="decimal"
            maxLength={12}
            value={typed[asked.name] ?? ""}
            onInput={(event) => onTyped({ ...typed, [asked.name]: event.currentTarget.value })}
          />
        </label>
      ))}
      {reading.ways !== undefined && (
        <label class="field">
          How it was got
          <select value={way} onChange={(event) => onWay(event.currentTarget.value)}>
            {reading.ways.map(([id, label]) => (
              <option key={id} value={id}>
                {label}
              </option>
            ))}
          </select>
        </label>
      )}
    </>
  );
}

/** Work done by hand, and what was read beside the sensors: only people can put it on record. */
export function LogEntry() {
  const { perform, view, units } = usePage();
  const [kind, setKind] = useState("filter_changed");
  const [typed, setTyped] = useState<Typed>({});
  const [way, setWay] = useState("refractometer");
  const [note, setNote] = useState("");
  const [wrong, setWrong] = useState<string[]>([]);
  const asks = KINDS.find(([each]) => each === kind)?.[2];
  const submit = async (event: Event) => {
    event.preventDefault();
    const read = readingOf(kind, typed, way, note, units);
    setWrong("wrong" in read ? read.wrong : []);
    if ("wrong" in read) return;
    const said = note.trim() === "" ? {} : { note: note.trim() };
    const taken = await perform("log", { kind, ...read.args, ...said });
    // What was refused is not typed again.
    if (taken !== true) return;
    setNote("");
    setTyped({});
  };
  return (
    <form class="log-entry" onSubmit={submit}>
      <label class="field">
        What was done
        <select
          value={kind}
          onChange={(event) => {
            setKind(event.currentTarget.value);
            setTyped({});
            setWrong([]);
          }}
        >
          {KINDS.map(([id, label]) => (
            <option key={id} value={id}>
              {label}
            </option>
          ))}
        </select>
      </label>
      <ReadingFields kind={kind} typed={typed} way={way} onTyped={setTyped} onWay={setWay} />
      <label class="field">
        Note: {asks?.toLowerCase()}
        <textarea
          rows={3}
          maxLength={500}
          value={note}
          onInput={(event) => setNote(event.currentTarget.value)}
        />
      </label>
      {wrong.length > 0 && (
        <p class="wrong" role="alert">
          {wrong.join(" ")}
        </p>
      )}
      <button type="submit" class="main wide" disabled={view.past || (kind === "note" && note.trim() === "")}>
        Put on record
      </button>
    </form>
  );
}
