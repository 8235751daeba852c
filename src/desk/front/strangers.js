// Groups of unknown marks: take out, join, turn, and name one to make a family.

import { change, sayJob, tell, warn, watchJob } from "/front/desk.js";

const $ = (id) => document.getElementById(id);

$("compare")?.addEventListener("click", async () => {
  $("compare").disabled = true;
  const made = await change("/strangers/compare", {});
  if (made.status !== 200) return warn(made.told);
  document.dispatchEvent(new Event("look-at-job"));
});

const panel = $("under-way");
if (panel) {
  let ended = null;
  watchJob((job) => {
    const busy = job.state === "running" || job.state === "paused";
    panel.hidden = !busy;
    $("way-title").textContent = job.what;
    $("way-line").textContent = sayJob(job);
    if (job.total) {
      $("way-bar").max = job.total;
      $("way-bar").value = job.done;
    } else {
      $("way-bar").removeAttribute("value");
    }
    if (ended !== null && job.ended > ended) {
      if (job.state === "failed") warn(job.told);
      else location.reload();
    }
    ended = job.ended;
  });
}

const boxes = (group) => [...group.querySelectorAll("input[type=checkbox]")];

function turn(group, by) {
  const form = group.querySelector("form");
  const now = (Number(form.dataset.turn) + by + 360) % 360;
  form.dataset.turn = String(now);
  for (const image of group.querySelectorAll("img")) {
    image.src = `/picture/${image.closest("label").querySelector("input").dataset.id}/turned?turn=${Number(image.dataset.turn) + now}`;
  }
}

for (const group of document.querySelectorAll("section.stranger")) {
  for (const button of group.querySelectorAll("[data-turn-by]")) {
    button.addEventListener("click", () => turn(group, Number(button.dataset.turnBy)));
  }
  for (const button of group.querySelectorAll("[data-join]")) {
    button.addEventListener("click", () => {
      const other = $(`group-${button.dataset.join}`);
      if (!other) return warn("This group was joined already.");
      group.querySelector("ul.marks").append(...other.querySelectorAll("ul.marks > li"));
      other.remove();
      group.classList.remove("alone");
      button.closest("p").remove();
      tell(`Joined: ${boxes(group).length} marks.`);
    });
  }
  group.querySelector("form").addEventListener("submit", async (event) => {
    event.preventDefault();
    const form = event.target;
    const marks = boxes(group).filter((b) => b.checked).map((b) => ({ id: b.dataset.id, saw: Number(b.dataset.saw ?? 0) }));
    if (marks.length === 0) return warn("Leave at least one mark in.");
    const submit = form.querySelector("[type=submit]");
    submit.disabled = true;
    const made = await change("/strangers/name", {
      marks,
      maker: form.elements.maker.value,
      name: form.elements.name.value,
      turn: Number(form.dataset.turn),
    });
    submit.disabled = false;
    if (made.status !== 200) return warn(made.told ?? "This was not done.");
    for (const box of boxes(group)) if (box.checked) box.closest("li").remove();
    if (boxes(group).length === 0) group.remove();
    const refused = made.refused.map((r) => r.told).join(". ");
    if (refused) warn(refused);
    else tell(`${made.told}. Looking for more of it.`);
    document.dispatchEvent(new Event("look-at-job"));
  });
}
