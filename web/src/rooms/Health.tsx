import { useState } from "preact/hooks";
import { Practice } from "../practice/Practice";
import { usePage } from "../page";
import { SaidFacts } from "./Facts";
import { OtherPhones } from "./OtherPhones";
import { ServiceLock } from "./ServiceLock";
import { SessionPanel } from "./SessionPanel";
import { useRead } from "./useRead";

function PracticePanel() {
  const [open, setOpen] = useState(false);
  return (
    <details class="picker" onToggle={(event) => setOpen(event.currentTarget.open)}>
      <summary>Practise a fault (simulated boat)</summary>
      {open && <Practice />}
    </details>
  );
}

export function Health() {
  const { snapshot } = usePage();
  const said = useRead<unknown>("/health", 60);
  return (
    <section class="paper" aria-label="Health">
      <h2>Health of the plant</h2>
      <SaidFacts
        said={said}
        nothing="Nothing is known yet. It takes some runs with a baseline before there is something to compare."
      />
      <ServiceLock />
      {snapshot?.simulated === true && <PracticePanel />}
      <OtherPhones />
      <SessionPanel />
    </section>
  );
}
