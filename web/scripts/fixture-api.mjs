// Answers the page's questions from the snapshots in fixtures/: for work on the page without a plant.
//   GET /fixtures          the names
//   PUT /fixtures/<name>   shows that one from now on; "frozen" stops the stream without closing it
import { readdirSync, readFileSync } from "node:fs";
import { fileURLToPath } from "node:url";

const folder = fileURLToPath(new URL("../fixtures/", import.meta.url));

export function fixtureNames() {
  return readdirSync(folder)
    .filter((name) => name.endsWith(".json"))
    .map((name) => name.slice(0, -5));
}

function load(name) {
  return JSON.parse(readFileSync(`${folder}${name}.json`, "utf8"));
}

// What a command does to the sight, where it does something.
const FOLLOWS = {
  start: "priming",
  stop: "stopping",
  flush: "flushing",
  acknowledge: "tripped_ready",
  reset: "standby_flush_owed",
};

const LEVELS = {
  product_tds_mg_l: [320, 40],
  product_flow: [58, 4],
  vessel_pressure: [55, 1.5],
  feed_pressure: [0.58, 0.06],
  tank_fill: [54, 12],
};

function history(query) {
  const channel = query.get("channel");
  const from = Number(query.get("from"));
  const to = Number(query.get("to"));
  const count = Math.min(1000, Number(query.get("points") ?? 300));
  const [level, swing] = LEVELS[channel] ?? [20, 2];
  const said = {
    channel,
    unit: "",
    from,
    to,
    bucket_s: (to - from) / count,
    time: [],
    min: [],
    mean: [],
    max: [],
  };
  for (let at = 0; at < count; at += 1) {
    const share = at / (count - 1);
    const mean = level + swing * Math.sin(share * 9) + (swing / 4) * Math.sin(share * 71);
    const gap = share > 0.55 && share < 0.62;
    said.time.push(from + (to - from) * share);
    said.min.push(gap ? null : mean - swing / 5);
    said.mean.push(gap ? null : mean);
    said.max.push(gap ? null : mean + swing / 4);
  }
  return said;
}

const HOUR = 3600_000;
const ago = (hours) => new Date(Date.now() - hours * HOUR).toISOString();

const RUN = {
  boot: "7c1e09aa41d2",
  origin: "page",
  who: "Ana",
  asked: { litres: 60 },
  target_l: 60,
  first_out: null,
  going_on: false,
};

/** What the server says of a run on its sheet, shortened. */
function sheet(run) {
  const facts = [
    { name: "Started", text: "2026-09-21 14:15 UTC" },
    { name: "Into the tank", text: run?.litres == null ? "told when the run has ended" : `${run.litres} L` },
    { name: "First cause", text: "none" },
  ];
  return { ...run, story: `Asked for 60 L by Rui (page). ${run?.why ?? "It goes on."}`, facts };
}

function runs() {
  const list = [
    {
      id: 142,
      started: ago(0.75),
      ended: null,
      going_on: true,
      why: null,
      why_id: null,
      litres: null,
      seconds: null,
      producing_s: null,
      overboard_l: null,
      flush_l: null,
      tds_mean_mg_l: null,
      tds_worst_mg_l: null,
      energy_wh: null,
      energy_basis: null,
      peak_pressure_bar: null,
    },
    {
      id: 141,
      started: ago(27),
      ended: ago(25.9),
      why: "The 60 L asked for are in the tank.",
      why_id: "target_reached",
      litres: 60.1,
      overboard_l: 6.2,
      flush_l: 12.4,
      seconds: 3874,
      producing_s: 3606,
      tds_mean_mg_l: 309,
      tds_worst_mg_l: 402,
      energy_wh: 1466,
      peak_pressure_bar: 55.9,
    },
    {
      id: 140,
      started: ago(75),
      ended: ago(74.8),
      why: "Stopped: pump inlet pressure fell to 0.10 bar.",
      why_id: "tripped",
      first_out: "feed_pressure_low_low",
      litres: 8.3,
      overboard_l: 5.1,
      flush_l: 12,
      seconds: 812,
      producing_s: 498,
      tds_mean_mg_l: 331,
      tds_worst_mg_l: 420,
      energy_wh: 301,
      peak_pressure_bar: 55.4,
    },
  ];
  return list.map((run) => ({
    ...RUN,
    cut_off: false,
    energy_basis: "battery",
    energy_means: "inferred: what the battery gave beyond the boat's draw before the start",
    run: `7c1e09aa41d2-${run.id}`,
    ...run,
  }));
}

const STEP = {
  boot: "7c1e09aa41d2",
  mono_s: 100,
  name: "Pump inlet pressure too low",
  values: {},
  priority: "high",
};
const TOO_LITTLE = "The high-pressure pump got too little sea water: 0.10 bar at its inlet.";

const ALARMS = {
  alarms: [],
  journal: [
    {
      ...STEP,
      seq: 870,
      id: "feed_pressure_low",
      name: "Pump inlet pressure low",
      time: ago(0.6),
      to: "unacknowledged",
      means: "Pump inlet pressure is low: 0.28 bar.",
    },
    {
      ...STEP,
      seq: 812,
      id: "feed_pressure_low_low",
      time: ago(74.7),
      to: "acknowledged",
      means: TOO_LITTLE,
    },
    {
      ...STEP,
      seq: 801,
      id: "feed_pressure_low_low",
      time: ago(74.8),
      to: "unacknowledged",
      means: TOO_LITTLE,
    },
    {
      ...STEP,
      seq: 3,
      id: "clock_unset",
      name: "Clock not set",
      time: null,
      to: "normal",
      priority: "log",
      means: "The computer's clock is not set.",
    },
  ],
};

const FINDING = {
  name: "fouling",
  text: "The membrane is fouling: less water passes, and no more salt. Clean it, alkaline first, then acid.",
  confidence: 0.93,
  aside: null,
};

/** Points of every other week whose newest is `now`, begun to change halfway; invented. */
function bandOf(now, doubt) {
  const at = Array.from({ length: 12 }, (_, i) => i);
  const estimate = at.map((i) => (i === 0 ? null : now * Math.max(0, (i - 4) / 7) ** 1.3));
  return {
    at_s: at.map((i) => Date.parse(ago(24 * 14 * (11 - i))) / 1000),
    estimate,
    low: estimate.map((value, i) => (value === null ? null : value - doubt * (1 + 3 / (i + 1)))),
    high: estimate.map((value, i) => (value === null ? null : value + doubt * (1 + 3 / (i + 1)))),
  };
}

const AGEING = {
  sentence: FINDING.text,
  figures: [
    {
      name: "Product flow",
      now: "-11.8 % (80 % sure of -12.6 % to -11.0 %)",
      end: "-8.1 % in 100 h (-9.0 % to -7.2 %); -15.0 % in 41 h (29 to 55), 2027-01-19",
      unit: "1",
      threshold: -0.15,
      band: bandOf(-0.118, 0.006),
    },
    {
      name: "Salt passage",
      now: "+2.1 % (80 % sure of +0.4 % to +3.9 %)",
      end: "+1.0 % in 100 h (-0.4 % to +2.4 %); +30.0 % is not in sight, at the soonest in 1150 h",
      unit: "1",
      threshold: 0.3,
      band: bandOf(0.021, 0.012),
    },
    {
      name: "Pressure drop of the element",
      now: "0.04 bar (80 % sure of 0.03 bar to 0.05 bar)",
      end: "0.03 bar in 100 h (0.02 bar to 0.04 bar); 0.1 bar in 210 h (150 to 300), 2027-04-02",
      unit: "bar",
      threshold: 0.1,
      band: bandOf(0.04, 0.006),
    },
    {
      name: "Pressure drop of the filters",
      now: "not known yet, the pressure before the filters is not measured",
      end: "",
      unit: "bar",
      threshold: 0.5,
      band: { at_s: [], estimate: [], low: [], high: [] },
    },
  ],
  past_complete: true,
  evidence: [
    "product flow on the reference day fell by 11.8 % (± 0.6)",
    "product salt on the reference day did not move (within 1.2 %)",
    "rise of the tank against the product meter did not move (within 0.9 %)",
  ],
  ask: null,
  finding: FINDING,
  answer: {},
};

const HEALTH = {
  record: {
    state: "ok",
    problem: null,
    note: null,
    held: 3,
    refused: 0,
    lost: 0,
    unreadable: 0,
    last_write_age_s: 2.7,
  },
  counters: { high_pressure_pump_s: 612_400, product_l: 9812, flush_l: 1404 },
  last_flush: { time: ago(25.8), litres: 12.4, complete: true, measured: true },
  holes: [],
  membrane: AGEING,
  note: null,
};

const WORK = [
  {
    boot: "7c1e09aa41d2",
    seq: 840,
    time: ago(0.9),
    kind: "strainer_cleaned",
    note: "weed",
    who: "Ana",
    pump_s_since: 2700,
    product_l_since: 41,
  },
  {
    boot: "7c1e09aa41d2",
    seq: 790,
    time: ago(76),
    kind: "hand_meter",
    note: "318 mg/L, the page shows 311",
    who: "Ana",
    pump_s_since: 4686,
    product_l_since: 68,
  },
  {
    boot: "7c1e09aa41d2",
    seq: 411,
    time: ago(340),
    kind: "filter_changed",
    note: "both, brown",
    who: null,
    pump_s_since: 61_200,
    product_l_since: 943,
  },
];

const EVENTS = [
  ["run_ended", 25.9, "The run ended after 65 min: 60 L went to the tank, as asked.", null, null],
  ["state", 25.9, "Stopping: 60.1 L went to the tank, as asked.", null, null],
  ["state", 26.9, "Making water: the salt stayed within the limit for long enough.", null, null],
  ["command", 27, "Start: accepted.", "Ana", "page"],
  ["command", 27.1, "Start was refused: a flush is owed. Flush first.", "192.168.4.23", "page"],
  ["log", 76, "Hand meter compared: 318 mg/L, the page shows 311", "Ana", null],
  ["alarm", 74.8, "Alarm “Pump inlet pressure too low”: new.", null, null],
  ["calibration", 120, "Calibrated: pump inlet pressure (RM).", "Rui", null],
].map(([kind, hours, text, who, origin], at) => ({
  key: `7c1e09aa41d2-${900 - at}`,
  boot: "7c1e09aa41d2",
  seq: 900 - at,
  time: ago(hours),
  mono_s: 1,
  kind,
  text,
  who,
  origin,
}));

const CALIBRATIONS = [
  {
    channel: "feed_pressure",
    date: "2026-03-02",
    initials: "RM",
    before: [0.12],
    after: [0],
    zero: -0.12,
    span: 1,
    pulses_per_l: null,
    water_permeability_lmh_bar: null,
    salt_permeability_lmh: null,
    point: [],
  },
  {
    channel: "product_flow",
    date: "2026-03-02",
    initials: "RM",
    before: [9.6],
    after: [10],
    zero: null,
    span: null,
    pulses_per_l: 2160,
    water_permeability_lmh_bar: null,
    salt_permeability_lmh: null,
    point: [],
  },
  {
    channel: "membrane",
    date: "2026-03-04",
    initials: "Ana",
    before: [61, 290],
    after: [58, 310],
    zero: null,
    span: null,
    pulses_per_l: null,
    water_permeability_lmh_bar: 0.98,
    salt_permeability_lmh: 0.06,
    point: [55, 19.5, 58, 310],
  },
];

const ADDRESS = {
  best: "http://192.168.4.1:8080/",
  addresses: [
    { url: "http://192.168.4.1:8080/", kind: "network" },
    { url: "http://cagarra.local:8080/", kind: "name" },
    { url: "http://127.0.0.1:8080/", kind: "this_computer" },
  ],
  note: "Type one of these into a browser in the boat's network, or point the camera at the code.",
};

const CODE =
  '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 9"><path fill="#fff" d="M0 0h9v9H0z"/><path d="M1 1h3v3H1zM5 1h3v3H5zM1 5h3v3H1zM5 5h1v1H5zM7 7h1v1H7z"/></svg>';

const SEVERITY = {
  name: "severity",
  low: 0,
  high: 1,
  unit: "",
  in_channel_unit: false,
  optional: false,
  typical: 0.8,
  choices: [],
};

const FAULTS = {
  offered: [
    {
      fault: "prefilter_clogged",
      kind: "plant",
      name: "Pre-filter clogged",
      does: "The filters take more and more of the feed pressure.",
      target: null,
      choices: [],
      arguments: [SEVERITY],
    },
    {
      fault: "sensor_open",
      kind: "sensor",
      name: "Sensor wire broken",
      does: "The wire of one sensor breaks.",
      target: "channel",
      choices: [{ value: "feed_pressure", name: "pump inlet pressure", unit: "bar" }],
      arguments: [],
    },
  ],
  standing: [
    {
      fault: "prefilter_clogged",
      name: "Pre-filter clogged",
      target: null,
      target_name: null,
      arguments: { severity: 0.8 },
    },
  ],
};

// What the program itself says of an invented boat; tests/report/test_offers_on_every_face.py keeps it true.
const {
  plan: PLAN,
  what_if: WHAT_IF,
  offer: OFFER,
} = JSON.parse(readFileSync(new URL("fixture-plan.json", import.meta.url), "utf8"));

const TAKEN = { accepted: true, reasons: [], ids: [], told: ["Taken; the gallery keeps nothing."] };

const CHECK = {
  looking: false,
  problem: null,
  age_s: 42,
  problems: 1,
  warnings: 1,
  lines: [
    {
      id: "configuration_usable",
      state: "ok",
      about: "Configuration",
      found: "The configuration can be used.",
      do: "",
      more: [],
    },
    {
      id: "bus_fast",
      state: "warning",
      about: "I2C bus",
      found: "/dev/i2c-1 runs at 400 kHz, too fast for a cable.",
      do: "Put dtparam=i2c_arm_baudrate=100000 into /boot/firmware/config.txt and start the computer again.",
      more: [],
    },
    {
      id: "supply_low",
      state: "problem",
      about: "Computer's supply",
      found: "Too low at this moment.",
      do: "Measure 5 V at the computer under load: a thicker or shorter wire, a stronger converter.",
      more: [],
    },
    {
      id: "rights_hidden",
      state: "not_seen",
      about: "Permissions",
      found: "Devices and owners are hidden from the page's process.",
      do: "In a terminal: sudo halocline check.",
      more: [],
    },
  ],
};

const SIGNED = {
  time: ago(2),
  who: "Ana",
  note: "four contacts, relay after 0.8 s",
  seen: ["membrane pressure 0.1 bar", "pump inlet pressure 0.6 bar"],
};

const COMMISSIONING = {
  begun: false,
  steps: [
    { id: "begun", name: "Commissioning begun", measured: false, signed: null },
    { id: "safety", name: "Safety list read and true", measured: false, signed: SIGNED },
    { id: "chain", name: "Each hard-wired contact drops the relay", measured: false, signed: SIGNED },
    { id: "output_feed_pump", name: "Feed pump: the right thing moves", measured: true, signed: SIGNED },
    { id: "output_product_to_tank", name: "Diverter: the right thing moves", measured: true, signed: null },
    { id: "output_high_pressure_pump", name: "High-pressure pump", measured: true, signed: null },
    { id: "zeros", name: "Sensors at rest: zeros right", measured: true, signed: null },
    { id: "low_pressure", name: "Tight at low pressure", measured: true, signed: null },
    { id: "air", name: "Air purged", measured: true, signed: null },
    { id: "hoses_at_rest", name: "Nothing runs in the product's hose", measured: true, signed: null },
    { id: "flush", name: "Flush measured with a bucket", measured: true, signed: null },
    { id: "high_pressure", name: "Tight under pressure", measured: true, signed: null },
    { id: "hoses", name: "What runs in the product's hose is fresh", measured: true, signed: null },
    { id: "protections", name: "Trips tried", measured: false, signed: null },
    { id: "first_water", name: "First water overboard", measured: true, signed: null },
    { id: "baseline", name: "Membrane's baseline taken", measured: true, signed: null },
    { id: "closed", name: "Commissioning closed", measured: false, signed: null },
  ],
  safety: [
    { id: "two_people", text: "Two people are here, one of them at the breaker." },
    { id: "by_hand_card", text: "The by-hand card made from this plant's limits hangs beside it." },
  ],
};

const READS = {
  "/commissioning": () => COMMISSIONING,
  "/check": () => CHECK,
  "/plan": () => PLAN,
  "/plan/what-if": () => WHAT_IF,
  "/plan/forbidden": () => TAKEN,
  "/plan/forecast": () => TAKEN,
  "/offer": () => OFFER,
  "/address": () => ADDRESS,
  "/faults": () => FAULTS,
  "/runs": () => ({ runs: runs() }),
  "/alarms": () => ALARMS,
  "/health": () => HEALTH,
  "/health/finding": () => ({ finding: null }),
  "/work": () => ({ work: WORK }),
  "/events": () => ({ events: EVENTS, older: "7c1e09aa41d2-893" }),
  "/calibrations": () => ({ calibrations: CALIBRATIONS }),
};

function respond(response, status, said) {
  response.writeHead(status, { "Content-Type": "application/json" });
  response.end(JSON.stringify(said));
}

async function bodyOf(request) {
  let text = "";
  for await (const part of request) text += part;
  return text === "" ? {} : JSON.parse(text);
}

export function fixtureApi({ name = "producing", pin = null, every_ms = 500 } = {}) {
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
    const timer = setInterval(send, every_ms);
    request.on("close", () => clearInterval(timer));
  };

  const pinWanted = (said) => {
    if (pin === null || said.command === "stop" || said.command === "silence") return null;
    if (!now.session) return [401, "Enter the PIN first. Stop and Silence work without it.", "no_session"];
    if (said.command !== "reset" && said.command !== "recommission") return null;
    if (said.pin === undefined) return [403, "Enter the PIN once more for this command.", "pin_again"];
    return said.pin === pin ? null : [403, "That is not the PIN.", "pin_wrong"];
  };

  const command = async (request, response) => {
    const said = await bodyOf(request);
    const wanted = pinWanted(said);
    if (wanted !== null) {
      const [status, text, id] = wanted;
      respond(response, status, { accepted: false, reasons: [text], ids: [id] });
      return;
    }
    const reasons = load(now.name).refused?.[said.command] ?? [];
    if (reasons.length === 0) now.name = FOLLOWS[said.command] ?? now.name;
    respond(response, 200, { accepted: reasons.length === 0, reasons, ids: reasons.map(() => "refused") });
  };

  const session = async (request, response) => {
    if (request.method === "GET") {
      respond(response, 200, {
        needed: pin !== null,
        present: pin === null || now.session,
        pin_set: true,
        name: null,
      });
      return;
    }
    const said = await bodyOf(request);
    now.session = request.method === "POST" && said.pin === pin;
    const right = now.session || request.method === "DELETE";
    const answer = {
      accepted: right,
      reasons: right ? [] : ["That is not the PIN."],
      ids: right ? [] : ["pin_wrong"],
    };
    respond(response, right ? 200 : 403, answer);
  };

  const api = (request, response, path, query) => {
    if (path === "/stream") stream(request, response);
    else if (path === "/now") respond(response, 200, snapshot());
    else if (path === "/history") respond(response, 200, history(query));
    else if (path === "/commands") void command(request, response);
    else if (path === "/session") void session(request, response);
    else if (path === "/address/qr.svg") {
      response.writeHead(200, { "Content-Type": "image/svg+xml" });
      response.end(CODE);
    } else if (path in READS) respond(response, 200, READS[path]());
    else if (path.startsWith("/runs/"))
      respond(
        response,
        200,
        sheet(runs().find((run) => `/runs/${run.id}` === path || `/runs/${run.run}` === path)),
      );
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
