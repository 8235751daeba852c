// All clear marks of a family on one screen: take out the exceptions, confirm the rest with one key.

import { change, tellNext, warn } from "/front/desk.js";

const $ = (id) => document.getElementById(id);
const family = $("family");
const boxes = [...document.querySelectorAll("#marks input[type=checkbox]")];

function count() {
  const kept = boxes.filter((b) => b.checked).length;
  $("confirm-rest").disabled = kept === 0;
  const all = kept === boxes.length;
  $("confirm-says").textContent = kept === 0 ? "None left to confirm" : all ? `Confirm all ${kept}` : `Confirm the ${kept} left`;
}

if (boxes.length > 0) {
  const marks = $("marks");
  /** How many stand in one row of the screen. */
  const across = () => {
    const top = boxes[0].closest("li").offsetTop;
    return Math.max(1, boxes.findIndex((b) => b.closest("li").offsetTop > top + 4));
  };
  for (const box of boxes) box.addEventListener("change", count);
  marks.addEventListener("keydown", (event) => {
    const from = boxes.indexOf(document.activeElement);
    const row = boxes[0].closest("li").offsetTop === boxes.at(-1).closest("li").offsetTop ? boxes.length : across();
    const step = { ArrowRight: 1, ArrowLeft: -1, ArrowDown: row, ArrowUp: -row }[event.key];
    if (from < 0 || !step) return;
    event.preventDefault();
    event.stopPropagation();
    boxes[Math.min(boxes.length - 1, Math.max(0, from + step))].focus();
  });
  $("confirm-rest").addEventListener("click", async () => {
    const kept = boxes.filter((b) => b.checked);
    const asked = kept.map((b) => ({ id: b.dataset.id, saw: Number(b.dataset.saw) }));
    $("confirm-rest").disabled = true;
    const made = await change("/decide", { marks: asked, what: "family", value: family.dataset.family });
    if (made.status !== 200 && made.status !== 409) {
      count();
      return warn(made.told ?? "This was not kept.");
    }
    for (const done of made.done) boxes.find((b) => b.dataset.id === done.id)?.closest("li").remove();
    const gone = new Set(made.done.map((d) => d.id));
    boxes.splice(0, boxes.length, ...boxes.filter((b) => !gone.has(b.dataset.id)));
    if (made.refused.length > 0) {
      count();
      return warn(made.refused.map((r) => r.told).join(". "));
    }
    tellNext(made.told);
    location.assign(family.dataset.next);
  });
  $("blink").addEventListener("hold", (event) => marks.classList.toggle("blinking", event.detail));
  $("larger").addEventListener("click", () => {
    const larger = marks.classList.toggle("larger");
    $("larger").setAttribute("aria-pressed", String(larger));
  });
  count();
  boxes[0].focus({ preventScroll: true });
}
