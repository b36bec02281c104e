import { usePage } from "../page";

/** Never more than is left: rounded down, to the second. */
export function countdown(left_s: number): string {
  const whole = Math.floor(left_s);
  const minutes = Math.floor(whole / 60);
  return minutes === 0 ? `${whole} s` : `${minutes} min ${whole % 60} s`;
}

/**
 * "Still there?": a run with nobody beside it ends by itself. The answer is one big button; how long it waits runs
 * down beside it. A screen reader is told when the question comes, not every second.
 */
export function StillThere() {
  const { view, snapshot, perform } = usePage();
  const attendance = snapshot?.attendance ?? null;
  if (view.past || attendance === null || !attendance.asked) return null;
  const left_s =
    attendance.answer_left_s === null ? null : Math.max(0, attendance.answer_left_s - view.lag_s);
  const { command, ...args } = attendance.answer;
  return (
    <div class="still-there">
      <p role="alert">Is a person still at the plant?</p>
      <button type="button" class="main wide" onClick={() => perform(command, args)}>
        I am here
      </button>
      {left_s !== null && (
        <p class="hint">
          Without an answer the run ends in {countdown(left_s)}. The button at the plant answers too.
        </p>
      )}
    </div>
  );
}
