import type { Schemas } from "../api";
import { useRead } from "../rooms/useRead";

const AGAIN_S = 60;

/** On the first page what is sure is told unasked, unless a person has put it aside; Health has the rest. */
export function Found() {
  const said = useRead<Schemas["HealthFinding"]>("/health/finding", AGAIN_S);
  const finding = said.kind === "ready" ? said.value.finding : null;
  if (finding === null || finding.aside !== null) return null;
  return (
    <section class="finding" aria-label="Found about the plant">
      <p>
        <strong>{finding.text}</strong> <a href="#/health">See Health</a>
      </p>
    </section>
  );
}
