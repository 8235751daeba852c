// One mark at a time: what it may be, what the person says, and on to the next at once.

import { change, element, read, tell, warn } from "/front/desk.js";
import { prepare, show } from "/front/glass.js";

const $ = (id) => document.getElementById(id);
const desk = $("desk");
const { lot, order, start } = desk.dataset;
/** Marks prepared ahead. */
const AHEAD = 2;

let marks = [];
let at = 0;
/** Which of the mark's families lies beside it; -1 for none. */
let chosen = -1;
/** Whether the person pressed a digit for it. */
let picked = false;
let probably = false;
let busy = false;

const mark = () => marks[at];
const family = () => mark()?.choices[chosen]?.family ?? null;
/** Bare bases, tops and broken files wait for nobody, though something may be said of them. */
const isOpen = (m) => !m.decided && ["named", "choose", "unknown", "reshoot"].includes(m.verdict);
/** A family that does not fit is laid beside a mark only when asked for. */
const first = (m) => (m.leads && ["named", "choose"].includes(m.holds) ? 0 : -1);

/** Where several fit, or what fits is weak, a family is named by its digit before Enter means it. */
const isDoubtful = (m) => m.verdict === "choose" || (m.verdict === "unknown" && m.leads);

/** What Enter says: the family that lies beside the mark, else what the program says. */
function proposal() {
  const choice = mark().choices[chosen];
  if (isDoubtful(mark()) && !picked) return null;
  if (!choice && mark().unprompted) return null;
  if (choice) return { what: "family", value: choice.family, says: `Confirm ${choice.name}` };
  return (
    {
      unknown: { what: "unknown", says: "Confirm: not in my library" },
      choose: { what: "unknown", says: "Confirm: not in my library" },
      "no-mark": { what: "no-mark", says: "Confirm: no mark" },
      reshoot: { what: "again", says: "Confirm: take again" },
    }[mark().verdict] ?? null
  );
}

async function begin() {
  marks = (await read(`/lot/${lot}/marks?order=${order}`)) ?? [];
  const wanted = marks.findIndex((m) => m.id === start);
  at = wanted >= 0 ? wanted : Math.max(0, marks.findIndex(isOpen));
  if (marks.length === 0) {
    $("name").textContent = "Nothing here yet";
    $("where").textContent = "Take photos into this lot first.";
    return;
  }
  draw();
  if (!marks.some(isOpen)) finish();
}

function draw() {
  const m = mark();
  chosen = m.choices.length > 0 ? first(m) : -1;
  picked = false;
  setProbably(false);
  const open = marks.filter(isOpen).length;
  if (open > 0) $("finished").hidden = true;
  $("name").textContent = m.of > 1 ? `${m.photo}, mark ${m.mark} of ${m.of}` : m.photo;
  $("where").textContent = [`${at + 1} of ${marks.length}`, open ? `${open} open` : "all decided", m.taken].filter(Boolean).join(" · ");
  $("state").textContent = m.decided ? `✓ You said on ${m.decided_on}: ${m.decided}` : `${m.heading}: ${m.next}`;
  $("state").classList.toggle("yours", Boolean(m.decided));
  $("take-back").hidden = !m.decided;
  $("unknown").hidden = m.mark === 0;
  const code = $("to-code");
  code.hidden = m.codes.length === 0;
  code.href = `/lot/${lot}/codes?mark=${encodeURIComponent(m.id)}`;
  $("why").replaceChildren(...m.reasons.map((r) => element("li", {}, r)));
  if (!m.current) $("why").append(element("li", {}, "answered with an earlier library: run the intake again"));
  $("evidence").replaceChildren(...m.evidence.map((e) => element("li", {}, e)));
  $("previous").disabled = at === 0;
  $("next").disabled = at === marks.length - 1;
  drawChoices();
  look();
  const address = new URL(location.href);
  address.searchParams.set("mark", m.id);
  history.replaceState(null, "", address);
}

/** What a doubtful mark wants: its digit, with its picture in sight. */
const asking = (m) => (chosen >= 0 ? `Is it ${chosen + 1}? Press ${chosen + 1}` : `First a digit: ${digits(m)}`);
const digits = (m) => (m.choices.length === 1 ? "1" : `1 to ${m.choices.length}`);

function drawChoices() {
  const m = mark();
  const one = (choice, n) => {
    const button = element(
      "button",
      { type: "button", "data-key": String(n + 1), "aria-pressed": String(n === chosen), "aria-keyshortcuts": String(n + 1) },
      element("kbd", { "aria-hidden": "true" }, String(n + 1)),
      element("span", { class: "what" }, choice.name),
      element("span", { class: "soft" }, choice.likely),
    );
    if (choice.tell) button.append(element("span", { class: "soft tell" }, choice.tell));
    button.addEventListener("click", () => {
      // Named by its digit with its picture in sight: that settles a doubtful mark.
      if (n === chosen && isDoubtful(m)) return say("family", choice.family);
      chosen = n === chosen && first(m) < 0 ? -1 : n;
      picked = chosen >= 0;
      drawChoices();
      look();
    });
    return element("li", {}, button);
  };
  const hadFocus = $("choices").contains(document.activeElement);
  $("choices").replaceChildren(...m.choices.map(one));
  if (hadFocus) $("choices").querySelectorAll("button")[Math.max(0, chosen)]?.focus();
  if (m.none) $("choices").append(element("li", { class: "soft none" }, `Not in the library: ${m.none}`));
  const proposed = proposal();
  const asks = !proposed && m.choices.length > 0 && (isDoubtful(m) || m.unprompted);
  $("confirm").disabled = !proposed && !asks;
  $("confirm").classList.toggle("asks", asks);
  $("confirm-says").textContent = proposed?.says ?? (asks ? asking(m) : "Nothing to confirm");
}

function look() {
  const m = mark();
  const name = m.choices[chosen]?.name;
  // What it is most easily taken for: a twin that the library tells of, else the next likely.
  const others = m.choices.filter((_, n) => n !== chosen);
  const against = others.find((c) => c.tell)?.family ?? others[0]?.family ?? null;
  show(m.id, family(), {
    photo: m.mark ? `The mark in ${m.photo}` : `The whole photo ${m.photo}`,
    library: name ? `From your library: ${name}` : null,
    family: family(),
    against,
    content: m.choices[chosen]?.exemplar ?? null,
  }).then(ahead);
}

function ahead() {
  let from = at;
  for (let n = 0; n < AHEAD; n += 1) {
    from = nextOpen(from);
    if (from < 0) return;
    const m = marks[from];
    prepare(m.id, m.choices[first(m)]?.family ?? null);
  }
}

/** The next open mark behind this place, or before it; -1 where none is left. */
function nextOpen(from) {
  const behind = marks.findIndex((m, n) => n > from && isOpen(m));
  return behind >= 0 ? behind : marks.findIndex((m, n) => n !== from && isOpen(m));
}

function go(to) {
  if (to < 0 || to >= marks.length) return;
  at = to;
  draw();
}

async function say(what, value) {
  if (busy || !mark()) return;
  busy = true;
  const m = mark();
  const made = await change("/decide", { marks: [{ id: m.id, saw: m.saw }], what, value, probably, unprompted: m.unprompted });
  busy = false;
  if (made.status === 409 && made.refused?.length) {
    await renew(m);
    draw();
    return warn(made.refused[0].told);
  }
  if (made.status !== 200) return warn(made.told ?? "This was not kept.");
  await renew(m);
  const next = nextOpen(at);
  tell(made.told);
  if (next < 0) {
    draw();
    finish();
  } else go(next);
}

/** All marks of the lot are decided: says so, and how the person's words compare with the program's. */
async function finish() {
  $("fared").textContent = (await read("/fared")) ?? "";
  $("finished").hidden = false;
  $("finished").focus();
}

/** What holds for a mark now. */
async function renew(m) {
  const now = await read(`/lot/${lot}/mark/${encodeURIComponent(m.id)}`);
  const place = marks.indexOf(m);
  if (now && place >= 0) marks[place] = now;
}

function setProbably(now) {
  probably = now;
  $("probably").setAttribute("aria-pressed", String(now));
}

$("confirm").addEventListener("click", () => {
  const proposed = proposal();
  if (proposed) return say(proposed.what, proposed.value);
  const rest = mark().mark === 0 ? "" : ", or U for none of them";
  tell(`Enter alone does not settle a doubtful mark: press ${digits(mark())} for the one that it is${rest}.`);
});
$("unknown").addEventListener("click", () => say("unknown"));
$("no-mark").addEventListener("click", () => say("no-mark"));
$("again").addEventListener("click", () => say("again"));
$("probably").addEventListener("click", () => setProbably(!probably));
$("previous").addEventListener("click", () => go(at - 1));
$("next").addEventListener("click", () => go(at + 1));
$("take-back").addEventListener("click", async () => {
  const m = mark();
  const made = await change("/undo", { number: m.saw });
  if (made.status !== 200) return warn(made.told);
  await renew(m);
  draw();
  tell(made.told);
});

document.addEventListener("undone", (event) => {
  event.preventDefault();
  const gone = event.detail.photos;
  const touched = marks.filter((m) => gone.some((p) => m.id.startsWith(p)));
  Promise.all(touched.map(renew)).then(() => {
    const place = marks.findIndex((m) => gone.some((p) => m.id.startsWith(p)));
    if (place >= 0) go(place);
  });
});

begin();
