import type { ComponentChildren } from "preact";
import { useEffect, useRef } from "preact/hooks";

const FOCUSABLE = "button:not([disabled]), input:not([disabled]), select, textarea, a[href]";

function keepInside(box: HTMLElement, event: KeyboardEvent): void {
  const stops = Array.from(box.querySelectorAll<HTMLElement>(FOCUSABLE));
  const first = stops[0];
  const last = stops[stops.length - 1];
  if (first === undefined || last === undefined) return;
  const at = document.activeElement;
  if (event.shiftKey && (at === first || at === box)) {
    event.preventDefault();
    last.focus();
  } else if (!event.shiftKey && at === last) {
    event.preventDefault();
    first.focus();
  }
}

/** A sheet over the page, from below on a phone. Stop stays within reach: it does not cover the action bar. */
export function Sheet({
  title,
  onClose,
  children,
}: {
  title: string;
  onClose: () => void;
  children: ComponentChildren;
}) {
  const box = useRef<HTMLDivElement>(null);
  useEffect(() => {
    const before = document.activeElement;
    box.current?.focus();
    return () => {
      if (before instanceof HTMLElement) before.focus();
    };
  }, []);
  const onKeyDown = (event: KeyboardEvent) => {
    if (event.key === "Escape") onClose();
    if (event.key === "Tab" && box.current !== null) keepInside(box.current, event);
  };
  return (
    <div class="veil" onClick={(event) => event.target === event.currentTarget && onClose()}>
      <div
        class="sheet"
        role="dialog"
        aria-modal="true"
        aria-label={title}
        tabIndex={-1}
        ref={box}
        onKeyDown={onKeyDown}
      >
        <div class="sheet-top">
          <h2>{title}</h2>
          <button type="button" class="plain" onClick={onClose}>
            Close
          </button>
        </div>
        {children}
      </div>
    </div>
  );
}
