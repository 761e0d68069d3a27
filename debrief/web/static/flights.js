// Dropping logs, and keeping a list of flights current while some are in work. Without this file the forms do the same.
import { tr } from "./words.js";
const key = document.querySelector('meta[name="form-key"]').content;
const drop = document.getElementById("drop");
const AT_ONCE = 3;
const WAIT_MS = 700;

if (drop) {
  const chooser = document.getElementById("log");
  const arriving = document.getElementById("arriving");
  const mostBytes = Number(drop.dataset.mostBytes);
  const mostFiles = Number(drop.dataset.mostFiles);

  let inside = 0;
  document.addEventListener("dragenter", (event) => {
    event.preventDefault();
    inside += 1;
    drop.classList.add("over");
  });
  document.addEventListener("dragleave", () => {
    inside -= 1;
    if (inside <= 0) drop.classList.remove("over");
  });
  document.addEventListener("dragover", (event) => event.preventDefault());
  document.addEventListener("drop", (event) => {
    event.preventDefault();
    inside = 0;
    drop.classList.remove("over");
    take([...event.dataTransfer.files]);
  });
  chooser.addEventListener("change", () => {
    take([...chooser.files]);
    chooser.value = "";
  });
  drop.addEventListener("submit", (event) => {
    if (!chooser.files.length) {
      event.preventDefault();
      chooser.focus();
    }
  });

  // Who leaves while logs are still on their way would lose those that were not sent.
  let sending = 0;
  window.addEventListener("beforeunload", (event) => {
    if (sending) event.preventDefault();
  });

  async function take(files) {
    if (!files.length) return;
    sending += 1;
    const told = new Map(files.map((file) => [file, line(file.name)]));
    const waiting = files.slice(0, mostFiles);
    for (const file of files.slice(mostFiles)) told.get(file).say(tr("not sent: {most} files at once are the most", { most: mostFiles }), true);
    const sent = [];
    await Promise.all(Array.from({ length: AT_ONCE }, async () => {
      for (let file = waiting.shift(); file; file = waiting.shift()) sent.push(await send(file, told.get(file)));
    }));
    sending -= 1;
    const taken = sent.filter(Boolean);
    if (taken.length === 1 && files.length === 1) location.href = taken[0].page;
    else if (taken.length) await refresh();
  }

  function line(name) {
    const item = document.createElement("li");
    const title = document.createElement("strong");
    const words = document.createElement("span");
    title.textContent = name;
    words.textContent = tr("waiting");
    item.append(title, words);
    arriving.append(item);
    return {
      say(text, wrong) {
        words.textContent = text;
        words.className = wrong ? "wrong" : "";
      },
      done() {
        item.remove();
      },
    };
  }

  async function send(file, told) {
    if (file.size > mostBytes) {
      told.say(tr("not sent: larger than {most} MB. Cut the flight out of it, or pack it (gzip, zip).", { most: Math.round(mostBytes / 1e6) }), true);
      return null;
    }
    const body = new FormData();
    body.append("standard", document.getElementById("standard").value);
    const pilot = document.getElementById("pilot");
    if (pilot) body.append("pilot", pilot.value);
    body.append("log", file);
    told.say(tr("sending"));
    try {
      const answer = await fetch("/api/v1/flights", { method: "POST", body, headers: { "X-Form-Key": key } });
      const content = await answer.json();
      const log = content.logs && content.logs[0];
      if (!log || log.refused) {
        told.say((log && log.refused) || content.error, true);
        return null;
      }
      told.done();
      return log.flight;
    } catch {
      told.say(tr("not sent: the page cannot be reached. Is debrief serve still running? Drop it again then."), true);
      return null;
    }
  }
}

// Flights in work

const inWork = () => [...document.querySelectorAll('[data-flight][data-state="waiting"], [data-flight][data-state="working"]')];

async function refresh() {
  const answer = await fetch(location.href, { headers: { Accept: "text/html" } });
  if (!answer.ok || answer.redirected) return location.reload();
  const fresh = new DOMParser().parseFromString(await answer.text(), "text/html");
  const list = document.getElementById("flights");
  const newer = fresh.getElementById("flights");
  const shelf = document.getElementById("shelf");
  if (!list && shelf && newer) { // the first flights: a reload would wipe out what is said of those that were refused
    document.querySelector("h1").textContent = fresh.querySelector("h1").textContent;
    shelf.replaceWith(fresh.getElementById("shelf"));
    return watch();
  }
  if (!list || !newer) return location.reload();
  const focused = document.activeElement && document.activeElement.closest("[data-flight]");
  for (const item of [...newer.children].reverse()) {
    const old = list.querySelector(`[data-flight="${item.dataset.flight}"]`);
    const same = old && old.outerHTML === item.outerHTML;
    if (old && !same && old !== focused) old.replaceWith(item);
    else if (!old) list.prepend(item);
  }
  watch();
}

let watching = false;
async function watch() {
  if (watching) return;
  watching = true;
  while (inWork().length) {
    await new Promise((done) => setTimeout(done, WAIT_MS));
    const items = inWork();
    const alone = items.find((item) => item.dataset.reload);
    try {
      if (alone) {
        const answer = await fetch(`/api/v1/flights/${alone.dataset.flight}`);
        if (!answer.ok) return location.reload();
        const flight = await answer.json();
        if (flight.state !== "waiting" && flight.state !== "working") return location.reload();
        const said = flight.state === "working" ? flight.said : flight.ahead ? tr("Waiting: {count} before it", { count: flight.ahead }) : tr("Next to be read");
        document.getElementById("said").textContent = said;
      } else {
        watching = false;
        await refresh();
        return;
      }
    } catch {
      const said = document.getElementById("said");
      if (said) said.textContent = tr("The page cannot be reached. Is debrief serve still running?");
    }
  }
  watching = false;
}
watch();
