import { actions, type Action } from "../actions";
import { usePage } from "../page";

function words(action: Action): string {
  const count = action.refused.length;
  if (count === 0) return action.note ?? "";
  return count === 1 ? "not now: 1 reason" : `not now: ${count} reasons`;
}

/** The one or two things that make sense now, and Stop, always in the same corner. */
export function ActionBar({
  calm = false,
  alarmInSight = true,
  onAction,
  onStop,
}: {
  /** A person is busy with something else: only Stop stays in the foreground here. */
  calm?: boolean;
  alarmInSight?: boolean;
  onAction: (action: Action) => void;
  onStop: () => void;
}) {
  const { view, snapshot } = usePage();
  const { offered, stop } = actions(view, snapshot?.drive, alarmInSight);
  return (
    <div class="actions" role="group" aria-label="Actions">
      {offered.map((action, at) => (
        <button
          key={action.id}
          type="button"
          class={`${!calm && at === 0 && action.refused.length === 0 ? "main" : "side"}${action.refused.length > 0 ? " refused" : ""}`}
          onClick={() => onAction(action)}
        >
          {action.label}
          {words(action) !== "" && <small>{words(action)}</small>}
        </button>
      ))}
      <button type="button" class={`stop${stop.prominent ? " prominent" : ""}`} onClick={onStop}>
        <svg viewBox="0 0 16 16" aria-hidden="true">
          <rect x="2" y="2" width="12" height="12" rx="1.5" />
        </svg>
        <span>{stop.label}</span>
      </button>
    </div>
  );
}
