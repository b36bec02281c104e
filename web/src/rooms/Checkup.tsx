import type { Schemas } from "../api";
import { duration } from "../format";
import { Told } from "./Told";
import { useRead } from "./useRead";

type Check = Schemas["Check"];
type Line = Schemas["CheckLine"];

const AGAIN_S = 10;
const LABELS: Record<Line["state"], string> = {
  problem: "Problem",
  warning: "Warning",
  not_seen: "Not seen",
  ok: "OK",
};

/** The gravest first; among equals as the program said them. */
export function gravestFirst(lines: readonly Line[]): Line[] {
  const order = Object.keys(LABELS);
  return [...lines].sort((one, other) => order.indexOf(one.state) - order.indexOf(other.state));
}

function Lines({ lines }: { lines: readonly Line[] }) {
  return (
    <ul class="entries">
      {lines.map((line, at) => (
        <li key={`${line.id} ${at}`} class="entry">
          <span class="entry-when">{LABELS[line.state]}</span>
          <span class="entry-main">
            <strong>{line.about}</strong>: {line.found}
          </span>
          {line.do !== "" && <span class="entry-why">{line.do}</span>}
        </li>
      ))}
    </ul>
  );
}

function counted(count: number, one: string): string {
  return `${count} ${one}${count === 1 ? "" : "s"}`;
}

function summary({ age_s, problems, warnings }: Check): string {
  if (age_s === null) return "Not looked at yet.";
  if (problems + warnings === 0) return "Nothing to put right.";
  return `${counted(problems, "problem")}, ${counted(warnings, "warning")}.`;
}

/** What was found; what is in order only for those who open it. */
export function CheckSaid(check: Check) {
  const lines = gravestFirst(check.lines);
  const wanting = lines.filter((line) => line.state === "problem" || line.state === "warning");
  const rest = lines.filter((line) => line.state === "ok" || line.state === "not_seen");
  return (
    <>
      <p>
        {summary(check)} {check.age_s !== null && <small>{duration(check.age_s)} ago</small>}
        {check.looking && <small> · looking now …</small>}
      </p>
      {check.problem !== null && <p class="hint">{check.problem}</p>}
      {wanting.length > 0 && <Lines lines={wanting} />}
      {rest.length > 0 && (
        <details class="picker">
          <summary>In order, or not to be seen from here ({rest.length})</summary>
          <Lines lines={rest} />
        </details>
      )}
    </>
  );
}

/** The computer, its services and all that the plant rests on besides itself: what `halocline check` says. */
export function Checkup() {
  const said = useRead<Check>("/check", AGAIN_S);
  return (
    <section aria-label="Computer and services">
      <h3>Computer and services</h3>
      <Told said={said}>{(check) => <CheckSaid {...check} />}</Told>
    </section>
  );
}
