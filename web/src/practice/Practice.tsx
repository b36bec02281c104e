import "../styles/rooms";
import { useState } from "preact/hooks";
import type { FaultArgument, Faults, OfferedFault, StandingFault } from "../api";
import { capital, plain } from "../format";
import { usePage } from "../page";
import { Told } from "../rooms/Told";
import { useRead } from "../rooms/useRead";
import { beginning, fieldProblem, mend, order, type Chosen } from "./order";

const KINDS: Record<OfferedFault["kind"], string> = {
  plant: "Plant",
  sensor: "Sensors",
  electronics: "Electronics",
};

function Field({
  argument,
  unit,
  text,
  onText,
}: {
  argument: FaultArgument;
  unit: string;
  text: string;
  onText: (text: string) => void;
}) {
  const problem = fieldProblem(argument, text);
  const shown = argument.in_channel_unit ? unit : argument.unit;
  const label = `${capital(plain(argument.name))}${shown === "" ? "" : ` (${shown})`}`;
  return (
    <label class="field">
      {label}
      {argument.optional && <small> may be left empty</small>}
      {argument.choices.length > 0 ? (
        <select value={text} onChange={(event) => onText(event.currentTarget.value)}>
          {argument.choices.map((choice) => (
            <option key={choice} value={choice}>
              {choice}
            </option>
          ))}
        </select>
      ) : (
        <input
          type="text"
          inputMode="decimal"
          value={text}
          aria-invalid={problem !== null}
          onInput={(event) => onText(event.currentTarget.value)}
        />
      )}
      {problem !== null && text !== "" && <small class="field-problem">{problem}</small>}
    </label>
  );
}

function Chooser({ offered, onGive }: { offered: OfferedFault[]; onGive: (args: object) => void }) {
  const [name, setName] = useState(offered[0]?.fault ?? "");
  const [target, setTarget] = useState("");
  const [chosen, setChosen] = useState<Chosen>({});
  const fault = offered.find((one) => one.fault === name);
  if (fault === undefined) return null;
  const at = target !== "" ? target : String(fault.choices[0]?.value ?? "");
  const unit = fault.choices.find((one) => String(one.value) === at)?.unit ?? "";
  const args = order(fault, at, chosen);
  const choose = (next: string) => {
    setName(next);
    setTarget("");
    setChosen({});
  };
  return (
    <form
      class="log-entry"
      onSubmit={(event) => {
        event.preventDefault();
        if (args !== null) onGive(args);
      }}
    >
      <label class="field">
        What breaks
        <select value={name} onChange={(event) => choose(event.currentTarget.value)}>
          {Object.entries(KINDS).map(([kind, label]) => (
            <optgroup key={kind} label={label}>
              {offered
                .filter((one) => one.kind === kind)
                .map((one) => (
                  <option key={one.fault} value={one.fault}>
                    {one.name}
                  </option>
                ))}
            </optgroup>
          ))}
        </select>
      </label>
      <p class="hint">{fault.does}</p>
      {fault.target !== null && (
        <label class="field">
          Where
          <select value={at} onChange={(event) => setTarget(event.currentTarget.value)}>
            {fault.choices.map((choice) => (
              <option key={choice.value} value={String(choice.value)}>
                {choice.name}
              </option>
            ))}
          </select>
        </label>
      )}
      {fault.arguments.map((argument) => (
        <Field
          key={argument.name}
          argument={argument}
          unit={unit}
          text={chosen[argument.name] ?? beginning(argument)}
          onText={(text) => setChosen({ ...chosen, [argument.name]: text })}
        />
      ))}
      <button type="submit" class="main wide" disabled={args === null}>
        Break it
      </button>
    </form>
  );
}

function settings(fault: StandingFault): string {
  const parts = Object.entries(fault.arguments).map(([name, value]) => `${plain(name)} ${value}`);
  return parts.length === 0 ? "" : ` (${parts.join(", ")})`;
}

function Standing({ faults, onMend }: { faults: Faults; onMend: (args: object) => void }) {
  if (faults.standing.length === 0) return <p class="nothing">Nothing is broken now.</p>;
  return (
    <ul class="standing-faults">
      {faults.standing.map((fault) => (
        <li key={`${fault.fault} ${fault.target ?? ""}`}>
          <span>
            {fault.name}
            {fault.target_name !== null && `: ${fault.target_name}`}
            {settings(fault)}
          </span>
          <button type="button" class="plain" onClick={() => onMend(mend(fault, faults.offered))}>
            Mend
            <span class="hidden">
              {" "}
              {fault.name} {fault.target_name ?? ""}
            </span>
          </button>
        </li>
      ))}
    </ul>
  );
}

/** On a simulated boat: break something on purpose, see what the plant does, and practise what to do. */
export function Practice() {
  const { perform, view } = usePage();
  const said = useRead<Faults>("/faults", 2);
  const give = (args: object) => perform("fault", { ...args });
  return (
    <section class="practice" aria-label="Practise a fault">
      <p class="hint">
        For practice on the simulated boat only: nothing here is real. Start a run, break something, read what
        the page says, and put it right. What is broken stays so until it is mended here.
      </p>
      <Told said={said}>
        {(faults) => (
          <>
            <Standing faults={faults} onMend={give} />
            {!view.past && <Chooser offered={faults.offered} onGive={give} />}
          </>
        )}
      </Told>
    </section>
  );
}
