// Answers the page's questions from the snapshots in fixtures/: for work on the page without a plant.
//   GET /fixtures          the names
//   PUT /fixtures/<name>   shows that one from now on; "frozen" stops the stream without closing it
import { readdirSync, readFileSync } from "node:fs";
import { fileURLToPath } from "node:url";

const folder = fileURLToPath(new URL("../fixtures/", import.meta.url));

export function fixtureNames() {
  return readdirSync(folder).filter((name) => name.endsWith(".json")).map((name) => name.slice(0, -5));
}

function load(name) {
  return JSON.parse(readFileSync(`${folder}${name}.json`, "utf8"));
}

// What a command does to the sight, where it does something.
const FOLLOWS = { start: "priming", stop: "stopping", flush: "flushing", acknowledge: "tripped_ready", reset: "standby_flush_owed" };

const LEVELS = { product_tds_mg_l: [320, 40], product_flow: [58, 4], membrane_pressure: [55, 1.5], feed_pressure: [0.58, 0.06], tank_level: [54, 12] };

function history(query) {
  const channel = query.get("channel");
  const from = Number(query.get("from"));
  const to = Number(query.get("to"));
  const count = Math.min(1000, Number(query.get("points") ?? 300));
  const [level, swing] = LEVELS[channel] ?? [20, 2];
  const points = [];
  for (let at = 0; at < count; at += 1) {
    const share = at / (count - 1);
    const t = from + (to - from) * share;
    const mean = level + swing * Math.sin(share * 9) + (swing / 4) * Math.sin(share * 71);
    const gap = share > 0.55 && share < 0.62;
    points.push(gap ? { t, min: null, mean: null, max: null } : { t, min: mean - swing / 5, mean, max: mean + swing / 4 });
  }
  return { channel, unit: "", points };
}

const HOUR = 3600_000;
const ago = (hours) => new Date(Date.now() - hours * HOUR).toISOString();

function runs() {
  return [
    { id: "r0142", started: ago(0.75), ended: null, why: null, litres: 41.2, seconds: 2722, tds_mean_mg_l: 314, tds_worst_mg_l: 388, energy_wh: 1008, peak_pressure_bar: 55.6 },
    { id: "r0141", started: ago(27), ended: ago(25.9), why: "The 60 L asked for are in the tank.", litres: 60.1, overboard_l: 6.2, flush_l: 12.4, seconds: 3874, tds_mean_mg_l: 309, tds_worst_mg_l: 402, energy_wh: 1466, peak_pressure_bar: 55.9 },
    { id: "r0140", started: ago(75), ended: ago(74.8), why: "Stopped: pump inlet pressure fell to 0.10 bar.", first_out: "feed_pressure_low_low", litres: 8.3, overboard_l: 5.1, flush_l: 12, seconds: 812, tds_mean_mg_l: 331, tds_worst_mg_l: 420, energy_wh: 301, peak_pressure_bar: 55.4 },
  ];
}

const ALARMS = [
  { id: "feed_pressure_low_low", time: ago(74.8), to: "unacknowledged", priority: "high", means: "The high-pressure pump got too little sea water: 0.10 bar at its inlet." },
  { id: "feed_pressure_low_low", time: ago(74.7), to: "acknowledged", priority: "high", means: "The high-pressure pump got too little sea water: 0.10 bar at its inlet." },
  { id: "clock_unset", time: null, to: "normal", priority: "log", means: "The computer's clock is not set." },
];

const HEALTH = {
  membrane: { normalised_product_flow_l_h: 57.4, flow_change: -0.06, salt_passage: 0.0089, pressure_drop_bar: 0.61 },
  duties: [
    { id: "cartridges", title: "Cartridges", due: ago(-96), rests_on: "wet since 3 May, 14 days above 25 °C" },
    { id: "pump_oil", title: "Pump oil", left_h: 31, rests_on: "169 of 200 h since the last change" },
  ],
};

const PLAN = { tank_litres_l: 216, people: 2, use_per_day_l: 34, next_run: { title: "Tomorrow about 11:00", duration_min: 75, energy_wh: 1750, why: "The tank would be below a third by the evening." } };

const READS = { "/runs": runs, "/alarms": () => ALARMS, "/health": () => HEALTH, "/plan": () => PLAN };

function respond(response, status, said) {
  response.writeHead(status, { "Content-Type": "application/json" });
  response.end(JSON.stringify(said));
}

async function bodyOf(request) {
  let text = "";
  for await (const part of request) text += part;
  return text === "" ? {} : JSON.parse(text);
}

export function fixtureApi({ name = "producing", pin = null } = {}) {
  const now = { name, frozen: false, session: false, seq: 0 };

  const snapshot = () => {
    now.seq += 1;
    const read = load(now.name);
    return { ...read, seq: (read.seq ?? 0) + now.seq };
  };

  const stream = (request, response) => {
    response.writeHead(200, { "Content-Type": "text/event-stream", "Cache-Control": "no-store" });
    const send = () => {
      if (!now.frozen) response.write(`data: ${JSON.stringify(snapshot())}\n\n`);
    };
    send();
    const timer = setInterval(send, 500);
    request.on("close", () => clearInterval(timer));
  };

  const command = async (request, response) => {
    const said = await bodyOf(request);
    const open = said.command === "stop" || said.command === "silence";
    if (pin !== null && !open && !now.session) {
      respond(response, 401, { accepted: false, reasons: ["This command needs the boat's PIN."] });
      return;
    }
    const reasons = load(now.name).refused?.[said.command] ?? [];
    if (reasons.length > 0) {
      respond(response, 409, { accepted: false, reasons });
      return;
    }
    now.name = FOLLOWS[said.command] ?? now.name;
    respond(response, 200, { accepted: true, reasons: [] });
  };

  const session = async (request, response) => {
    const said = await bodyOf(request);
    now.session = said.pin === pin;
    respond(response, now.session ? 200 : 401, now.session ? {} : { reasons: ["That is not the PIN."] });
  };

  const api = (request, response, path, query) => {
    if (path === "/stream") stream(request, response);
    else if (path === "/now") respond(response, 200, snapshot());
    else if (path === "/history") respond(response, 200, history(query));
    else if (path === "/commands") void command(request, response);
    else if (path === "/session") void session(request, response);
    else if (path in READS) respond(response, 200, READS[path]());
    else if (path.startsWith("/runs/")) respond(response, 200, runs().find((run) => `/runs/${run.id}` === path) ?? {});
    else respond(response, 404, { detail: "not here" });
  };

  return (request, response, next) => {
    const { pathname, searchParams } = new URL(request.url, "http://boat.local");
    if (pathname.startsWith("/api/v1")) {
      api(request, response, pathname.slice("/api/v1".length), searchParams);
    } else if (pathname === "/fixtures") {
      respond(response, 200, fixtureNames());
    } else if (request.method === "PUT" && pathname.startsWith("/fixtures/")) {
      const asked = pathname.slice("/fixtures/".length);
      now.frozen = asked === "frozen";
      if (!now.frozen && fixtureNames().includes(asked)) now.name = asked;
      respond(response, 200, { name: now.name, frozen: now.frozen });
    } else {
      next();
    }
  };
}
