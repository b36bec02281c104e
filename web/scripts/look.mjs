// Looks at the gallery in a real browser: pictures of every state, and sheets of a dozen to look at.
//   npm run look -- [--palettes day,dusk,night] [--sizes 360x740,820x1180,1440x900] [--only WORD] [--whole] [--out looks]
// --whole: as tall as what the room holds, instead of what is seen before anybody scrolls.
// Exit status 1 when the browser complains of anything. The browser is CHROMIUM or /usr/bin/chromium.
import { mkdirSync, rmSync, writeFileSync } from "node:fs";
import { resolve } from "node:path";
import { parseArgs } from "node:util";
import { pathToFileURL } from "node:url";
import { chromium } from "playwright-core";
import { startServer } from "./fixture-server.mjs";

const { values } = parseArgs({
  options: {
    palettes: { type: "string", default: "day,dusk,night" },
    sizes: { type: "string", default: "360x740,820x1180,1440x900" },
    only: { type: "string", default: "" },
    whole: { type: "boolean", default: false },
    out: { type: "string", default: "looks" },
  },
});

const SHEET_WIDTH = 1600;
const COLUMNS = { 360: 6, 820: 4, 1440: 3 };
const ROWS_A_SHEET = 2;
let complaints = 0;

function complain(text) {
  complaints += 1;
  console.log(`browser: ${text}`);
}

async function open(browser, url, palette, width, height) {
  const context = await browser.newContext({ viewport: { width, height }, reducedMotion: "reduce" });
  await context.addInitScript((chosen) => localStorage.setItem("halocline.palette", chosen), palette);
  const page = await context.newPage();
  page.on("console", (message) => {
    if (["error", "warning"].includes(message.type())) complain(message.text());
  });
  page.on("pageerror", (error) => complain(error.message));
  await page.goto(`${url}/gallery.html#standby`);
  return page;
}

async function show(page, name) {
  await page.evaluate((asked) => (location.hash = encodeURIComponent(asked)), name);
  await page.waitForSelector(`[data-shows="${name}"] .stop`);
  if (name.startsWith("trends")) await page.waitForSelector(".plot canvas");
  await page.waitForTimeout(150);
}

async function makeRoom(page, width, height) {
  await page.setViewportSize({ width, height });
  const hidden = await page.evaluate(() =>
    Math.max(
      ...[...document.querySelectorAll("main, .sheet")].map((each) => each.scrollHeight - each.clientHeight),
    ),
  );
  if (hidden > 0) await page.setViewportSize({ width, height: height + hidden });
}

async function sheet(browser, pictures, path, columns) {
  const cells = pictures.map(
    ({ name, file }) => `<figure><figcaption>${name}</figcaption><img src="${file}"></figure>`,
  );
  const html = `<!doctype html><meta charset="utf-8"><style>
    body { margin: 8px; display: grid; grid-template-columns: repeat(${columns}, 1fr); gap: 8px; background: #777; }
    figure { margin: 0; font: 14px sans-serif; color: #fff; } img { width: 100%; }</style>${cells.join("")}`;
  const source = `${path}.html`;
  writeFileSync(source, html);
  const page = await browser.newPage({ viewport: { width: SHEET_WIDTH, height: 800 } });
  await page.goto(pathToFileURL(resolve(source)).href);
  await page.screenshot({ path: `${path}.png`, fullPage: true });
  await page.close();
  rmSync(source);
  console.log(`${path}.png`);
}

async function look(browser, url, palette, size) {
  const [width, height] = size.split("x").map(Number);
  const page = await open(browser, url, palette, width, height);
  const names = JSON.parse(await page.getAttribute("#page[data-has]", "data-has"));
  const folder = `${palette}-${size}`;
  mkdirSync(`${values.out}/${folder}`, { recursive: true });
  const pictures = [];
  for (const name of names.filter((each) => each.includes(values.only))) {
    const file = `${folder}/${name.replace(/\W+/g, "_")}.png`;
    await show(page, name);
    if (values.whole) await makeRoom(page, width, height);
    await page.screenshot({ path: `${values.out}/${file}` });
    pictures.push({ name, file });
  }
  await page.context().close();
  const columns = COLUMNS[width] ?? 4;
  const each = columns * ROWS_A_SHEET;
  for (let at = 0; at < pictures.length; at += each)
    await sheet(browser, pictures.slice(at, at + each), `${values.out}/${folder}-${at / each + 1}`, columns);
}

const { server, url } = await startServer({ root: "dist-gallery" });
const browser = await chromium.launch({
  executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium",
  args: ["--no-sandbox", "--disable-gpu", "--hide-scrollbars"],
});
try {
  for (const palette of values.palettes.split(",")) {
    for (const size of values.sizes.split(",")) await look(browser, url, palette, size);
  }
} finally {
  await browser.close();
  server.closeAllConnections();
  server.close();
}
process.exit(complaints === 0 ? 0 : 1);
