// Taking photos in, and how far that is; the beginning of a workspace.

import { change, element, sayJob, tell, warn, watchJob } from "/front/desk.js";

const $ = (id) => document.getElementById(id);

// --- under way ----------------------------------------------------------------------------------

const panel = $("under-way");
let ended = null;

function see(job) {
  const busy = job.state === "running" || job.state === "paused";
  const over = job.state === "done" || job.state === "failed";
  panel.hidden = !(busy || (over && job.told));
  $("way-title").textContent = job.lot ? `${job.what}, lot ${job.lot}` : job.what;
  const bar = $("way-bar");
  bar.hidden = !busy;
  if (job.total) {
    bar.max = job.total;
    bar.value = job.done;
  } else {
    bar.removeAttribute("value");
  }
  $("way-line").textContent = busy ? sayJob(job) : job.told ?? "";
  const pause = $("pause");
  pause.hidden = !busy;
  pause.textContent = job.state === "paused" ? "Go on" : "Pause";
  pause.dataset.paused = job.state === "paused" ? "1" : "";
  const troubles = $("way-troubles");
  troubles.hidden = job.troubles.length === 0;
  troubles.querySelector("summary").textContent = `${job.troubles.length} could not be read`;
  troubles.querySelector("ul").replaceChildren(...job.troubles.map((t) => element("li", {}, t)));
  // What has ended shows in the list of lots.
  if (ended !== null && job.ended > ended && !$("take-in")?.contains(document.activeElement)) location.reload();
  ended = job.ended;
  $("way-piles").textContent = job.piles.map(([pile, count]) => `${pile.toLowerCase()} ${count}`).join(" · ");
}

if (panel) {
  watchJob(see);
  $("pause").addEventListener("click", async () => {
    const made = await change("/pause", { paused: !$("pause").dataset.paused });
    if (made.status === 200) see(made);
    else warn(made.told);
    document.dispatchEvent(new Event("look-at-job"));
  });
}

// --- taking in ----------------------------------------------------------------------------------

const form = $("take-in");
let picked = [];

function take(files, folder) {
  picked = files.filter((file) => file.size > 0 && !file.name.startsWith("."));
  const lot = $("lot");
  if (!lot.value && folder) lot.value = folder;
  $("folder").value = "";
  $("picked").textContent = picked.length === 0 ? "No files in it." : `${picked.length} files chosen. Give the lot a name and take them in.`;
  lot.focus();
}

/** All files of what was dropped, folders to the bottom. */
async function filesOf(entries) {
  const files = [];
  const walk = async (entry) => {
    if (entry.isFile) {
      files.push(await new Promise((done, failed) => entry.file(done, failed)));
    } else if (entry.isDirectory) {
      const reader = entry.createReader();
      for (;;) {
        const some = await new Promise((done, failed) => reader.readEntries(done, failed));
        if (some.length === 0) break;
        for (const one of some) await walk(one);
      }
    }
  };
  for (const entry of entries) await walk(entry);
  return files;
}

async function send(lot) {
  let at = 0;
  for (const file of picked) {
    at += 1;
    $("picked").textContent = `Copying ${at} of ${picked.length}: ${file.name}`;
    const address = `/drop?lot=${encodeURIComponent(lot)}&name=${encodeURIComponent(file.name)}`;
    const made = await change(address, file);
    if (made.status !== 200) {
      warn(`${file.name}: ${made.told ?? "too large to be dropped: name its folder instead"}`);
      if (made.status === 0) return false;
    }
  }
  $("picked").textContent = "";
  picked = [];
  return true;
}

if (form) {
  const drop = $("drop");
  drop.addEventListener("dragover", (event) => {
    event.preventDefault();
    drop.classList.add("over");
  });
  drop.addEventListener("dragleave", () => drop.classList.remove("over"));
  drop.addEventListener("drop", async (event) => {
    event.preventDefault();
    drop.classList.remove("over");
    const entries = [...event.dataTransfer.items].map((i) => i.webkitGetAsEntry?.()).filter(Boolean);
    const folder = entries.find((e) => e.isDirectory)?.name ?? "";
    take(entries.length ? await filesOf(entries) : [...event.dataTransfer.files], folder);
  });
  $("pick-folder").addEventListener("change", (event) => {
    const files = [...event.target.files];
    take(files, files[0]?.webkitRelativePath.split("/")[0] ?? "");
  });
  $("pick-files").addEventListener("change", (event) => take([...event.target.files], ""));
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const [lot, folder] = [$("lot").value.trim(), $("folder").value.trim()];
    if (!folder && picked.length === 0) return warn("Drop photos first, or name a folder.");
    const submit = form.querySelector("[type=submit]");
    submit.disabled = true;
    const there = folder ? true : await send(lot);
    submit.disabled = false;
    if (!there) return;
    const asked = { folder: folder || null, lot, date: $("date").value, place: $("place").value };
    const made = await change("/intake", asked);
    if (made.status !== 200) return warn(made.told);
    form.reset();
    submit.blur();
    tell(`Taking in ${lot}.`);
    see(made);
    document.dispatchEvent(new Event("look-at-job"));
    panel.scrollIntoView({ block: "nearest" });
  });
}

// --- the beginning ------------------------------------------------------------------------------

for (const [id, demo] of [["begin-demo", true], ["begin-own", false]]) {
  $(id)?.addEventListener("click", async () => {
    $("begin-told").textContent = "Making the workspace…";
    const made = await change("/begin", { demo });
    if (made.status === 200) location.assign("/");
    else warn(made.told);
  });
}
