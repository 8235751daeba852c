// Pieces: approve what the photos suggest, and put pieces into sets by key or by dragging.

import { change, tellNext, warn } from "/front/desk.js";

const $ = (id) => document.getElementById(id);

/** Loads the page anew and tells there what was done. */
function again(told) {
  tellNext(told);
  location.reload();
}

async function send(address, asked) {
  const made = await change(address, asked);
  if (made.status === 409) return warn(made.refused.map((r) => r.told).join(". "));
  if (made.status !== 200) return warn(made.told ?? "This was not kept.");
  return again(made.told);
}

// --- approving ----------------------------------------------------------------------------------

const suggested = [...document.querySelectorAll("#suggestions input[type=checkbox]")];
const wanted = () => suggested.filter((box) => box.checked);

/** The piece that is asked for, or one for each mark of its first photo; other views show them all. */
function made(box) {
  const item = box.closest("li");
  const [first, ...others] = box.dataset.photos.split(" ").map((p) => p.split(":").reverse());
  const piece = (photo) => ({ lot: box.dataset.lot, photos: [photo, ...others], form: item.querySelector(".form-of").value });
  const each = item.querySelector(".each-mark");
  if (!each?.checked) return [piece(first)];
  return Array.from({ length: Number(each.dataset.marks) }, (_, n) => piece([`${first[0]}-${n + 1}`, first[1]]));
}

function countSuggested() {
  const count = wanted().length;
  $("approve").disabled = count === 0;
  $("approve-says").textContent = count === 0 ? "None left to approve" : count === suggested.length ? `Approve all ${count}` : `Approve the ${count} left`;
}

if (suggested.length > 0) {
  for (const box of suggested) box.addEventListener("change", countSuggested);
  $("approve").addEventListener("click", () => {
    const pieces = wanted().flatMap(made);
    send("/pieces/approve", { pieces });
  });
  countSuggested();
}

// --- sets ---------------------------------------------------------------------------------------

const boxes = [...document.querySelectorAll(".pieces input[type=checkbox]")];
const picked = () => boxes.filter((box) => box.checked);
const word = (box, value) => ({ piece: Number(box.dataset.piece), fact: "set", value, saw: Number(box.dataset.saw) });

function countPicked() {
  const count = picked().length;
  $("pair").disabled = count < 2;
  $("pair-says").textContent = count < 2 ? "Pick two or more" : `Put ${count} together`;
}

if (boxes.length > 0) {
  for (const box of boxes) box.addEventListener("change", countPicked);
  $("pairing").addEventListener("submit", (event) => {
    event.preventDefault();
    const name = $("set-name").value.trim();
    if (picked().length < 2 || !name) return;
    send("/pieces/say", { words: picked().map((box) => word(box, name)) });
  });
  countPicked();
}

const boxOf = (number) => boxes.find((box) => box.dataset.piece === number);

for (const item of document.querySelectorAll("li[data-piece]")) {
  item.addEventListener("dragstart", (event) => event.dataTransfer.setData("text/plain", item.dataset.piece));
}

/** Where a dragged piece may be let go: on a set, or on another piece. */
for (const place of document.querySelectorAll("section.set, li[data-piece]")) {
  place.addEventListener("dragover", (event) => {
    event.preventDefault();
    place.classList.add("over");
  });
  place.addEventListener("dragleave", () => place.classList.remove("over"));
  place.addEventListener("drop", (event) => {
    event.preventDefault();
    event.stopPropagation();
    place.classList.remove("over");
    const dragged = boxOf(event.dataTransfer.getData("text/plain"));
    const set = place.closest("section.set")?.dataset.set;
    if (!dragged) return;
    if (set) return send("/pieces/say", { words: [word(dragged, set)] });
    const other = boxOf(place.dataset.piece);
    if (!other || other === dragged) return;
    const name = $("set-name").value.trim();
    if (!name) return warn("Give the set a name first.");
    send("/pieces/say", { words: [word(dragged, name), word(other, name)] });
  });
}

for (const button of document.querySelectorAll("[data-out]")) {
  button.addEventListener("click", () =>
    send("/pieces/say", { words: [{ piece: Number(button.dataset.out), fact: "set", value: null, saw: Number(button.dataset.saw) }] }),
  );
}

for (const form of document.querySelectorAll("form.needs")) {
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    const value = form.elements.needs.value.trim() || null;
    send("/pieces/say", { words: [{ piece: Number(form.dataset.piece), fact: "set-needs", value, saw: Number(form.dataset.saw) }] });
  });
}
