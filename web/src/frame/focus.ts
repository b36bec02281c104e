import type { RefObject } from "preact";
import { useEffect, useRef } from "preact/hooks";

/**
 * Where the button that had the focus is gone, the keyboard goes on from the room, not from nowhere. It is looked at
 * whenever `when` changes.
 */
export function useFocusKept(room: RefObject<HTMLElement>, when: string): void {
  const focused = useRef<Element | null>(null);
  useEffect(() => {
    const keep = (event: FocusEvent) => {
      focused.current = event.target as Element;
    };
    addEventListener("focusin", keep);
    return () => removeEventListener("focusin", keep);
  }, []);
  useEffect(() => {
    const gone = focused.current !== null && !focused.current.isConnected;
    if (gone && document.activeElement === document.body) room.current?.focus();
  }, [when]);
}
