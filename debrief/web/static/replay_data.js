// A flight as the replay asks for it: the moment at a time, never across a gap; times count from the first station passage.

export class Flight {
  constructor(data, attemptIndex) {
    this.data = data;
    this.samples = data.samples;
    this.count = data.samples.t.length;
    this.choose(attemptIndex ?? defaultAttempt(data));
  }

  choose(index) {
    this.index = index;
    this.attempt = index === null ? null : this.data.attempts[index];
    this.zero = this.attempt ? this.attempt.passage : this.samples.t[0];
    this.start = this.attempt ? this.attempt.start : this.samples.t[0];
    this.end = this.attempt ? this.attempt.end : this.samples.t[this.count - 1];
    this.phases = this.attempt ? this.attempt.phases : [];
    this.findings = this.attempt ? this.attempt.findings.filter((finding) => finding.at !== null) : [];
  }

  // The index of the last sample at or before a time.
  before(time) {
    const t = this.samples.t;
    let low = 0;
    let high = this.count - 1;
    while (low < high) {
      const middle = (low + high + 1) >> 1;
      if (t[middle] <= time) low = middle;
      else high = middle - 1;
    }
    return low;
  }

  inGap(time) {
    return this.data.gaps.some(([start, end]) => time > start && time < end);
  }

  // Everything at a time; null where nothing was observed.
  at(time) {
    const { t } = this.samples;
    if (!this.count || time < t[0] - 0.01 || time > t[this.count - 1] + 0.01 || this.inGap(time)) return null;
    const i = this.before(time);
    const j = Math.min(i + 1, this.count - 1);
    const share = j > i && t[j] > t[i] ? Math.min(Math.max((time - t[i]) / (t[j] - t[i]), 0), 1) : 0;
    const between = (name) => mix(this.samples[name][i], this.samples[name][j], share);
    const angle = (name) => mixAngle(this.samples[name][i], this.samples[name][j], share);
    const near = share < 0.5 ? i : j;
    return {
      time,
      east: between("east"),
      north: between("north"),
      altitude: between("altitude"),
      groundspeed: between("groundspeed"),
      vertical: between("vertical"),
      track: angle("track"),
      heading: angle("heading"),
      dme: between("dme"),
      needle: this.samples.needle[near] === null ? null : between("needle"),
      course: this.samples.course[near],
      flag: this.samples.flag[near],
      cone: this.samples.cone[near] === 1,
      phase: this.phaseAt(time),
      limits: this.limitsAt(time),
    };
  }

  phaseAt(time) {
    return this.phases.findLast((phase) => time >= phase.start && time <= phase.end) || null;
  }

  limitsAt(time) {
    return this.attempt ? this.attempt.limits.filter((limit) => time >= limit.start && time < limit.end) : [];
  }

  // The errorless flight at a time counted from its own station passage.
  ghostAt(tau) {
    const ghost = this.attempt && this.attempt.errorless;
    if (!ghost || tau < ghost.t[0] || tau > ghost.t[ghost.t.length - 1]) return null;
    let i = 0;
    while (i < ghost.t.length - 2 && ghost.t[i + 1] <= tau) i += 1;
    const share = (tau - ghost.t[i]) / (ghost.t[i + 1] - ghost.t[i]);
    return {
      east: mix(ghost.east[i], ghost.east[i + 1], share),
      north: mix(ghost.north[i], ghost.north[i + 1], share),
      altitude: mix(ghost.altitude[i], ghost.altitude[i + 1], share),
    };
  }

  clock(time) {
    return new Date(Date.parse(this.data.begins) + time * 1000).toISOString().slice(11, 19);
  }
}

function defaultAttempt(data) {
  if (!data.attempts.length) return null;
  const failed = data.attempts.findIndex((attempt) => attempt.result === "unsatisfactory");
  return failed >= 0 ? failed : data.attempts.length - 1;
}

function mix(a, b, share) {
  if (a === null || a === undefined) return null;
  return b === null || b === undefined ? a : a + (b - a) * share;
}

function mixAngle(a, b, share) {
  if (a === null) return null;
  if (b === null) return ((a % 360) + 360) % 360;
  const turn = ((((b - a) % 360) + 540) % 360) - 180;
  return (((a + turn * share) % 360) + 360) % 360;
}

export function elapsed(seconds) {
  const whole = Math.round(Math.abs(seconds));
  const minutes = Math.floor(whole / 60);
  return `${seconds < 0 && whole ? "−" : ""}${minutes}:${String(whole % 60).padStart(2, "0")}`;
}

export function threeFigures(degrees) {
  const whole = ((Math.round(degrees) % 360) + 360) % 360;
  return `${String(whole || 360).padStart(3, "0")}°`;
}

export const grouped = (value) => (value < 0 ? "−" : "") + Math.abs(Math.round(value)).toLocaleString("en-GB");

// The page's own colours, so that light, dark and print are decided in one place.
export function colours(element) {
  const style = getComputedStyle(element);
  const read = (name) => style.getPropertyValue(name).trim();
  const phases = ["inbound", "station_passage", "outbound", "course_reversal", "intermediate", "final", "missed_approach", "landing"];
  return {
    ink: read("--ink"), soft: read("--soft"), rule: read("--rule"), sheet: read("--sheet"), wash: read("--wash"),
    bad: read("--bad"), doubt: read("--doubt"), focus: read("--focus"), ghost: read("--ghost"), other: read("--other"),
    land: read("--land"), nominal: read("--nominal"),
    phase: Object.fromEntries(phases.map((name) => [name, read(`--phase-${name.replace("_", "-")}`)])),
  };
}

// A canvas as large as its box, sharp on every screen; calls back when that changes.
export function fitted(canvas, changed) {
  const fit = () => {
    const box = canvas.getBoundingClientRect();
    const scale = Math.min(window.devicePixelRatio || 1, 2);
    const width = Math.max(Math.round(box.width * scale), 1);
    const height = Math.max(Math.round(box.height * scale), 1);
    if (canvas.width === width && canvas.height === height) return;
    canvas.width = width;
    canvas.height = height;
    changed();
  };
  new ResizeObserver(fit).observe(canvas);
  fit();
}

// A word that stays readable over lines.
export function plate(pen, ink, text, x, y) {
  const wide = pen.measureText(text).width;
  const left = pen.textAlign === "center" ? x - wide / 2 : x;
  pen.save();
  pen.globalAlpha = 0.82;
  pen.fillStyle = ink.sheet;
  pen.fillRect(left - 2, y - 11, wide + 4, 15);
  pen.restore();
  pen.fillText(text, x, y);
}

export const scaleOf = (canvas) => canvas.width / Math.max(canvas.clientWidth, 1);
