// The replay: one time cursor through the plan view, the strips and what the pilot saw.
import { Flight, elapsed, grouped, threeFigures } from "./replay_data.js";
import { PlanView } from "./replay_map.js";
import { Panel } from "./replay_panel.js";
import { Strips } from "./replay_strips.js";
import { tr } from "./words.js";

const SPEEDS = [1, 2, 5, 10, 20, 50];
const root = document.getElementById("replay");

async function load(address) {
  const answer = await fetch(address);
  if (!answer.ok) throw new Error(`${answer.status}`);
  return answer.json();
}

function element(name, attributes = {}, ...children) {
  const made = document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) {
    if (key.startsWith("on")) made.addEventListener(key.slice(2), value);
    else if (value !== null) made.setAttribute(key, value);
  }
  made.append(...children);
  return made;
}

function panel(flight, number, several) {
  const reading = (name, title, unit) =>
    element("div", { class: "reading" }, element("span", { class: "reading-name" }, title), element("span", { class: "reading-value" }, element("b", { "data-reads": name }, "–"), unit ? ` ${unit}` : ""));
  const logged = flight.data.samples.heading.some((value) => value !== null);
  return element(
    "section",
    { class: `panel panel-${number}`, "aria-label": several ? tr("What the pilot saw: {file}", { file: flight.data.file }) : tr("What the pilot saw") },
    several ? element("h2", {}, flight.data.file) : "",
    element("canvas", { class: "panel-canvas", "aria-hidden": "true" }),
    element("p", { class: "panel-course" }, `${tr("course")} `, element("b", { "data-reads": "course" }, "–"), " ", element("b", { "data-reads": "flag" }, "")),
    element(
      "div",
      { class: "readings" },
      reading("altitude", tr("Altitude"), "ft"),
      reading("dme", "DME", "NM"),
      reading("direction", logged ? tr("Heading") : tr("Track"), ""),
      reading("groundspeed", tr("Over ground"), "kt"),
      reading("vertical", tr("Climb"), "ft/min"),
    ),
    element("p", { class: "panel-limit", "data-reads": "limit" }),
    element("p", { class: "soft small" }, flight.data.heading_is),
  );
}

function start(flights) {
  const several = flights.length > 1;
  const [flight] = flights;
  let [tau, running, speed, last, frames] = [0, false, 10, 0, 0];

  const mapCanvas = element("canvas", { class: "map", tabindex: "0", role: "img", "aria-label": tr("Plan view of {file}, north up. Arrows move it, plus and minus change its scale.", { file: flight.data.file }) });
  const stripCanvas = element("canvas", { class: "strips", "aria-hidden": "true" });
  const panels = flights.map((entry, number) => panel(entry, number, several));
  const run = element("button", { type: "button", class: "run", onclick: () => toggle() }, tr("Run"));
  const slider = element("input", { type: "range", class: "cursor", "aria-label": tr("Time"), step: "0.5", oninput: () => move(Number(slider.value)) });
  const now = element("p", { class: "now", "aria-live": "off" });
  const speeds = element("select", { "aria-label": tr("Speed"), onchange: () => { speed = Number(speeds.value); } }, ...SPEEDS.map((value) => element("option", { value, ...(value === speed ? { selected: "" } : {}) }, `${value} ×`)));
  const phaseList = element("ul", { class: "jumps", "aria-label": tr("Phases") });
  const findingList = element("ul", { class: "jumps", "aria-label": tr("Findings") });
  const said = element("p", { class: "finding-said", "aria-live": "polite" });
  const tools = element(
    "div",
    { class: "tools" },
    element("button", { type: "button", "aria-label": tr("Nearer"), onclick: () => map.zoom(1.4) }, "+"),
    element("button", { type: "button", "aria-label": tr("Farther"), onclick: () => map.zoom(1 / 1.4) }, "−"),
    element("button", { type: "button", onclick: () => map.whole() }, tr("Whole")),
  );
  const follow = element("input", { type: "checkbox", onchange: () => { map.follow = follow.checked; } });
  const ghost = element("input", { type: "checkbox", checked: "", onchange: () => showGhost(ghost.checked) });
  const coast = element("input", { type: "file", accept: ".geojson,.json", class: "unseen-file", onchange: () => addCoast() });
  const options = element(
    "div",
    { class: "options" },
    element("label", {}, follow, ` ${tr("keep the aircraft in sight")}`),
    several ? "" : element("label", {}, ghost, ` ${tr("flight without error")}`),
    element("label", { class: "file-label" }, coast, ` ${tr("coast from a GeoJSON")}`),
  );
  const attempts = flight.data.attempts.length > 1
    ? element("select", { "aria-label": tr("Attempt"), onchange: () => choose(Number(attempts.value)) }, ...flight.data.attempts.map((attempt, index) => element("option", { value: index, ...(index === flight.index ? { selected: "" } : {}) }, tr("Attempt {number}: {result}", { number: attempt.number, result: attempt.result_is }))))
    : "";

  root.replaceChildren(
    element("div", { class: several ? "stage two" : "stage" }, element("div", { class: "map-box" }, mapCanvas, tools), element("div", { class: "panels", role: "group", tabindex: "0", "aria-label": tr("What the pilot saw") }, ...panels)),
    element("div", { class: "bar" }, run, slider, speeds, attempts, now),
    element("div", { class: "jump-rows" }, phaseList, findingList, said),
    stripCanvas,
    options,
  );

  const map = new PlanView(mapCanvas, flights, { picked: (time) => move(time - flight.zero) });
  const strips = new Strips(stripCanvas, flights, { moved: (to) => move(to) });
  const drawn = panels.map((box, number) => new Panel(box, flights[number], number));

  const range = () => strips.range();
  const phases = () => flight.phases.map((phase) => ({ at: phase.start - flight.zero, text: phase.name }));
  const findings = () => flight.findings.map((finding) => ({ at: finding.at - flight.zero, text: finding.message, number: finding.number }));

  function fillJumps() {
    phaseList.replaceChildren(...phases().map((jump) => element("li", {}, element("button", { type: "button", class: "plain", onclick: () => move(jump.at) }, jump.text))));
    findingList.replaceChildren(
      ...findings().map((jump) => element("li", {}, element("button", { type: "button", class: "ring", id: `jump-${jump.number}`, "aria-label": tr("Finding {number}: {text}", { number: jump.number, text: jump.text }), title: jump.text, onclick: () => show(jump) }, String(jump.number)))),
    );
    const [from, to] = range();
    slider.min = String(from);
    slider.max = String(to);
  }

  function show(jump) {
    move(jump.at);
    said.textContent = `${jump.number}: ${jump.text}`;
  }

  function choose(index) {
    flight.choose(index);
    map.whole();
    strips.stale = true;
    fillJumps();
    said.textContent = "";
    move(range()[0]);
  }

  function showGhost(on) {
    map.ghostShown = on;
    strips.ghostShown = on;
    map.stale = true;
    strips.stale = true;
  }

  async function addCoast() {
    const [file] = coast.files;
    if (!file) return;
    try {
      if (file.size > 20e6) throw new Error();
      const count = map.addCoast(JSON.parse(await file.text()));
      said.textContent = count ? tr("{count} lines from {file}.", { count, file: file.name }) : tr("{file} has no line near the station.", { file: file.name });
    } catch {
      said.textContent = tr("{file} is not a GeoJSON of 20 MB at most.", { file: file.name });
    }
  }

  function move(to) {
    const [from, end] = range();
    tau = Math.min(Math.max(to, from), end);
    frame();
  }

  function toggle() {
    running = !running;
    if (running && tau >= range()[1]) tau = range()[0];
    run.textContent = running ? tr("Hold") : tr("Run");
    last = 0;
    if (running) requestAnimationFrame(tick);
    else describe();
  }

  function tick(time) {
    if (!running) return;
    if (last) tau += ((time - last) / 1000) * speed;
    last = time;
    const [, end] = range();
    if (tau >= end) {
      tau = end;
      toggle();
    }
    frame();
    if (running) requestAnimationFrame(tick);
  }

  function frame() {
    map.draw(tau);
    strips.draw(tau);
    for (const entry of drawn) entry.draw(tau);
    slider.value = String(tau);
    const phase = flight.phaseAt(tau + flight.zero);
    const text = `${elapsed(tau)} · ${flight.clock(tau + flight.zero)} UTC · ${phase ? phase.name : tr("outside the approach")}`;
    if (now.textContent !== text) now.textContent = text;
    frames += 1;
    root.dataset.frames = String(frames);
    root.dataset.at = tau.toFixed(2);
    if (!running) describe();
  }

  // What the slider says to whoever hears it.
  function describe() {
    const moment = flight.at(tau + flight.zero);
    const phase = flight.phaseAt(tau + flight.zero);
    const parts = [tr("{time} from the station passage", { time: elapsed(tau) }), phase ? phase.name : tr("outside the approach")];
    if (!moment) parts.push(tr("not observed"));
    else {
      if (moment.altitude !== null) parts.push(tr("{feet} feet", { feet: grouped(moment.altitude) }));
      if (moment.dme !== null) parts.push(`${moment.dme.toFixed(1)} DME`);
      if (moment.needle !== null) parts.push(offWords(moment.needle, flight.data.procedure.ndb ? BY_POINTER : BY_NEEDLE));
      const direction = moment.heading ?? moment.track;
      if (direction !== null) parts.push(moment.heading === null ? tr("track {direction}", { direction: threeFigures(direction) }) : tr("heading {direction}", { direction: threeFigures(direction) }));
    }
    slider.setAttribute("aria-valuetext", parts.join(", "));
  }

  function jump(list, direction) {
    const sorted = [...list].sort((a, b) => a.at - b.at);
    const next = direction > 0 ? sorted.find((entry) => entry.at > tau + 0.6) : sorted.reverse().find((entry) => entry.at < tau - 0.6);
    if (!next) return;
    if (next.number) show(next);
    else move(next.at);
  }

  function faster(direction) {
    const index = Math.min(Math.max(SPEEDS.indexOf(speed) + direction, 0), SPEEDS.length - 1);
    speed = SPEEDS[index];
    speeds.value = String(speed);
  }

  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const { target } = event;
    if (target instanceof HTMLSelectElement || (target instanceof HTMLInputElement && target !== slider)) return;
    if (event.key === " " && target instanceof HTMLButtonElement) return;
    const keys = {
      " ": () => toggle(),
      ArrowLeft: () => move(tau - (event.shiftKey ? 10 : 1)),
      ArrowRight: () => move(tau + (event.shiftKey ? 10 : 1)),
      ArrowUp: () => faster(1),
      ArrowDown: () => faster(-1),
      "[": () => jump(phases(), -1),
      "]": () => jump(phases(), 1),
      ",": () => jump(findings(), -1),
      ".": () => jump(findings(), 1),
      "+": () => { map.zoom(1.4); frame(); },
      "-": () => { map.zoom(1 / 1.4); frame(); },
      "−": () => { map.zoom(1 / 1.4); frame(); },
      0: () => { map.whole(); frame(); },
      Home: () => move(range()[0]),
      End: () => move(range()[1]),
    };
    const act = keys[event.key];
    if (!act) return;
    event.preventDefault();
    act();
  });

  // Whatever changes the view while nothing runs: one frame each time.
  const still = () => {
    if (!running && (map.stale || strips.stale)) frame();
    requestAnimationFrame(still);
  };
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => {
    map.stale = true;
    strips.stale = true;
  });

  fillJumps();
  move(range()[0]);
  const [, wantedAttempt, wantedNumber] = location.hash.match(/^#finding-(\d+)-(\d+)$/) || [];
  if (wantedAttempt) {
    const index = flight.data.attempts.findIndex((attempt) => attempt.number === Number(wantedAttempt));
    if (index >= 0 && index !== flight.index) {
      choose(index);
      if (attempts) attempts.value = String(index);
    }
    const wanted = findings().find((entry) => entry.number === Number(wantedNumber));
    if (wanted) show(wanted);
  }
  requestAnimationFrame(still);
  root.dataset.ready = "yes";
}

const BY_NEEDLE = {
  on: tr("needle in the middle"),
  far: [tr("needle full scale left"), tr("needle full scale right")],
  off: [tr("needle {degrees} degrees left"), tr("needle {degrees} degrees right")],
};
// By an NDB there is no needle with a middle and stops: where the course lies, seen from the aircraft.
const BY_POINTER = {
  on: tr("on the course"),
  far: [tr("course 10 or more degrees left"), tr("course 10 or more degrees right")],
  off: [tr("course {degrees} degrees left"), tr("course {degrees} degrees right")],
};

function offWords(off, words) {
  const size = Math.abs(off);
  const side = off > 0 ? 0 : 1;
  if (size < 0.05) return words.on;
  return size >= 0.99 ? words.far[side] : words.off[side].replace("{degrees}", Math.round(size * 10));
}

try {
  const data = await load(root.dataset.flight);
  const other = root.dataset.other ? await load(root.dataset.other) : null;
  start([data, other].filter(Boolean).map((entry) => new Flight(entry)));
} catch (error) {
  root.replaceChildren(element("p", { class: "wrong", role: "alert" }, tr("The flight could not be loaded. Load the page again; the report has the same flight in pictures and words.")));
  throw error;
}
