// Date codes: what the program reads, what the person types, and what it would mean.

import { change, element, read, tell, warn } from "/front/desk.js";

const $ = (id) => document.getElementById(id);
const page = $("codes");
const { lot, start } = page.dataset;
const ids = page.dataset.ids.split(" ").filter(Boolean);
/** Milliseconds without a key until the meaning is asked for. */
const PAUSE = 90;

let at = 0;
let mark = null;
let code = null;
let probably = false;
let turn = 0;
const done = new Set();

async function go(to) {
  if (to < 0 || to >= ids.length) return;
  at = to;
  const own = ++turn;
  const found = await read(`/lot/${lot}/mark/${encodeURIComponent(ids[at])}`);
  if (own !== turn || !found) return;
  mark = found;
  code = mark.codes.find((c) => c.family === mark.family) ?? mark.codes[0] ?? null;
  draw();
}

function draw() {
  const left = ids.length - done.size;
  $("code").hidden = false;
  $("name").textContent = mark.of > 1 ? `${mark.photo}, mark ${mark.mark} of ${mark.of}` : mark.photo;
  $("where").textContent = `${at + 1} of ${ids.length} · ${left} to confirm`;
  const strip = $("strip");
  strip.hidden = !code?.has_picture;
  if (code?.has_picture) strip.src = `/picture/${mark.id}/code?at=${code.at}`;
  $("look").textContent = code ? sentence(code.says) : "No place of a date code is known for this mark.";
  const whole = $("whole");
  whole.src = `/picture/${mark.id}/small${mark.family ? `?beside=${encodeURIComponent(mark.family)}` : ""}`;
  whole.alt = `The mark in ${mark.photo}`;
  $("of").textContent = mark.family_name ?? mark.heading;
  $("readings").replaceChildren(...(code?.readings ?? []).slice(0, 9).map(reading));
  setProbably(false);
  $("typed").value = code?.readings[0]?.text ?? "";
  $("state").textContent = mark.code_decided ? `✓ You said: ${mark.code_decided.replaceAll("`", "")}` : "";
  $("previous").disabled = at === 0;
  $("next").disabled = at === ids.length - 1;
  $("name").focus({ preventScroll: true });
  mean();
}

const sentence = (text) => {
  const plain = text.replaceAll("`", "'");
  return `${plain.charAt(0).toUpperCase()}${plain.slice(1)}.`;
};

/** A code with its doubtful signs underlined and bracketed, so that it is seen and heard. */
function spelled(one) {
  const signs = [...one.text].map((sign, n) =>
    one.doubt.includes(n) ? element("mark", { title: "in doubt" }, sign) : document.createTextNode(sign),
  );
  return element("span", { class: "code-text" }, ...signs);
}

function reading(one, n) {
  const doubtful = [...one.text].filter((_, k) => one.doubt.includes(k));
  const says = [one.means + (one.verified ? "" : " (unverified)"), one.against].filter(Boolean).join("; ");
  const button = element(
    "button",
    { type: "button", "data-key": String(n + 1), "aria-keyshortcuts": String(n + 1) },
    element("kbd", { "aria-hidden": "true" }, String(n + 1)),
    spelled(one),
    element("span", { class: "what" }, says),
    element("span", { class: "soft" }, one.likely),
  );
  if (doubtful.length > 0) button.append(element("span", { class: "soft tell" }, `in doubt: ${doubtful.join(", ")}`));
  button.addEventListener("click", () => {
    $("typed").value = one.text;
    mean();
  });
  return element("li", {}, button);
}

let timer;

/** Tells what the typed code would mean. */
function mean() {
  clearTimeout(timer);
  const text = $("typed").value.trim();
  $("confirm").disabled = text === "";
  $("confirm-says").textContent = text === "" ? "Nothing to confirm" : `Confirm ${text}`;
  for (const button of $("readings").querySelectorAll("button")) {
    const own = button.querySelector(".code-text").textContent === text;
    button.setAttribute("aria-pressed", String(own));
  }
  timer = setTimeout(async () => {
    const family = mark.family ?? code?.family ?? "";
    const meaning = await read(`/meaning?family=${encodeURIComponent(family)}&code=${encodeURIComponent(text)}`);
    if (!meaning || text !== $("typed").value.trim()) return;
    const lines = [element("p", { class: meaning.known ? "known" : "" }, meaning.says)];
    for (const against of meaning.against) lines.push(element("p", { class: "against" }, `! ${against}`));
    if (!meaning.known && meaning.examples.length > 0) lines.push(element("p", { class: "soft" }, `Such codes are known: ${meaning.examples.join(", ")}`));
    $("means").replaceChildren(...lines);
  }, PAUSE);
}

async function say(what, value) {
  if (!mark) return;
  const asked = { marks: [{ id: mark.id, saw: mark.code_saw }], what, value, probably };
  const made = await change("/decide", asked);
  if (made.status === 409) {
    await go(at);
    return warn(made.refused[0].told);
  }
  if (made.status !== 200) return warn(made.told ?? "This was not kept.");
  done.add(mark.id);
  tell(made.told.replaceAll("`", "'"));
  const next = ids.findIndex((id, n) => n > at && !done.has(id));
  const any = next >= 0 ? next : ids.findIndex((id) => !done.has(id));
  if (any >= 0) return go(any);
  $("code").hidden = true;
  $("name").textContent = "All date codes of this lot are confirmed";
  $("where").textContent = "";
  $("name").focus();
}

function setProbably(now) {
  probably = now;
  $("probably").setAttribute("aria-pressed", String(now));
}

$("typed").addEventListener("input", mean);
$("typed").addEventListener("keydown", (event) => {
  if (event.key === "Escape") $("name").focus();
  if (event.key === "Enter") {
    event.preventDefault();
    $("confirm").click();
  }
});
document.addEventListener("keydown", (event) => {
  const plain = !event.ctrlKey && !event.altKey && !event.metaKey;
  if (plain && event.key === "t" && !(event.target instanceof HTMLInputElement) && document.getElementById("keys-on").checked) {
    event.preventDefault();
    $("typed").focus();
    $("typed").select();
  }
});
$("confirm").addEventListener("click", () => say("code", $("typed").value));
$("no-code").addEventListener("click", () => say("no-code"));
$("illegible").addEventListener("click", () => say("illegible"));
$("probably").addEventListener("click", () => setProbably(!probably));
$("previous").addEventListener("click", () => go(at - 1));
$("next").addEventListener("click", () => go(at + 1));
document.addEventListener("undone", (event) => {
  event.preventDefault();
  const place = ids.findIndex((id) => event.detail.photos.some((p) => id.startsWith(p)));
  if (place < 0) return location.reload();
  done.delete(ids[place]);
  go(place);
});

if (ids.length === 0) {
  $("none").hidden = false;
  $("name").textContent = "Date codes";
} else {
  go(Math.max(0, ids.indexOf(start)));
}
