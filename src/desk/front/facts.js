// A form of facts: sent to be written, and what cannot be written told beside its field.

import { change, tellNext, warn } from "/front/desk.js";

/** Says beside each field what is wrong with it; `at` gives a field by its name. The first of them is gone to. */
function mend(form, wrong, at) {
  for (const said of form.querySelectorAll(".wrong")) said.remove();
  for (const was of form.querySelectorAll("[aria-invalid]")) {
    was.removeAttribute("aria-invalid");
    was.removeAttribute("aria-describedby");
  }
  let first = null;
  for (const [n, { field, says }] of wrong.entries()) {
    const input = at(field);
    if (!input) continue;
    const said = document.createElement("span");
    said.className = "wrong";
    said.id = `wrong-${n}`;
    const typed = input.value?.trim();
    said.textContent = `${typed && typed.length < 60 ? `“${typed}” ` : "This "}${says}.`;
    input.setAttribute("aria-invalid", "true");
    input.setAttribute("aria-describedby", said.id);
    (input.closest(".field") ?? input).append(said);
    const folded = input.closest("details");
    if (folded) folded.open = true;
    first ??= input;
  }
  first?.focus();
  return first !== null;
}

/** Sends what was asked; the page is opened again where it was written. */
export async function write(form, address, asked, at, then = () => location.reload()) {
  const button = document.getElementById("keep");
  button.disabled = true;
  const made = await change(address, asked);
  button.disabled = false;
  const told = mend(form, made.wrong ?? [], at);
  if (made.status !== 200) {
    const rest = told ? "" : (made.wrong ?? []).map((w) => ` ${w.field} ${w.says}.`).join("");
    return warn((made.told ?? "This was not written.") + rest);
  }
  tellNext(made.told);
  then();
}
