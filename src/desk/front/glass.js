// The photo's mark and the library's, in one frame: side by side, blinked, wiped, their differences.

import { read } from "/front/desk.js";
import { drawRings, ringsOf } from "/front/rings.js";

const CLOSER = 1.25;
const MOST = 12;
const STEP = 15;

const glass = document.getElementById("glass");
const photo = document.getElementById("pane-photo");
const library = document.getElementById("pane-library");
const [base, over] = photo.querySelectorAll("img");
const beside = library.querySelector("img");
const wipe = document.getElementById("wipe");

const state = { way: "side", blink: false, rings: false, zoom: 1, turn: 0, x: 0, y: 0, view: null, address: null };
/** Views that were asked for, by address. */
const views = new Map();
let turnOf = 0;

const address = (id, family) => `/view/${id}${family ? `?beside=${encodeURIComponent(family)}` : ""}`;
const picture = (id, family, what) =>
  `/picture/${id}/${what}${family ? `?beside=${encodeURIComponent(family)}` : ""}`;

function ask(id, family) {
  const at = address(id, family);
  if (!views.has(at)) views.set(at, read(at).then((view) => view ?? (views.delete(at), null)));
  return views.get(at);
}

/** Has the pictures of a mark drawn and fetched before they are wanted. */
export async function prepare(id, family) {
  const view = await ask(id, family);
  for (const what of view?.pictures ?? []) new Image().src = picture(id, family, what);
}

/** Shows a mark beside a family. */
export async function show(id, family, names) {
  const turn = ++turnOf;
  glass.classList.add("waiting");
  state.names = names;
  const view = await ask(id, family);
  if (turn !== turnOf) return;
  asItWas();
  state.view = view;
  state.address = (what) => (what === "whole" ? `/picture/${id}/whole` : picture(id, family, what));
  const has = (what) => view?.pictures.includes(what);
  glass.classList.toggle("alone", !has("exemplar"));
  if (view) {
    base.src = state.address("photo");
    if (has("exemplar")) beside.src = state.address("exemplar");
    else beside.removeAttribute("src");
    glass.style.setProperty("--shape", `${view.width} / ${view.height}`);
  } else {
    base.removeAttribute("src");
    beside.removeAttribute("src");
  }
  base.alt = names.photo;
  beside.alt = names.library ?? "";
  for (const image of [base, beside]) await image.decode?.().catch(() => {});
  if (turn !== turnOf) return;
  glass.classList.remove("waiting");
  draw();
  ring();
}

/** Rings the part that tells the family beside the mark from the next likely one, over both pictures. */
async function ring() {
  const turn = turnOf;
  const { family, against, content } = state.names ?? {};
  const button = document.getElementById("rings");
  const can = Boolean(family && against && content && state.view?.pictures.includes("exemplar"));
  button.disabled = !can;
  button.setAttribute("aria-pressed", String(state.rings && can));
  const says = document.getElementById("rings-say");
  const found = state.rings && can ? await ringsOf(family, against, content) : null;
  if (turn !== turnOf) return;
  says.textContent = found?.says ?? (state.rings && can ? "These two could not be compared." : "");
  for (const turner of glass.querySelectorAll(".turner")) {
    drawRings(turner, state.rings ? found?.rings ?? [] : [], state.view?.width ?? 1, state.view?.height ?? 1);
  }
}

document.getElementById("rings").addEventListener("click", () => {
  state.rings = !state.rings;
  ring();
});

/** What lies over the photo in the present way of looking. */
function covering() {
  if (state.blink || state.way === "wipe") return "exemplar";
  return state.way === "side" ? null : state.way;
}

function draw() {
  const { view, way } = state;
  const has = (what) => what === "whole" || view?.pictures.includes(what);
  glass.dataset.way = way;
  glass.classList.toggle("no-rings", way === "whole");
  const what = covering();
  const shown = what && has(what);
  over.hidden = !shown;
  if (shown) over.src = state.address(what);
  over.style.clipPath = way === "wipe" && !state.blink ? `inset(0 ${100 - wipe.value}% 0 0)` : "";
  document.getElementById("wipe-line").hidden = way !== "wipe";
  document.getElementById("legend").hidden = way !== "differences";
  const says = document.getElementById("says-photo");
  const texts = { differences: view?.says_differences, ink: view?.says_ink, whole: "The whole photo", both: "Both in one picture: pale is the library's mark, dark is the photo's ink over it" };
  says.textContent = state.blink && shown ? state.names.library : texts[way] ?? view?.says_photo ?? "No picture is kept of this photo, and the photo is out of reach.";
  document.getElementById("says-library").textContent = has("exemplar") ? state.names.library : view?.says_differences ?? "";
  for (const button of glass.querySelectorAll("button[data-way]")) {
    const two = has("exemplar") || ["ink", "whole"].includes(button.dataset.way);
    button.setAttribute("aria-pressed", String(two && button.dataset.way === way));
    button.disabled = !two;
  }
  document.getElementById("blink").disabled = !has("exemplar");
  const moved = `translate(${state.x}px, ${state.y}px) rotate(${state.turn}deg) scale(${state.zoom})`;
  glass.classList.toggle("zoomed", state.zoom > 1);
  for (const turner of glass.querySelectorAll(".turner")) turner.style.transform = moved;
}

function asItWas() {
  Object.assign(state, { zoom: 1, turn: 0, x: 0, y: 0 });
}

for (const button of glass.querySelectorAll("button[data-way]")) {
  button.addEventListener("click", () => {
    // The same key again leads back.
    state.way = state.way === button.dataset.way ? "side" : button.dataset.way;
    draw();
  });
}
document.getElementById("blink").addEventListener("hold", (event) => {
  state.blink = event.detail;
  draw();
});
wipe.addEventListener("input", draw);

const does = (id, what) =>
  document.getElementById(id).addEventListener("click", () => {
    what();
    draw();
  });
does("closer", () => (state.zoom = Math.min(MOST, state.zoom * CLOSER)));
does("farther", () => (state.zoom = Math.max(1 / 2, state.zoom / CLOSER)));
does("turn-left", () => (state.turn -= STEP));
does("turn-right", () => (state.turn += STEP));
does("as-it-was", asItWas);

for (const view of glass.querySelectorAll(".view")) {
  view.addEventListener(
    "wheel",
    (event) => {
      if (!event.ctrlKey && state.zoom === 1 && event.deltaY > 0) return;
      event.preventDefault();
      state.zoom = Math.min(MOST, Math.max(1, state.zoom * (event.deltaY < 0 ? CLOSER : 1 / CLOSER)));
      draw();
    },
    { passive: false },
  );
  view.addEventListener("pointerdown", (event) => {
    // A finger on a picture as it is scrolls the page.
    if (event.button !== 0 || (event.pointerType === "touch" && state.zoom <= 1)) return;
    event.preventDefault();
    view.setPointerCapture(event.pointerId);
    const from = { x: event.clientX - state.x, y: event.clientY - state.y };
    const move = (at) => {
      state.x = at.clientX - from.x;
      state.y = at.clientY - from.y;
      draw();
    };
    view.addEventListener("pointermove", move);
    const end = () => view.removeEventListener("pointermove", move);
    view.addEventListener("pointerup", end, { once: true });
    view.addEventListener("pointercancel", end, { once: true });
  });
}
