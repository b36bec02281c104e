import { useEffect, useRef, useState } from "preact/hooks";

const HOLD_MS = 1000;
const AGAIN_MS = 5000;

/**
 * The finger still lies on the glass when the second is over, and what was under it may be gone by then: lifting it
 * must press nothing else. Any new press ends this at once, so that Stop is never swallowed.
 */
export function swallowRelease(): void {
  const swallow = (event: MouseEvent) => {
    if (event.detail === 0) return;
    event.preventDefault();
    event.stopPropagation();
    finish();
  };
  const finish = () => {
    removeEventListener("click", swallow, true);
    removeEventListener("pointerdown", finish, true);
  };
  addEventListener("click", swallow, true);
  addEventListener("pointerdown", finish, true);
}

/** A key that is still held down repeats itself, and what has the focus next must not be pressed by it. */
export function swallowRepeats(): void {
  const swallow = (event: KeyboardEvent) => {
    if (event.repeat) event.preventDefault();
    else finish();
  };
  const finish = () => {
    removeEventListener("keydown", swallow, true);
    removeEventListener("keyup", finish, true);
  };
  addEventListener("keydown", swallow, true);
  addEventListener("keyup", finish, true);
}

/**
 * A button that acts after being held for a second, by finger, mouse, Space or Enter. Assistive devices that can
 * only press send a bare click: for them a second press within five seconds counts.
 */
export function Hold({ label, disabled, onHeld }: { label: string; disabled: boolean; onHeld: () => void }) {
  const [state, setState] = useState<"idle" | "holding" | "again">("idle");
  const timer = useRef(0);
  const touched = useRef(false);

  const clear = () => {
    clearTimeout(timer.current);
    timer.current = 0;
  };
  useEffect(() => clear, []);

  const begin = (byPointer: boolean) => {
    touched.current = true;
    if (disabled || timer.current !== 0) return;
    setState("holding");
    timer.current = window.setTimeout(() => {
      clear();
      setState("idle");
      if (byPointer) swallowRelease();
      else swallowRepeats();
      onHeld();
    }, HOLD_MS);
  };
  const end = () => {
    clear();
    setState("idle");
  };
  const bareClick = () => {
    if (touched.current) {
      touched.current = false;
      return;
    }
    if (disabled) return;
    if (state === "again") {
      end();
      onHeld();
      return;
    }
    setState("again");
    timer.current = window.setTimeout(end, AGAIN_MS);
  };
  const isPress = (event: KeyboardEvent) => event.key === " " || event.key === "Enter";

  return (
    <button
      type="button"
      class={`hold ${state}`}
      disabled={disabled}
      onPointerDown={() => begin(true)}
      onPointerUp={end}
      onPointerLeave={() => state === "holding" && end()}
      onPointerCancel={end}
      onContextMenu={(event) => event.preventDefault()}
      onKeyDown={(event) => {
        if (!isPress(event)) return;
        event.preventDefault();
        if (!event.repeat) begin(false);
      }}
      onKeyUp={(event) => {
        if (!isPress(event)) return;
        event.preventDefault();
        touched.current = false;
        end();
      }}
      onBlur={() => state === "holding" && end()}
      onClick={bareClick}
    >
      <span class="hold-fill" />
      <span class="hold-label">{state === "again" ? "Press once more" : label}</span>
    </button>
  );
}
