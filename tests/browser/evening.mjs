// An evening at the desk, in a browser and by keys: take the demo's sale in, decide, undo, confirm a family at once,
// confirm a date code, name strangers, pair a set, edit a fact, hand out. On every screen axe-core must find nothing, at a
// laptop's and a tablet's width, and html-validate must have nothing to say of the page as it was sent.

import assert from "node:assert/strict";
import { spawn } from "node:child_process";
import { existsSync, mkdirSync, mkdtempSync, readFileSync, rmSync } from "node:fs";
import { createRequire } from "node:module";
import { tmpdir } from "node:os";
import path from "node:path";
import { createInterface } from "node:readline";

import { HtmlValidate } from "html-validate";
import { chromium } from "playwright-core";

const words = process.argv.slice(2);
const option = (name) => {
  const at = words.indexOf(`--${name}`);
  return at < 0 ? undefined : words[at + 1];
};
const pictures = option("pictures");
const axe = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
const WIDTHS = [{ width: 1280, height: 800 }, { width: 820, height: 1180 }];
const LONG = 300_000;

const folder = option("demo") ?? mkdtempSync(path.join(tmpdir(), "footring-evening-"));
let failures = 0;

/** Starts the desk; gives it with the address that it prints. */
async function start(place, here) {
  const desk = spawn(path.resolve(option("program")), place ? ["desk", place, "--no-browser"] : ["desk", "--no-browser"], {
    cwd: here ?? folder,
    stdio: ["ignore", "pipe", "inherit"],
  });
  for await (const line of createInterface({ input: desk.stdout })) {
    if (line.startsWith("desk: ")) return { desk, address: line.slice("desk: ".length).trim() };
  }
  throw new Error("the desk did not start");
}

async function step(name, what) {
  const since = Date.now();
  try {
    await what();
    console.log(`passed   ${name} (${((Date.now() - since) / 1000).toFixed(1)} s)`);
  } catch (error) {
    failures += 1;
    console.log(`FAILED   ${name}: ${error.stack ?? error}`);
  }
}

const since = Date.now();
const begun = await start(undefined, folder);
const browser = await chromium.launch({
  executablePath: option("browser"),
  args: ["--no-sandbox"],
  headless: true,
});
const context = await browser.newContext({ viewport: WIDTHS[0], reducedMotion: "reduce" });
const page = await context.newPage();
page.setDefaultTimeout(60_000);
const complaints = [];
page.on("console", (message) => {
  if (message.type() === "error") complaints.push(message.text());
});
page.on("pageerror", (error) => complaints.push(String(error)));
page.on("request", (request) => {
  const at = new URL(request.url());
  if (!["127.0.0.1", "localhost"].includes(at.hostname) && at.protocol !== "data:") complaints.push(`asked for ${at}`);
});

// What is a matter of style is left out: the templates write attributes and void elements in their own way.
const validator = new HtmlValidate({
  extends: ["html-validate:standard"],
  rules: { "attribute-boolean-style": "off", "doctype-style": "off", "void-style": "off", "long-title": "off", "no-trailing-whitespace": "off" },
});

/** The page as it is sent, before any of its code runs. */
async function valid(address) {
  const html = await page.evaluate((at) => fetch(at).then((answer) => answer.text()), address);
  const report = await validator.validateString(html);
  const told = report.results.flatMap((r) => r.messages.map((m) => `${m.ruleId}: ${m.message} at ${m.line}:${m.column}`));
  assert.deepEqual(told, [], `HTML of ${address}`);
}

/** Screenshots and what axe-core finds, at both widths and in both lights. */
async function screen(name) {
  for (const size of WIDTHS) {
    await page.setViewportSize(size);
    for (const colorScheme of ["light", "dark"]) {
      await page.emulateMedia({ colorScheme });
      await page.waitForTimeout(150);
      // By the browser's own debugger, since the page's policy lets no foreign script in.
      await page.evaluate(axe);
      const found = await page.evaluate(() =>
        window.axe.run(document, { runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"] }),
      );
      const told = found.violations.map((v) => `${v.id}: ${v.nodes.map((n) => n.html.slice(0, 160)).join(" | ")}`);
      assert.deepEqual(told, [], `${name} at ${size.width}, ${colorScheme}`);
      const wide = await page.evaluate(() => document.documentElement.scrollWidth - window.innerWidth);
      assert.ok(wide <= 0, `${name} is ${wide} px too wide at ${size.width}`);
      if (pictures && (colorScheme === "light" || size.width === 1280)) {
        mkdirSync(pictures, { recursive: true });
        await page.screenshot({ path: path.join(pictures, `${name}-${size.width}-${colorScheme}.png`) });
      }
    }
  }
  await page.emulateMedia({ colorScheme: "light" });
  await page.setViewportSize(WIDTHS[0]);
}

/** Waits until the pictures in view are there. */
const drawn = () =>
  page.waitForFunction(
    () =>
      !document.querySelector(".waiting") &&
      [...document.images].filter((i) => i.src && i.getBoundingClientRect().top < innerHeight && i.getClientRects().length).every((i) => i.complete),
    undefined,
    { timeout: LONG },
  );
const told = () => page.locator("#told").textContent();
const lot = () => page.evaluate(() => fetch("/lot/1/marks?order=doubt").then((r) => r.json()));

await step("a workspace is made by one click, and the sale is taken in", async () => {
  await page.goto(begun.address);
  await page.waitForURL((url) => url.pathname === "/");
  if (await page.locator("#begin-demo").count()) {
    await screen("welcome");
    await page.click("#begin-demo");
    await page.waitForSelector("#under-way:not([hidden]) progress");
    await page.waitForFunction(() => /\d+ of 4\d/.test(document.getElementById("way-line").textContent), undefined, { timeout: LONG });
    await screen("taking-in");
    // Pages answer while the engine works.
    const slowest = await page.evaluate(async () => {
      const times = [];
      for (let n = 0; n < 20; n += 1) {
        const from = performance.now();
        await (await fetch(n % 2 ? "/" : "/lot/1")).text();
        times.push(performance.now() - from);
      }
      return Math.max(...times);
    });
    console.log(`         slowest of 20 pages during the intake: ${slowest.toFixed(0)} ms`);
    await page.waitForSelector(".lot .doors", { timeout: LONG });
    await page.waitForFunction(() => !document.querySelector("#way-bar:not([hidden])"), undefined, { timeout: LONG });
  }
  // The page loads itself anew when the intake has ended, which may come between.
  for (let left = 5; left > 0; left -= 1) {
    const gone = await page.goto(new URL("/", begun.address).href).then(() => false, () => true);
    if (!gone) break;
    await page.waitForTimeout(500);
  }
  await drawn();
  await screen("lots");
});

await step("the marks of the lot", async () => {
  await page.click(".lot h2 a");
  await page.waitForSelector(".tiles .tile");
  await drawn();
  await screen("lot");
});

await step("one mark: looked at in five ways, decided by keys, undone", async () => {
  await page.goto(new URL("/lot/1/decide", begun.address).href);
  await page.waitForSelector("#choices button");
  await drawn();
  await screen("decide");
  if (await page.locator("#glass.alone").count()) {
    // Nothing fits better than "not in the library": the first family is laid beside it on request.
    await page.keyboard.press("1");
    await page.waitForSelector("#glass:not(.alone):not(.waiting)");
  }
  const before = (await lot()).filter((m) => m.decided).length;
  const name = await page.locator("#name").textContent();
  for (const [key, way] of [["w", "wipe"], ["d", "differences"], ["i", "ink"], ["o", "both"], ["s", "side"]]) {
    await page.keyboard.press(key);
    assert.equal(await page.locator("#glass").getAttribute("data-way"), way);
    await drawn();
    if (["wipe", "differences"].includes(way)) await screen(`decide-${way}`);
  }
  await page.keyboard.down("b");
  assert.ok(await page.locator("#pane-photo .over").isVisible());
  await page.keyboard.up("b");
  assert.ok(!(await page.locator("#pane-photo .over").isVisible()));
  await page.keyboard.press("+");
  await page.keyboard.press("]");
  assert.match(await page.locator("#pane-photo .turner").getAttribute("style"), /rotate\(15deg\) scale\(1\.25\)/);
  await page.keyboard.press("2");
  assert.equal(await page.locator("#choices button").nth(1).getAttribute("aria-pressed"), "true");
  await page.keyboard.press("p");
  await page.keyboard.press("Enter");
  await page.waitForFunction((n) => document.getElementById("name").textContent !== n, name);
  assert.match(await told(), /probably/);
  assert.equal((await lot()).filter((m) => m.decided).length, before + 1);
  await page.keyboard.press("z");
  await page.waitForFunction((n) => document.getElementById("name").textContent === n, name);
  assert.equal((await lot()).filter((m) => m.decided).length, before);
  await page.keyboard.press("u");
  await page.waitForFunction((n) => document.getElementById("name").textContent !== n, name);
  await page.keyboard.press("ArrowLeft");
  await page.keyboard.press("?");
  await screen("keys");
  await page.keyboard.press("Escape");
});

await step("a doubtful mark wants a digit before Enter", async () => {
  const doubtful = (await lot()).find((m) => m.verdict === "choose" && !m.decided && m.choices.length > 1);
  if (!doubtful) return console.log("         none in this lot");
  await page.goto(new URL(`/lot/1/decide?mark=${doubtful.id}`, begun.address).href);
  await page.waitForSelector("#choices button");
  await drawn();
  await screen("decide-doubtful");
  const before = (await lot()).filter((m) => m.decided).length;
  await page.keyboard.press("Enter");
  await page.waitForFunction(() => /press 1/.test(document.getElementById("told").textContent));
  assert.equal((await lot()).filter((m) => m.decided).length, before);
  // The digit of what lies beside it settles it; another one lays that beside first, and then Enter does.
  await page.keyboard.press("2");
  assert.match(await page.locator("#confirm-says").textContent(), /^Confirm /);
  await page.keyboard.press("2");
  await page.waitForFunction((id) => !location.search.includes(id), doubtful.id);
  assert.equal((await lot()).filter((m) => m.decided).length, before + 1);
  await page.keyboard.press("z");
  await page.waitForFunction(() => /taken back/.test(document.getElementById("told").textContent));
  assert.equal((await lot()).filter((m) => m.decided).length, before);
});

await step("two tabs: the second is told", async () => {
  await page.goto(new URL("/lot/1/decide", begun.address).href);
  await page.waitForSelector("#choices button");
  const other = await context.newPage();
  await other.goto(page.url());
  await other.waitForSelector("#choices button");
  assert.equal(await other.locator("#name").textContent(), await page.locator("#name").textContent());
  const name = await page.locator("#name").textContent();
  await page.keyboard.press("r");
  await page.waitForFunction((n) => document.getElementById("name").textContent !== n, name);
  await other.keyboard.press("u");
  await other.waitForSelector("#alarm:not([hidden])");
  assert.match(await other.locator("#alarm").textContent(), /decided elsewhere.*take again/);
  assert.match(await other.locator("#state").textContent(), /take again/);
  await other.close();
  await page.keyboard.press("z");
  await page.waitForFunction((n) => document.getElementById("name").textContent === n, name);
});

await step("the clear ones of a family: one out, the rest by one key", async () => {
  await page.goto(new URL("/lot/1/clear", begun.address).href);
  await page.waitForSelector(".families .tile");
  await drawn();
  await screen("clear");
  const before = (await lot()).filter((m) => m.decided).length;
  await page.click(".families .tile");
  await page.waitForSelector("#marks input");
  await drawn();
  const count = await page.locator("#marks input").count();
  await page.keyboard.press("Space");
  await screen("family");
  await page.keyboard.down("b");
  await screen("family-blink");
  await page.keyboard.up("b");
  if (count === 1) await page.keyboard.press("Space");
  const here = page.url();
  await page.keyboard.press("Enter");
  await page.waitForFunction((at) => location.href !== at, here);
  await page.waitForLoadState();
  assert.equal((await lot()).filter((m) => m.decided).length, before + Math.max(1, count - 1));
});

await step("a date code: typed, told, confirmed", async () => {
  await page.goto(new URL("/lot/1/codes", begun.address).href);
  await page.waitForSelector("#code:not([hidden])");
  await drawn();
  await page.waitForSelector("#means p");
  await screen("codes");
  const name = await page.locator("#name").textContent();
  await page.keyboard.press("t");
  await page.keyboard.type("zz9");
  await page.waitForFunction(() => /no scheme/.test(document.getElementById("means").textContent));
  await page.keyboard.press("Escape");
  if (await page.locator("#readings button").count()) {
    await page.keyboard.press("1");
    await page.waitForFunction(() => /Would mean/.test(document.getElementById("means").textContent));
  }
  await page.keyboard.press("Enter");
  await page.waitForFunction((n) => document.getElementById("name").textContent !== n, name);
  assert.match(await told(), /code '/);
  await page.keyboard.press("z");
  await page.waitForFunction((n) => document.getElementById("name").textContent === n, name);
});

await step("strangers: compared, one named", async () => {
  await page.goto(new URL("/strangers", begun.address).href);
  if (await page.locator("#compare").count()) {
    await screen("strangers-before");
    await page.click("#compare");
    await page.waitForSelector("section.stranger", { timeout: LONG });
  }
  await drawn();
  await screen("strangers");
  const first = page.locator("section.stranger").first();
  await first.locator("input[name=name]").fill(`Bird over ${Date.now()}`);
  await first.locator("[type=submit]").click();
  await page.waitForFunction(() => /is a family now/.test(document.getElementById("told").textContent), undefined, { timeout: LONG });
});

await step("pieces: approved, paired by keys, said, taken apart again", async () => {
  await page.goto(new URL("/pieces", begun.address).href);
  await page.waitForSelector("#suggestions input");
  await drawn();
  await screen("pieces-suggested");
  const count = await page.locator("#suggestions input[type=checkbox]:checked").count();
  await page.keyboard.press("a");
  await page.waitForSelector("ul.pieces li");
  await page.waitForFunction(() => /pieces are made/.test(document.getElementById("told").textContent));
  assert.equal(await page.locator("ul.pieces > li").count(), count);
  await drawn();
  await screen("pieces");
  const boxes = page.locator("ul.pieces input[type=checkbox]");
  for (const n of [0, 1]) {
    await boxes.nth(n).focus();
    await page.keyboard.press("Space");
  }
  await page.fill("#set-name", "tea for two");
  await page.locator("#set-name").blur();
  await page.keyboard.press("s");
  await page.waitForSelector('section.set[data-set="tea for two"]');
  assert.equal(await page.locator("section.set li").count(), 2);
  await drawn();
  await screen("pieces-set");
  // By the pointer: a third one is dragged onto the set, and taken out by its button. Both are in view, since a page that
  // scrolls under a pressed button has another piece there.
  const usual = page.viewportSize();
  await page.setViewportSize({ width: usual.width, height: 2400 });
  await page.evaluate(() => scrollTo(0, 0));
  await page.locator("#alone-title ~ ul li").first().dragTo(page.locator("section.set h2").first());
  await page.waitForFunction(() => document.querySelectorAll("section.set li").length === 3);
  await page.setViewportSize(usual);
  await page.locator("section.set [data-out]").last().click();
  await page.waitForFunction(() => document.querySelectorAll("section.set li").length === 2);
});

await step("a piece: its chain of dates, an attribution with its wording, a fact", async () => {
  await page.goto(new URL("/pieces", begun.address).href);
  await page.locator("section.set a").first().click();
  await page.waitForSelector("#piece");
  await drawn();
  await screen("piece");
  await page.fill("#made-by-name", "Mill Lane");
  await page.fill("#made-by-why", "the foot ring");
  await page.waitForFunction(() => /attributed: Mill Lane, by judgement/.test(document.querySelector(".wording").textContent));
  await page.fill("#fact-form", "teacup");
  await page.press("#fact-form", "Enter");
  await page.waitForFunction(() => document.getElementById("fact-form").defaultValue === "teacup");
  assert.match(await page.locator("h1").textContent(), /teacup/);
  await page.locator("h1").click();
  await page.keyboard.press("z");
  await page.waitForFunction(() => document.getElementById("fact-form").defaultValue === "");
});

await step("a piece is withdrawn, found again, and brought back", async () => {
  await page.goto(new URL("/piece/1", begun.address).href);
  await page.fill("#why", "sold");
  await page.press("#why", "Enter");
  await page.waitForSelector("#back");
  await page.goto(new URL("/pieces", begun.address).href);
  await page.click(".withdrawn summary");
  await page.click(".withdrawn a");
  await page.waitForSelector("#back");
  await page.click("#back button");
  await page.waitForSelector("#withdraw");
});

await step("the facts of a maker and of a line: told beside the field, written, taken back", async () => {
  await page.goto(new URL("/marks", begun.address).href);
  await page.locator(".group h2 a").first().click();
  await page.waitForSelector("#record");
  await screen("maker");
  const works = () => document.querySelectorAll("[data-list=plants] [data-from]").length;
  const before = await page.evaluate(works);
  await page.click("[data-more=plants]");
  await page.keyboard.type("Upper works");
  const years = page.locator("[data-list=plants] .entry").last().locator("[data-cell=years]");
  await years.fill("about 1900");
  await years.press("Enter");
  await page.waitForSelector(".wrong");
  assert.match(await page.locator(".wrong").textContent(), /about 1900.*1930~/);
  await screen("maker-wrong");
  await years.fill("1901/1938");
  await years.press("Enter");
  const there = (count) => page.waitForFunction((n) => document.querySelectorAll("[data-list=plants] [data-from]").length === n, count, { timeout: LONG });
  await there(before + 1);
  await page.locator("h1").click();
  await page.keyboard.press("z");
  await there(before);
  await page.fill("#line", "Harebell");
  await page.press("#line", "Enter");
  await page.waitForSelector("#edit-made");
  await page.fill("#edit-made", "1928/1935");
  await page.press("#edit-made", "Enter");
  await page.waitForFunction(() => document.getElementById("edit-made").defaultValue === "1928/1935", undefined, { timeout: LONG });
  await screen("line");
  await page.locator("h1").click();
  await page.keyboard.press("z");
  await page.waitForFunction(() => document.getElementById("edit-made").defaultValue === "", undefined, { timeout: LONG });
});

await step("the marks: searched, compared, a fact edited and taken back", async () => {
  await page.goto(new URL("/marks", begun.address).href);
  await drawn();
  await screen("marks");
  // A family that is taken for another one shows where the two part.
  const families = await page.locator(".tiles a").evaluateAll((links) => links.map((a) => a.getAttribute("href")));
  let twin = families[0];
  for (const one of families) {
    if (/data-against/.test(await page.evaluate((at) => fetch(at).then((r) => r.text()), one))) {
      twin = one;
      break;
    }
  }
  await page.goto(new URL(twin, begun.address).href);
  if (await page.locator(".twins[data-against]").count()) {
    await page.waitForFunction(() => ![...document.querySelectorAll(".rings-say")].some((p) => p.textContent === "Comparing…"), undefined, { timeout: LONG });
  }
  await drawn();
  await screen("mark");
  const before = await page.inputValue("#edit-ink");
  await page.fill("#edit-ink", "violet");
  await page.press("#edit-ink", "Enter");
  await page.waitForFunction(() => document.getElementById("edit-ink").defaultValue === "violet", undefined, { timeout: LONG });
  await page.locator("h1").click();
  await page.keyboard.press("z");
  await page.waitForFunction((ink) => document.getElementById("edit-ink").defaultValue === ink, before, { timeout: LONG });
});

await step("the deciding part is ringed beside the next likely family", async () => {
  const marks = await lot();
  const two = marks.find((m) => m.leads && m.choices.length > 1 && m.choices[0].exemplar && m.choices[1].tell) ?? marks.find((m) => m.leads && m.choices.length > 1 && m.choices[0].exemplar);
  await page.goto(new URL(`/lot/1/decide?mark=${two.id}`, begun.address).href);
  await page.waitForSelector("#rings:not([disabled])", { timeout: LONG });
  await page.keyboard.press("k");
  await page.waitForFunction(() => document.getElementById("rings-say").textContent !== "", undefined, { timeout: LONG });
  console.log(`         ${await page.locator("#rings-say").textContent()}`);
  await screen("decide-rings");
});

await step("handed out: the catalogue and the list to take again are whole files", async () => {
  await page.goto(new URL("/hand-out", begun.address).href);
  await screen("hand-out");
  await page.click("text=Catalogue");
  await page.waitForSelector("article, .entry", { timeout: LONG });
  if (pictures) await page.screenshot({ path: path.join(pictures, "catalogue.png") });
  await page.goto(new URL("/hand-out", begun.address).href);
  const phone = page.locator("a[href*='again?file']");
  if (await phone.count()) {
    const [download] = await Promise.all([page.waitForEvent("download"), phone.first().click()]);
    const html = readFileSync(await download.path(), "utf8");
    assert.ok(!/(src|href)="(\/|http)/.test(html), "it needs nothing from elsewhere");
    assert.match(html, /data:image\/jpeg/);
  }
});

await step("the HTML of every page is valid", async () => {
  await page.goto(new URL("/", begun.address).href);
  const listed = await lot();
  const families = await page.evaluate(() => fetch("/marks").then((r) => r.text()).then((t) => [...t.matchAll(/href="(\/marks\/[^"]+)"/g)].map((m) => m[1])));
  const makers = await page.evaluate(() => fetch("/marks").then((r) => r.text()).then((t) => [...t.matchAll(/href="(\/makers\/[^"]+)"/g)].map((m) => m[1])));
  const clear = await page.evaluate(() => fetch("/lot/1/clear").then((r) => r.text()).then((t) => [...t.matchAll(/href="(\/lot\/1\/clear\/[^"]+)"/g)].map((m) => m[1])));
  const pages = ["/", "/lot/1", "/lot/1/decide", `/lot/1/decide?mark=${listed[0].id}`, "/lot/1/clear", ...clear.slice(0, 1), "/lot/1/codes", "/strangers", "/pieces", "/piece/1", "/marks", "/marks?q=none", ...families.slice(0, 3), ...makers.slice(0, 3), "/hand-out", "/lot/1/report", "/lot/1/to-look-at", "/lot/1/again", "/hand-out/catalogue/1"];
  for (const at of pages) await valid(at);
});

await step("the report and the sheet open in the same browser", async () => {
  for (const which of ["report", "to-look-at"]) {
    await page.goto(new URL(`/lot/1/${which}`, begun.address).href, { timeout: LONG });
    assert.ok((await page.locator("article").count()) > 0);
    if (pictures) await page.screenshot({ path: path.join(pictures, `${which}.png`) });
  }
});

await step("at 200 % everything is still there", async () => {
  await page.setViewportSize({ width: 640, height: 400 });
  for (const at of ["/", "/lot/1", "/lot/1/decide", "/lot/1/codes", "/strangers", "/pieces", "/piece/1", "/marks", "/hand-out"]) {
    await page.goto(new URL(at, begun.address).href);
    await page.waitForTimeout(300);
    const wide = await page.evaluate(() => document.documentElement.scrollWidth - window.innerWidth);
    assert.ok(wide <= 0, `${at} is ${wide} px too wide`);
  }
});

await step("the browser has nothing to complain of", () => {
  const own = complaints.filter((c) => !/409 \(Conflict\)|422 \(Unprocessable/.test(c));
  assert.deepEqual(own, []);
});

await browser.close();
begun.desk.kill("SIGINT");
const code = await new Promise((done) => begun.desk.on("exit", done));
if (code !== 0) {
  failures += 1;
  console.log(`FAILED   the desk ended with ${code}`);
}
if (!option("demo") && existsSync(folder)) rmSync(folder, { recursive: true });
console.log(`${failures === 0 ? "passed" : "FAILED"}: an evening of ${Math.round((Date.now() - since) / 1000)} s, ${failures} failures`);
process.exit(failures === 0 ? 0 : 1);
