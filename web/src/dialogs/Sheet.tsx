import type { ComponentChildren } from "preact";
import { useLayoutEffect, useRef } from "preact/hooks";

/** A sheet over the page, from below on a phone. It does not cover the bar with Stop, and Tab leads from it to there. */
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
  // Before it is painted: a key that is pressed as soon as it shows is meant for it.
  useLayoutEffect(() => {
    const before = document.activeElement;
    box.current?.focus();
    return () => {
      if (before instanceof HTMLElement) before.focus();
    };
  }, []);
  return (
    <div class="veil" onClick={(event) => event.target === event.currentTarget && onClose()}>
      <div
        class="sheet"
        role="dialog"
        aria-label={title}
        tabIndex={-1}
        ref={box}
        onKeyDown={(event) => event.key === "Escape" && onClose()}
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
