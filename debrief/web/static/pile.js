// The pile by keyboard, and drafts of reasons that survive a closed page. Without this file everything is there by links.
import { tr } from "./words.js";
const table = document.getElementById("pile");
const links = table ? [...table.querySelectorAll("tbody th a")] : [];

document.addEventListener("keydown", (event) => {
  const typing = event.target instanceof HTMLTextAreaElement || event.target instanceof HTMLInputElement || event.target instanceof HTMLSelectElement;
  if (event.key === "Enter" && (event.ctrlKey || event.metaKey) && event.target.form) {
    event.preventDefault();
    event.target.form.requestSubmit();
    return;
  }
  if (typing || event.ctrlKey || event.metaKey || event.altKey) return;
  const at = links.indexOf(document.activeElement);
  const go = (id) => document.getElementById(id)?.click();
  const keys = table
    ? { j: () => links[Math.min(at + 1, links.length - 1)]?.focus(), k: () => links[Math.max(at - 1, 0)]?.focus() }
    : { j: () => go("after"), k: () => go("before"), p: () => go("pile-link"), o: openNext };
  const act = keys[event.key.toLowerCase()];
  if (!act) return;
  event.preventDefault();
  act();
});

// Opens the decision after the one that is open, and puts the cursor into its reason.
function openNext() {
  const all = [...document.querySelectorAll("details.decide")];
  const open = all.findLastIndex((one) => one.open);
  const next = all[(open + 1) % all.length];
  for (const one of all) one.open = one === next;
  next.querySelector("select").focus();
}

const key = document.querySelector('meta[name="form-key"]').content;
for (const form of document.querySelectorAll("form[data-draft]")) {
  const reason = form.querySelector("textarea");
  const name = `draft:${form.dataset.draft}`;
  const kept = localStorage.getItem(name);
  if (kept && !reason.value) {
    reason.value = kept;
    form.closest("details").open = true;
  }
  reason.addEventListener("input", () => localStorage.setItem(name, reason.value));
  // A draft goes only once the server has answered for the decision.
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const said = form.querySelector(".wrong") || form.appendChild(document.createElement("p"));
    said.className = "wrong";
    said.setAttribute("role", "alert");
    try {
      const answer = await fetch(form.dataset.to, { method: "POST", body: new FormData(form), headers: { "X-Form-Key": key } });
      const content = await answer.json();
      if (answer.ok) {
        localStorage.removeItem(name);
        location.reload();
      } else said.textContent = content.error;
    } catch {
      said.textContent = tr("Not kept yet: the page cannot be reached. Your words stay here; send them again when debrief serve runs.");
    }
  });
}
