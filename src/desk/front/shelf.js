// A family of the library: where it parts from those it is taken for, and its facts.

import { write } from "/front/facts.js";
import { drawRings, ringsOf } from "/front/rings.js";

const $ = (id) => document.getElementById(id);
const page = $("mark");

async function compare(twins) {
  const { own, against } = twins.dataset;
  const says = twins.querySelector(".rings-say");
  const boxes = twins.querySelectorAll(".ringed");
  const pairs = [[own, against], [against, own]];
  for (const [n, [family, other]] of pairs.entries()) {
    const found = await ringsOf(family, other);
    const image = boxes[n].querySelector("img");
    await image.decode?.().catch(() => {});
    if (found) drawRings(boxes[n], found.rings, image.naturalWidth, image.naturalHeight);
    if (n === 0) says.textContent = found?.says ?? "Their pictures could not be compared.";
  }
}

for (const twins of document.querySelectorAll(".twins[data-against]")) compare(twins);

/** `used`, or `tell.0`. */
function at(field) {
  const [name, number] = field.split(".");
  return number ? $(`edit-tell-${number}`) : $(`edit-${name}`);
}

$("edit").addEventListener("submit", (event) => {
  event.preventDefault();
  const form = event.target;
  const asked = { family: page.dataset.family, saw: page.dataset.saw, confused: [] };
  for (const name of ["name", "used", "ink", "role", "means", "lines", "notes", "sources"]) asked[name] = form.elements[name].value;
  for (const input of form.querySelectorAll("[data-twin]")) asked.confused.push({ family: input.dataset.twin, tell: input.value });
  write(form, "/marks/edit", asked, at);
});
