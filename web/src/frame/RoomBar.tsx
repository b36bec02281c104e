import { ROOMS, type Room } from "../router";
import { capital } from "../format";

const GLYPHS: Record<Room, string> = {
  now: "M3 9q3-3.5 6 0t6 0 6 0M3 15q3-3.5 6 0t6 0 6 0",
  trends: "M4 3v17h17M7 15l4-5 4 3 5-7",
  log: "M6 3h12v18H6zM9 8h6M9 12h6M9 16h4",
  health: "M3 12h4l2-5 4 10 2.5-5H21",
  plan: "M4 5h16v16H4zM4 10h16M8 3v4M16 3v4M8 15h4",
};

export function RoomBar({ room }: { room: Room }) {
  return (
    <nav class="rooms" aria-label="Rooms">
      {ROOMS.map((each) => (
        <a key={each} href={`#/${each}`} aria-current={each === room ? "page" : undefined}>
          <svg viewBox="0 0 24 24" aria-hidden="true">
            <path d={GLYPHS[each]} />
          </svg>
          {capital(each)}
        </a>
      ))}
    </nav>
  );
}
