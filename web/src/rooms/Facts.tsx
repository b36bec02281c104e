import { capital, plain } from "../format";
import { usePage } from "../page";
import { fact } from "./facts";
import type { Said } from "./useRead";

type Parts = Record<string, unknown>;

const NOT_FOR_PEOPLE = new Set(["schema", "boot", "id", "boat", "seq"]);
const TOLD = "note";
const HEADINGS = ["title", "label", "name", "text", "what"];

function isParts(value: unknown): value is Parts {
  return typeof value === "object" && value !== null && !Array.isArray(value);
}

function headingOf(parts: Parts): [key: string | null, text: string | null] {
  for (const key of HEADINGS) {
    const value = parts[key];
    if (typeof value === "string") return [key, value];
  }
  return typeof parts["id"] === "string" ? [null, capital(plain(parts["id"]))] : [null, null];
}

/** A table of what is known: plain values first, then the parts that have parts of their own. */
export function Facts({ of, heading }: { of: Parts; heading?: string }) {
  const { units } = usePage();
  const [taken, own] = headingOf(of);
  const title = heading !== undefined && taken !== null ? `${heading}: ${own}` : (heading ?? own);
  const entries = Object.entries(of).filter(
    ([name]) => !NOT_FOR_PEOPLE.has(name) && name !== taken && name !== TOLD,
  );
  const plainOnes = entries.flatMap(([name, value]) => {
    const one = fact(name, value, units);
    return one === null ? [] : [{ name, ...one }];
  });
  const nested = entries.filter(([, value]) => typeof value === "object" && value !== null);
  return (
    <div class="fact-group">
      {title !== null && <h3>{title}</h3>}
      {typeof of[TOLD] === "string" && <p class="hint">{of[TOLD]}</p>}
      {plainOnes.length > 0 && (
        <dl class="facts">
          {plainOnes.map((one) => (
            <div key={one.name} class="fact">
              <dt>{one.label}</dt>
              <dd>{one.value}</dd>
            </div>
          ))}
        </dl>
      )}
      {nested.map(([name, value]) => (
        <Nested key={name} name={name} value={value} />
      ))}
    </div>
  );
}

function Nested({ name, value }: { name: string; value: unknown }) {
  if (isParts(value)) return <Facts of={value} heading={capital(plain(name))} />;
  if (!Array.isArray(value) || value.length === 0) return null;
  return (
    <div class="fact-group">
      <h3>{capital(plain(name))}</h3>
      {value.map((each, at) =>
        isParts(each) ? (
          <Facts key={String(each["id"] ?? at)} of={each} />
        ) : (
          <p key={String(each)}>{String(each)}</p>
        ),
      )}
    </div>
  );
}

function isEmpty(value: unknown): boolean {
  return (
    !isParts(value) || Object.keys(value).every((name) => NOT_FOR_PEOPLE.has(name) || value[name] === null)
  );
}

/** Shows what an address says, and says so when there is nothing or it cannot be read. */
export function SaidFacts({ said, nothing }: { said: Said<unknown>; nothing: string }) {
  if (said.kind === "loading") return <p class="nothing">Reading…</p>;
  if (said.kind === "failed") return <p class="nothing">{said.text}</p>;
  const value = Array.isArray(said.value) ? { items: said.value } : said.value;
  if (isEmpty(value) || !isParts(value)) return <p class="nothing">{nothing}</p>;
  return <Facts of={value} />;
}
