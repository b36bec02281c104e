/** Rooms live behind the # of the address: the server knows one page only. */

import { useEffect, useState } from "preact/hooks";

export const ROOMS = ["now", "trends", "log", "health", "plan"] as const;
export type Room = (typeof ROOMS)[number];

export interface Route {
  room: Room;
  /** What follows the room: "#/log/r12" has ["r12"]. */
  rest: string[];
  query: URLSearchParams;
}

function decoded(part: string): string {
  try {
    return decodeURIComponent(part);
  } catch {
    return part;
  }
}

export function parseRoute(hash: string): Route {
  const [path = "", query = ""] = hash.replace(/^#\/?/, "").split("?");
  const [first, ...rest] = path
    .split("/")
    .filter((part) => part !== "")
    .map(decoded);
  const room = ROOMS.find((known) => known === first) ?? "now";
  return { room, rest, query: new URLSearchParams(query) };
}

export function useRoute(): Route {
  const [hash, set] = useState(location.hash);
  useEffect(() => {
    const follow = () => set(location.hash);
    addEventListener("hashchange", follow);
    return () => removeEventListener("hashchange", follow);
  }, []);
  return parseRoute(hash);
}

export function trendAddress(channel: string): string {
  return `#/trends?show=${encodeURIComponent(channel)}`;
}
