// One piece: what the person says of it, and how an attribution would be worded.

import { change, read, tell, tellNext, warn } from "/front/desk.js";

const $ = (id) => document.getElementById(id);
const piece = Number($("piece").dataset.piece);
/** Milliseconds without a key until the wording is asked for. */
const PAUSE = 120;

const say = (words, probably) => send("/pieces/say", { words, probably });

async function send(address, asked) {
  const made = await change(address, asked);
  if (made.status === 409) return warn(made.refused.map((r) => r.told).join(". "));
  if (made.status !== 200) return warn(made.told ?? "This was not kept.");
  tellNext(made.told);
  location.reload();
}

/** An attribution as it is kept: `judgement: NAME: why`. */
function written(form) {
  const { how, who, why } = form.elements;
  const [name, reason] = [who.value.trim(), why.value.trim()];
  if (how.value === "unknown") return "unknown";
  if (how.value === "partner") return `partner ${reason}: ${name}`;
  return reason ? `${how.value}: ${name}: ${reason}` : `${how.value}: ${name}`;
}

for (const form of document.querySelectorAll("form.who")) {
  const { fact } = form.dataset;
  const saw = Number(form.dataset.saw);
  let timer;
  const word = () => {
    clearTimeout(timer);
    timer = setTimeout(async () => {
      const asked = written(form);
      const says = await read(`/wording?text=${encodeURIComponent(asked)}&probably=${form.elements.probably.checked}`);
      if (asked === written(form)) form.querySelector(".wording").textContent = says ? `Will read: ${says}` : "";
    }, PAUSE);
  };
  form.addEventListener("input", word);
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    say([{ piece, fact, value: written(form), saw }], form.elements.probably.checked);
  });
  form.querySelector("[data-forget]")?.addEventListener("click", () => say([{ piece, fact, value: null, saw }], false));
}

$("facts").addEventListener("submit", (event) => {
  event.preventDefault();
  const changed = [...event.target.querySelectorAll("[data-fact]")].filter((i) => i.value.trim() !== i.defaultValue.trim());
  if (changed.length === 0) return tell("Nothing has changed.");
  const words = changed.map((i) => ({ piece, fact: i.dataset.fact, value: i.value.trim() || null, saw: Number(i.dataset.saw) }));
  say(words, $("probably").checked);
});

// --- its photos, and leaving it out -----------------------------------------------------------------

const saw = Number(document.querySelector(".photos").dataset.saw);

$("photos")?.addEventListener("submit", (event) => {
  event.preventDefault();
  send("/pieces/photos", { piece, saw, add: $("add").value, role: $("role").value });
});

for (const button of document.querySelectorAll("[data-leave]")) {
  button.addEventListener("click", () => send("/pieces/photos", { piece, saw, leave: Number(button.dataset.leave) }));
}

$("withdraw")?.addEventListener("submit", (event) => {
  event.preventDefault();
  say([{ piece, fact: "withdrawn", value: $("why").value.trim(), saw: 0 }], false);
});

$("back")?.addEventListener("submit", (event) => {
  event.preventDefault();
  say([{ piece, fact: "withdrawn", value: null, saw: Number(event.target.dataset.saw) }], false);
});
