import type { Condition } from "../api";
import { usePage } from "../page";

const LINK = new Set(["control_configuration", "control_cannot_start", "control_down", "control_silent"]);

/** What keeps control from being heard: the sentence tells of it, not a banner. */
export function ofTheLink(conditions: readonly Condition[]): Condition | null {
  return conditions.find((condition) => LINK.has(condition.id)) ?? null;
}

const HEADINGS: Record<Condition["id"], string> = {
  control_configuration: "The plant's settings are wrong",
  control_cannot_start: "Control cannot start",
  control_down: "Control is not running",
  control_silent: "Control says nothing",
  configuration_next: "The next start would fail",
  report_configuration: "The page's settings are wrong",
  certificate: "The certificate is no good",
  record_unavailable: "Nothing is being recorded",
  record_behind: "The record lags behind",
  record_note: "About the record",
};

/** Each kind of trouble by a drawing of its own: settings, process, certificate, record. */
const GLYPHS: Record<string, string> = {
  settings: "M4 7h9m4 0h3M4 17h3m4 0h9M13 4v6M7 14v6",
  process: "M5 5h14v10H5zM9 19h6M12 15v4M9 8l6 4M15 8l-6 4",
  certificate: "M6 11V8a6 6 0 0 1 11-3M5 11h14v9H5zM12 14v3",
  record: "M5 6c0-4 14-4 14 0v12c0 4-14 4-14 0zM5 6c0 4 14 4 14 0M5 12c0 4 14 4 14 0",
};

function glyphOf(id: Condition["id"]): string {
  if (id.startsWith("record")) return GLYPHS["record"] ?? "";
  if (id === "certificate") return GLYPHS["certificate"] ?? "";
  return (id.includes("configuration") ? GLYPHS["settings"] : GLYPHS["process"]) ?? "";
}

/** What is wrong in a file, key by key: what was found, what is allowed, what to do. */
export function FileProblems({ problems }: { problems: Condition["problems"] }) {
  if (problems.length === 0) return null;
  return (
    <ul class="file-problems">
      {problems.map((problem) => (
        <li key={`${problem.file} ${problem.key} ${problem.found}`}>
          <strong>{problem.key}</strong>
          {problem.line !== null && problem.line !== undefined && <span> (line {problem.line})</span>}:{" "}
          {problem.found}; allowed: {problem.allowed}. {problem.do}
        </li>
      ))}
    </ul>
  );
}

function One({ condition }: { condition: Condition }) {
  const note = condition.id === "record_note";
  return (
    <section class={`banner condition ${note ? "" : "problem"}`} aria-label={HEADINGS[condition.id]}>
      <h2>
        <svg viewBox="0 0 24 24" aria-hidden="true">
          <path d={glyphOf(condition.id)} />
        </svg>
        {HEADINGS[condition.id]}
      </h2>
      <p>{condition.means}</p>
      {condition.do !== "" && <p class="condition-do">{condition.do}</p>}
      <FileProblems problems={condition.problems} />
    </section>
  );
}

/** Everything that is wrong with the boat's computer itself, gravest first; each looks and reads differently. */
export function Conditions() {
  const { snapshot, view } = usePage();
  if (view.link.kind === "page_lost") return null;
  const conditions = snapshot?.conditions ?? [];
  return (
    <>
      {conditions
        .filter((condition) => !LINK.has(condition.id))
        .map((condition) => (
          <One key={condition.id} condition={condition} />
        ))}
    </>
  );
}
