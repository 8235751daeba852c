// The facts of a maker or of a line: its keys, and lists whose entries can be added and left out.

import { write } from "/front/facts.js";

const page = document.getElementById("record");
const form = document.getElementById("edit");

/** The entries of a list of which anything is said. */
const entriesOf = (list) =>
  [...list.querySelectorAll(".entries > .entry")].filter((entry) =>
    [...entry.querySelectorAll("[data-cell]")].some((at) => at.value.trim() !== ""),
  );

function said(entry) {
  const cells = {};
  for (const at of entry.querySelectorAll("[data-cell]")) cells[at.dataset.cell] = at.value;
  return { from: "from" in entry.dataset ? Number(entry.dataset.from) : null, cells };
}

let made = 0;

/** One more entry, open, with the cursor in its first field. */
function more(list) {
  const entry = list.querySelector("template").content.firstElementChild.cloneNode(true);
  made += 1;
  for (const at of entry.querySelectorAll("[id], [for]")) {
    const name = at.id ? "id" : "for";
    at.setAttribute(name, at.getAttribute(name).replace("-new-", `-new${made}-`));
  }
  list.querySelector(".entries").append(entry);
  entry.open = true;
  entry.querySelector("[data-cell]").focus();
}

form?.addEventListener("click", (event) => {
  const asks = event.target.closest("[data-more]");
  if (asks) return more(asks.closest(".list"));
  const leaves = event.target.closest("[data-leave-out]");
  if (!leaves) return;
  const next = leaves.closest(".list").querySelector("[data-more]");
  leaves.closest(".entry").remove();
  next.focus();
});

/** `made`, or `forms.0.made`. */
function at(field) {
  const [list, number, key] = field.split(".");
  if (!key) return form.querySelector(`[data-text="${list}"], [data-list="${list}"] [data-more]`);
  const entry = entriesOf(form.querySelector(`[data-list="${list}"]`))[Number(number)];
  return entry?.querySelector(`[data-cell="${key}"]`);
}

form?.addEventListener("submit", (event) => {
  event.preventDefault();
  const asked = { record: page.dataset.record, saw: page.dataset.saw, texts: {}, entries: {} };
  for (const one of form.querySelectorAll("[data-text]")) asked.texts[one.dataset.text] = one.value;
  for (const list of form.querySelectorAll("[data-list]")) asked.entries[list.dataset.list] = entriesOf(list).map(said);
  const then = () => (location.pathname === page.dataset.address && !location.search ? location.reload() : location.assign(page.dataset.address));
  write(form, "/facts/edit", asked, at, then);
});
