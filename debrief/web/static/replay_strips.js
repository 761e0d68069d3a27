// The strips of the replay: altitude with its limits, needle, speeds, on one time axis; a click or a drag moves the cursor.
import { colours, elapsed, fitted, grouped, plate, scaleOf } from "./replay_data.js";
import { tr } from "./words.js";

const LEFT = 58;
const BAND = 22;
const AXIS = 20;
const GAP = 8;
const STRIPS = [
  { name: "altitude", title: tr("altitude, ft"), share: 2.2, read: (s, i) => s.altitude[i], least: 600, text: grouped },
  { name: "needle", title: tr("needle"), ofPointer: tr("course lies"), share: 1, read: (s, i) => (s.needle[i] === null ? null : -s.needle[i]), fixed: [-1.05, 1.05], marks: [-1, 0, 1], text: (v) => ({ "-1": tr("left"), 0: "0", 1: tr("right") })[v] },
  { name: "groundspeed", title: tr("over ground, kt"), share: 1, read: (s, i) => s.groundspeed[i], least: 40, text: grouped },
  { name: "vertical", title: tr("climb, ft/min"), share: 1, read: (s, i) => s.vertical[i], least: 800, text: grouped },
];
const TIME_STEPS = [15, 30, 60, 120, 300, 600, 1200, 1800, 3600];

export class Strips {
  constructor(canvas, flights, { moved }) {
    this.canvas = canvas;
    this.flights = flights;
    this.layer = document.createElement("canvas");
    this.ghostShown = true;
    this.stale = true;
    fitted(canvas, () => {
      this.stale = true;
    });
    let dragging = false;
    const move = (event) => {
      const box = canvas.getBoundingClientRect();
      moved(this.tau(event.clientX - box.left));
    };
    canvas.addEventListener("pointerdown", (event) => {
      dragging = true;
      canvas.setPointerCapture(event.pointerId);
      move(event);
    });
    canvas.addEventListener("pointermove", (event) => {
      if (dragging) move(event);
    });
    for (const name of ["pointerup", "pointercancel"]) canvas.addEventListener(name, () => { dragging = false; });
  }

  range() {
    const starts = this.flights.map((flight) => flight.start - flight.zero);
    const ends = this.flights.map((flight) => flight.end - flight.zero);
    return [Math.min(...starts), Math.max(...ends)];
  }

  x(tau) {
    const [start, end] = this.range();
    return LEFT + ((tau - start) / Math.max(end - start, 1)) * (this.canvas.clientWidth - LEFT - 6);
  }

  tau(x) {
    const [start, end] = this.range();
    const share = (x - LEFT) / Math.max(this.canvas.clientWidth - LEFT - 6, 1);
    return start + Math.min(Math.max(share, 0), 1) * (end - start);
  }

  draw(tau) {
    if (this.stale) this.drawLayer();
    const pen = this.canvas.getContext("2d");
    const scale = scaleOf(this.canvas);
    pen.setTransform(1, 0, 0, 1, 0, 0);
    pen.drawImage(this.layer, 0, 0);
    pen.setTransform(scale, 0, 0, scale, 0, 0);
    pen.strokeStyle = this.ink.focus;
    pen.lineWidth = 2;
    const x = this.x(tau);
    pen.beginPath();
    pen.moveTo(x, 0);
    pen.lineTo(x, this.canvas.clientHeight - AXIS + 3);
    pen.stroke();
    for (const strip of this.boxes) {
      this.flights.forEach((flight, number) => {
        const time = tau + flight.zero;
        const moment = flight.at(time);
        if (!moment) return;
        const value = strip.read(flight.samples, flight.before(time));
        if (value === null) return;
        pen.fillStyle = number ? this.ink.other : this.ink.focus;
        pen.beginPath();
        pen.arc(x, strip.y(value), 4, 0, 2 * Math.PI);
        pen.fill();
      });
    }
  }

  drawLayer() {
    const { canvas, layer } = this;
    this.stale = false;
    this.ink = colours(canvas);
    layer.width = canvas.width;
    layer.height = canvas.height;
    const scale = scaleOf(canvas);
    const pen = layer.getContext("2d");
    pen.setTransform(scale, 0, 0, scale, 0, 0);
    pen.fillStyle = this.ink.sheet;
    pen.fillRect(0, 0, canvas.clientWidth, canvas.clientHeight);
    pen.font = "11px system-ui, sans-serif";
    const shares = STRIPS.reduce((sum, strip) => sum + strip.share, 0);
    const room = canvas.clientHeight - BAND - AXIS - GAP * STRIPS.length;
    let top = BAND + GAP;
    this.boxes = STRIPS.map((strip) => {
      const tall = (room * strip.share) / shares;
      const [low, high] = strip.fixed || this.reach(strip);
      const title = (this.flights[0].data.procedure.ndb && strip.ofPointer) || strip.title;
      const box = { ...strip, title, top, bottom: top + tall, low, high };
      box.y = (value) => box.bottom - ((Math.min(Math.max(value, low), high) - low) / (high - low)) * tall;
      top += tall + GAP;
      return box;
    });
    this.bands(pen);
    this.times(pen);
    this.boxes.forEach((box) => this.strip(pen, box));
  }

  reach(strip) {
    let [low, high] = [Infinity, -Infinity];
    for (const flight of this.flights) {
      for (let i = flight.before(flight.start); i <= flight.before(flight.end); i += 1) {
        const value = strip.read(flight.samples, i);
        if (value === null) continue;
        low = Math.min(low, value);
        high = Math.max(high, value);
      }
      if (strip.name === "altitude" && flight.attempt) {
        for (const limit of flight.attempt.limits) {
          low = Math.min(low, limit.ft);
          high = Math.max(high, limit.ft);
        }
      }
    }
    if (low > high) return [0, strip.least];
    const short = Math.max(strip.least - (high - low), 0) / 2;
    const air = (high - low + 2 * short) * 0.08;
    return [low - short - air, high + short + air];
  }

  bands(pen) {
    const [flight] = this.flights;
    pen.textAlign = "left";
    for (const phase of flight.phases) {
      const [left, right] = [this.x(phase.start - flight.zero), this.x(phase.end - flight.zero)];
      pen.fillStyle = this.ink.phase[phase.phase];
      pen.fillRect(left, BAND - 4, Math.max(right - left - 1, 1), 4);
      pen.fillStyle = this.ink.ink;
      const name = phase.phase === "station_passage" ? flight.data.procedure.ident : phase.name;
      if (pen.measureText(name).width < right - left - 4) pen.fillText(name, left + 2, BAND - 8);
    }
  }

  times(pen) {
    const [start, end] = this.range();
    const most = Math.max(Math.floor(this.canvas.clientWidth / 75), 2);
    const step = TIME_STEPS.find((seconds) => (end - start) / seconds <= most) || 3600;
    pen.strokeStyle = this.ink.wash;
    pen.fillStyle = this.ink.soft;
    pen.textAlign = "center";
    pen.lineWidth = 1;
    for (let tau = Math.ceil(start / step) * step; tau <= end; tau += step) {
      const x = this.x(tau);
      pen.beginPath();
      pen.moveTo(x, BAND);
      pen.lineTo(x, this.canvas.clientHeight - AXIS);
      pen.stroke();
      if (x > LEFT - 2) pen.fillText(elapsed(tau), x, this.canvas.clientHeight - 6);
    }
  }

  strip(pen, box) {
    const right = this.canvas.clientWidth - 6;
    pen.strokeStyle = this.ink.rule;
    pen.lineWidth = 1;
    pen.strokeRect(LEFT, box.top, right - LEFT, box.bottom - box.top);
    pen.fillStyle = this.ink.soft;
    pen.textAlign = "right";
    const values = box.marks || rounds(box.low, box.high, box.share > 2 ? 6 : 3);
    for (const value of values) {
      pen.strokeStyle = this.ink.wash;
      pen.beginPath();
      pen.moveTo(LEFT, box.y(value));
      pen.lineTo(right, box.y(value));
      pen.stroke();
      pen.fillText(box.text(value), LEFT - 4, box.y(value) + 4);
    }
    if (box.name === "altitude") this.limits(pen, box);
    this.flights.forEach((flight, number) => this.line(pen, box, flight, number));
    pen.textAlign = "left";
    pen.fillStyle = this.ink.soft;
    plate(pen, this.ink, box.title, LEFT + 4, box.top + 13);
  }

  limits(pen, box) {
    const [flight] = this.flights;
    pen.strokeStyle = this.ink.ink;
    for (const limit of flight.attempt ? flight.attempt.limits : []) {
      const [left, right] = [this.x(limit.start - flight.zero), this.x(limit.end - flight.zero)];
      const y = box.y(limit.ft);
      pen.lineWidth = 1.2;
      pen.beginPath();
      pen.moveTo(left, y);
      pen.lineTo(right, y);
      pen.stroke();
      pen.lineWidth = 0.6;
      pen.beginPath();
      for (let x = left + 5; x < right; x += 6) {
        pen.moveTo(x, y);
        pen.lineTo(x - 5, y + (limit.below ? 5 : -5));
      }
      pen.stroke();
    }
    const ghost = this.ghostShown && this.flights.length === 1 && flight.attempt && flight.attempt.errorless;
    if (!ghost) return;
    pen.strokeStyle = this.ink.ghost;
    pen.lineWidth = 1.4;
    pen.setLineDash([3, 4]);
    pen.beginPath();
    ghost.t.forEach((tau, i) => {
      if (ghost.altitude[i] !== null && this.x(tau) > LEFT) pen.lineTo(this.x(tau), box.y(ghost.altitude[i]));
    });
    pen.stroke();
    pen.setLineDash([]);
  }

  line(pen, box, flight, number) {
    const { samples } = flight;
    const pieces = flight.phases.length && !number ? flight.phases : [{ start: flight.start, end: flight.end, phase: null }];
    for (const piece of pieces) {
      pen.strokeStyle = number ? this.ink.other : piece.phase ? this.ink.phase[piece.phase] : this.ink.ink;
      pen.lineWidth = number ? 1.4 : 1.8;
      pen.beginPath();
      let drawing = false;
      for (let i = flight.before(piece.start); i <= flight.before(piece.end); i += 1) {
        const value = box.read(samples, i);
        const cut = i > 0 && flight.inGap((samples.t[i] + samples.t[i - 1]) / 2);
        if (value === null || samples.t[i] < flight.start - 1) {
          drawing = false;
          continue;
        }
        const [x, y] = [this.x(samples.t[i] - flight.zero), box.y(value)];
        if (drawing && !cut) pen.lineTo(x, y);
        else pen.moveTo(x, y);
        drawing = true;
      }
      pen.stroke();
    }
  }
}

function rounds(low, high, most) {
  for (const step of [10, 20, 50, 100, 200, 500, 1000, 2000, 5000]) {
    const first = Math.ceil(low / step);
    const last = Math.floor(high / step);
    if (last - first + 1 <= most) return Array.from({ length: Math.max(last - first + 1, 0) }, (_, k) => (first + k) * step);
  }
  return [];
}
