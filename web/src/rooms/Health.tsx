import { useState } from "preact/hooks";
import { Practice } from "../practice/Practice";
import { usePage } from "../page";
import { taskNamed } from "../tasks/table";
import { TaskList, TaskScreen } from "../tasks/Tasks";
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

export function Health({ rest = [] }: { rest?: string[] }) {
  const task = rest[0] === "task" ? taskNamed(rest[1]) : null;
  return task === null ? <Overview /> : <TaskScreen key={task.id} task={task} />;
}

function Overview() {
  const { snapshot } = usePage();
  const said = useRead<unknown>("/health", 60);
  return (
    <section class="paper" aria-label="Health">
      <h2>Health of the plant</h2>
      <SaidFacts
        said={said}
        nothing="Nothing is known yet. It takes some runs with a baseline before there is something to compare."
      />
      <TaskList />
      <ServiceLock />
      {snapshot?.simulated === true && <PracticePanel />}
      <OtherPhones />
      <SessionPanel />
    </section>
  );
}
