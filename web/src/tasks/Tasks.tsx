import "../styles/rooms";
import { useEffect, useState } from "preact/hooks";
import { inUnits } from "../format";
import { usePage } from "../page";
import { useRead } from "../rooms/useRead";
import { isSigned, resumeAt, signedBy, type Commissioning } from "./commissioning";
import { look } from "./conditions";
import { DEVICE, keep, kept } from "./engine";
import { StepBody } from "./StepBody";
import { taskNamed, TASKS, type Task } from "./table";

const COMMISSIONING = "commissioning";
const SIGNED_EVERY_S = 3;

/** The tasks to choose from; one that was left half done says where it stands. */
export function TaskList() {
  const { units } = usePage();
  return (
    <section aria-label="Guided tasks">
      <h2>Guided tasks</h2>
      <ul class="entries">
        {TASKS.map((task) => {
          const at = kept(task, DEVICE, Date.now());
          return (
            <li key={task.id}>
              <a class="entry task-entry" href={`#/health/task/${task.id}`}>
                <span class="entry-main">
                  <strong>{task.title}</strong>
                </span>
                <span class="entry-why">
                  {at === null
                    ? inUnits(task.when, units)
                    : `Go on: step ${at + 1} of ${task.steps.length}, ${task.steps[at]?.title}`}
                </span>
              </a>
            </li>
          );
        })}
      </ul>
    </section>
  );
}

/** One step a screen: what can hurt, what to do, what is seen, and one big button on. */
export function TaskScreen({ task }: { task: Task }) {
  const { view, units } = usePage();
  const [at, setAt] = useState(() => kept(task, DEVICE, Date.now()) ?? 0);
  const [done, setDone] = useState(false);
  const step = task.steps[at];
  const isCommissioning = task.id === COMMISSIONING;
  const said = useRead<Commissioning>(isCommissioning ? "/commissioning" : null, SIGNED_EVERY_S);
  const commissioning = said.kind === "ready" ? said.value : null;
  const known = commissioning !== null;
  useEffect(() => {
    if (commissioning !== null) setAt((now) => Math.max(now, resumeAt(task, commissioning)));
    // only once it is known how far the plant is: afterwards a person goes back and forth as they like
  }, [known, task]);
  const go = (to: number) => {
    const over = to >= task.steps.length;
    keep(task, over ? null : to, DEVICE, Date.now());
    setDone(false);
    if (over) location.hash = "#/health";
    else setAt(to);
  };
  if (step === undefined) return null;
  const until =
    step.kind === "wait" || step.kind === "command" || step.kind === "end_test"
      ? step.until
      : step.kind === "lock"
        ? "locked"
        : undefined;
  const seen = until === undefined ? null : look(until, view.plant, view.past, units);
  const last = at + 1 === task.steps.length;
  const wantsAction = step.kind === "log" || (step.kind === "command" && until === undefined);
  const signing = signedBy(step, commissioning) !== null;
  const open = signing
    ? done || isSigned(step, commissioning)
    : seen === null
      ? !wantsAction || done
      : seen.met === true;
  return (
    <section class="paper task" aria-label={task.title}>
      <p class="task-where">
        <a href="#/health">Health</a>
        <span>
          · {task.title} · step&nbsp;{at + 1} of&nbsp;{task.steps.length}
        </span>
      </p>
      <progress value={at} max={task.steps.length} aria-label="Progress" />
      <h2>{step.title}</h2>
      {step.caution !== undefined && (
        <p class="caution">
          <strong>Careful:</strong> {inUnits(step.caution, units)}
        </p>
      )}
      <p class="task-text">{inUnits(step.text, units)}</p>
      <StepBody key={at} step={step} commissioning={commissioning} onDone={() => setDone(true)} />
      {seen !== null && (
        <p class={`seen ${seen.met === true ? "met" : "unmet"}`} role="status">
          <span aria-hidden="true">{seen.met === true ? "✓" : "…"}</span> {seen.text}
        </p>
      )}
      <div class="task-buttons">
        <button type="button" class="plain" disabled={at === 0} onClick={() => go(at - 1)}>
          Back
        </button>
        <button type="button" class="main" disabled={!open} onClick={() => go(at + 1)}>
          {last ? "Finished" : "Next"}
        </button>
      </div>
    </section>
  );
}

/** The task of that name. */
export function TaskRoom({ id }: { id: string | undefined }) {
  const task = taskNamed(id);
  if (task !== null) return <TaskScreen key={task.id} task={task} />;
  return (
    <section class="paper" aria-label="Guided task">
      <p>There is no task of this name.</p>
      <a class="button plain" href="#/health">
        All tasks
      </a>
    </section>
  );
}
