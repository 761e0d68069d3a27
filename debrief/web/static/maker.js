// The procedure maker: asks the server after each change, and shows mistakes beside their fields, words and picture.
import { tr } from "./words.js";
const form = document.getElementById("maker");
const key = document.querySelector('meta[name="form-key"]').content;
const PAUSE_MS = 350;
const touched = new Set();
let asked = 0;
let timer = 0;

form.addEventListener("input", (event) => {
  if (event.target.name) touched.add(event.target.name);
  showWhatBelongs();
  clearTimeout(timer);
  timer = setTimeout(check, PAUSE_MS);
});

// A fieldset or field that belongs to one choice only: data-if="layout=before|on".
function showWhatBelongs() {
  for (const part of form.querySelectorAll("[data-if]")) {
    const [name, wanted] = part.dataset.if.split("=");
    part.hidden = !wanted.split("|").includes(form.elements[name].value);
  }
}

async function check() {
  const mine = ++asked;
  let answer;
  try {
    const sent = await fetch("/api/v1/procedures/check", { method: "POST", body: new FormData(form), headers: { "X-Form-Key": key } });
    answer = await sent.json();
  } catch {
    return;
  }
  if (mine !== asked || !answer.mistakes) return; // a later change is on its way
  for (const said of form.querySelectorAll('[id^="wrong-"]')) {
    const name = said.id.slice("wrong-".length);
    const text = answer.mistakes[name] || "";
    // what is only not filled in yet is not held against anybody while they type
    const show = text && (touched.has(name) || text !== tr("Fill this in."));
    said.textContent = show ? text : "";
    said.hidden = !show;
    const field = form.elements[name];
    if (field && show) field.setAttribute("aria-invalid", "true");
    else if (field) field.removeAttribute("aria-invalid");
  }
  const valid = Boolean(answer.picture);
  const waiting = document.getElementById("waiting");
  const left = Object.keys(answer.mistakes).length;
  waiting.hidden = valid;
  waiting.textContent = left === 1 ? tr("The picture comes as soon as the fields make a procedure: one wants a look.") : tr("The picture comes as soon as the fields make a procedure: {left} want a look.", { left });
  document.getElementById("figure").hidden = !valid;
  if (!valid) return;
  document.getElementById("picture").src = answer.picture;
  fill("words", answer.words, "");
  fill("remarks", answer.remarks.map((text) => tr("Worth a second look: {remark}", { remark: text })), "note");
}

function fill(id, texts, className) {
  document.getElementById(id).replaceChildren(
    ...texts.map((text) => {
      const paragraph = document.createElement("p");
      paragraph.textContent = text;
      if (className) paragraph.className = className;
      return paragraph;
    }),
  );
}

showWhatBelongs();
