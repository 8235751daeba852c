// What every page of the desk has: changes sent with the page's word, what is told, keys, undo.

const word = document.querySelector('meta[name="footring-word"]')?.content ?? "";
const told = document.getElementById("told");
const alarm = document.getElementById("alarm");
const KEYS_OFF = "footring keys off";

/** Text for those who see and those who listen. */
export function tell(text) {
  alarm.hidden = true;
  told.textContent = text;
}

const LAST_TOLD = "footring told";

/** Tells a text on the page that comes next. */
export function tellNext(text) {
  try {
    sessionStorage.setItem(LAST_TOLD, text);
  } catch {
    // Then it is told nowhere: the next page shows what was done.
  }
}

try {
  const last = sessionStorage.getItem(LAST_TOLD);
  sessionStorage.removeItem(LAST_TOLD);
  if (last && told) requestAnimationFrame(() => (told.textContent = last));
} catch {
  // As above.
}

/** What went wrong stays until something else is told. */
export function warn(text) {
  told.textContent = "";
  alarm.hidden = false;
  alarm.textContent = text;
}

/** Sends a change. Gives the answer's status and content; nothing was changed where `status` is 0. */
export async function change(address, content) {
  const raw = content instanceof Blob;
  const headers = { "x-footring-word": word };
  if (!raw) headers["content-type"] = "application/json";
  try {
    const answer = await fetch(address, {
      method: "POST",
      headers,
      body: raw ? content : JSON.stringify(content ?? {}),
    });
    if (answer.status === 403 || answer.status === 401) {
      return { status: 0, told: "The desk was started anew since: open the address that it printed." };
    }
    const made = await answer.json().catch(() => ({}));
    return { status: answer.status, ...made };
  } catch {
    return { status: 0, told: "The desk does not answer. Is it still running?" };
  }
}

/** Reads a list or a record; null where there is none. */
export async function read(address) {
  try {
    const answer = await fetch(address);
    return answer.ok ? await answer.json() : null;
  } catch {
    return null;
  }
}

/** An element with text, never HTML. */
export function element(name, properties = {}, ...inside) {
  const made = document.createElement(name);
  for (const [key, value] of Object.entries(properties)) {
    if (key === "class") made.className = value;
    else if (key.startsWith("data-") || key.startsWith("aria-")) made.setAttribute(key, value);
    else made[key] = value;
  }
  made.append(...inside);
  return made;
}

// --- keys ---------------------------------------------------------------------------------------

const on = document.getElementById("keys-on");
let stored = null;
try {
  stored = localStorage.getItem(KEYS_OFF);
} catch {
  // Without storage the choice lasts as long as the page.
}
if (on) {
  on.checked = !stored;
  on.addEventListener("change", () => {
    try {
      if (on.checked) localStorage.removeItem(KEYS_OFF);
      else localStorage.setItem(KEYS_OFF, "1");
    } catch {
      // As above.
    }
  });
}

const typing = (at) =>
  at instanceof HTMLElement &&
  (at.isContentEditable ||
    at instanceof HTMLTextAreaElement ||
    at instanceof HTMLSelectElement ||
    (at instanceof HTMLInputElement && !["checkbox", "radio", "range", "button"].includes(at.type)));

const visible = (at) => !at.disabled && at.getClientRects().length > 0;
const open = () => document.querySelector("dialog[open]");

function keyed(key, kind) {
  const wanted = key.length === 1 ? key.toLowerCase() : key;
  return [...document.querySelectorAll(`[data-${kind}]`)].find(
    (at) => at.dataset[kind] === wanted && visible(at),
  );
}

document.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.altKey || event.metaKey || open()) return;
  if (typing(event.target)) return;
  const { key } = event;
  // A button or link in focus keeps its own Enter, and a slider its arrows.
  const own = event.target instanceof HTMLElement ? event.target.closest("button, a, summary, label.button") : null;
  if (key === "Enter" && own && own.dataset.key !== "Enter") return;
  const slider = event.target instanceof HTMLInputElement && event.target.type === "range";
  if (slider && key.startsWith("Arrow")) return;
  if (key.length === 1 && on && !on.checked) return;
  const held = keyed(key, "hold");
  if (held) {
    event.preventDefault();
    if (!event.repeat) hold(held, true);
    return;
  }
  const found = keyed(key, "key");
  if (!found) return;
  event.preventDefault();
  if (event.repeat && !key.startsWith("Arrow") && !"+-[]".includes(key)) return;
  found.click();
});

document.addEventListener("keyup", (event) => {
  const held = keyed(event.key, "hold");
  if (held) hold(held, false);
});

/** A button that works as long as it is held. */
function hold(button, down) {
  button.classList.toggle("held", down);
  button.dispatchEvent(new CustomEvent("hold", { detail: down }));
}

for (const button of document.querySelectorAll("[data-hold]")) {
  button.addEventListener("pointerdown", () => hold(button, true));
  for (const end of ["pointerup", "pointerleave", "pointercancel", "blur"]) {
    button.addEventListener(end, () => hold(button, false));
  }
  // With Enter or Space, as a screen reader presses it: once on, once off.
  button.addEventListener("click", (event) => {
    if (event.detail === 0) hold(button, !button.classList.contains("held"));
  });
}

const help = document.getElementById("help");
const list = document.getElementById("help-list");
const named = { ArrowLeft: "←", ArrowRight: "→", " ": "Space" };
document.getElementById("keys")?.addEventListener("click", () => {
  list.replaceChildren();
  for (const at of document.querySelectorAll("[data-key], [data-hold]")) {
    if (!visible(at)) continue;
    const key = at.dataset.key ?? at.dataset.hold;
    const says = at.getAttribute("aria-label") ?? [...at.childNodes].filter((n) => n.nodeName !== "KBD").map((n) => n.textContent.trim()).filter(Boolean).join(" ");
    list.append(element("dt", {}, element("kbd", {}, named[key] ?? key.toUpperCase())), element("dd", {}, says));
  }
  help.showModal();
});
document.getElementById("help-close")?.addEventListener("click", () => help.close());

for (const at of document.querySelectorAll("[data-key]")) {
  const key = at.dataset.key;
  at.setAttribute("aria-keyshortcuts", key.length === 1 ? key.toUpperCase() : key);
}

// --- undo ---------------------------------------------------------------------------------------

document.getElementById("undo")?.addEventListener("click", async () => {
  const made = await change("/undo", {});
  if (made.status !== 200) return warn(made.told);
  tell(made.told);
  if (!made.any) return;
  const event = new CustomEvent("undone", { detail: made, cancelable: true });
  // A page that can show what is open again does so; others are loaded anew.
  if (!document.dispatchEvent(event)) return;
  tellNext(made.told);
  location.reload();
});

// --- work under way -----------------------------------------------------------------------------

const line = document.getElementById("job-line");
const LOOK_AGAIN_MS = 700;
const LOOK_SELDOM_MS = 5000;

/** `4 min`, `40 s`. */
const span = (seconds) => (seconds >= 90 ? `${Math.round(seconds / 60)} min` : `${Math.max(1, Math.round(seconds))} s`);

/** How far the work is, in words. */
export function sayJob(job) {
  const parts = [];
  if (job.total) parts.push(`${job.done} of ${job.total}`);
  if (job.rate) parts.push(job.rate >= 1 ? `${job.rate.toFixed(1)} a second` : `${(job.rate * 60).toFixed(0)} a minute`);
  if (job.seconds_left && job.state === "running") parts.push(`about ${span(job.seconds_left)} left`);
  if (job.state === "paused") parts.push("paused");
  if (job.waiting) parts.push(`${job.waiting} more waiting`);
  return parts.join(" · ");
}

/** Calls `see` with how far the work is, for as long as the page is open. */
export function watchJob(see) {
  let timer;
  const look = async () => {
    clearTimeout(timer);
    const job = document.hidden ? null : await read("/job");
    if (job) see(job);
    const busy = job && (job.state === "running" || job.waiting > 0);
    timer = setTimeout(look, busy ? LOOK_AGAIN_MS : LOOK_SELDOM_MS);
  };
  document.addEventListener("visibilitychange", look);
  document.addEventListener("look-at-job", look);
  look();
}

if (line && !document.getElementById("under-way")) {
  watchJob((job) => {
    const busy = job.state === "running" || job.state === "paused";
    line.hidden = !busy;
    line.textContent = busy ? `${job.what}: ${sayJob(job)}` : "";
  });
}
