// The plan view of the replay: north up, drawn once per view on a layer of its own; each frame adds only the aircraft.
import { colours, fitted, plate, scaleOf, threeFigures } from "./replay_data.js";
import { tr } from "./words.js";

const PADDING = 0.1;
const LEAST_NM = 1.5;
const MOST_NM = 300;
const RING_STEPS = [0.5, 1, 2, 5, 10, 20, 50];

export class PlanView {
  constructor(canvas, flights, { picked }) {
    this.canvas = canvas;
    this.flights = flights;
    this.picked = picked;
    this.layer = document.createElement("canvas");
    this.coast = [];
    this.ghostShown = true;
    this.follow = false;
    this.stale = true;
    this.pointers = new Map();
    this.listen();
    fitted(canvas, () => {
      if (!this.view) this.whole();
      this.stale = true;
    });
    this.whole();
  }

  // The view that holds the chosen attempts and the procedure.
  whole() {
    const east = [0];
    const north = [0];
    for (const flight of this.flights) {
      const { samples } = flight;
      const first = flight.before(flight.start);
      const last = flight.before(flight.end);
      for (let i = first; i <= last; i += 1) {
        const far = Math.hypot(samples.east[i], samples.north[i]);
        const inbound = flight.phaseAt(samples.t[i]);
        if (inbound && inbound.phase === "inbound" && far > 4) continue;
        east.push(samples.east[i]);
        north.push(samples.north[i]);
      }
    }
    for (const line of this.flights[0].data.procedure.lines) {
      east.push(...line.east);
      north.push(...line.north);
    }
    const bounds = (values) => values.reduce(([low, high], value) => [Math.min(low, value), Math.max(high, value)], [Infinity, -Infinity]);
    const [west, farEast] = bounds(east);
    const [south, farNorth] = bounds(north);
    const wide = Math.max(farEast - west, LEAST_NM) * (1 + 2 * PADDING);
    const tall = Math.max(farNorth - south, LEAST_NM) * (1 + 2 * PADDING);
    const width = Math.max(this.canvas.clientWidth, 1);
    const height = Math.max(this.canvas.clientHeight, 1);
    this.view = { east: (west + farEast) / 2, north: (south + farNorth) / 2, perNm: Math.min(width / wide, height / tall) };
    this.stale = true;
  }

  x(east) {
    return this.canvas.clientWidth / 2 + (east - this.view.east) * this.view.perNm;
  }

  y(north) {
    return this.canvas.clientHeight / 2 - (north - this.view.north) * this.view.perNm;
  }

  zoom(factor, atX = this.canvas.clientWidth / 2, atY = this.canvas.clientHeight / 2) {
    const { view, canvas } = this;
    const east = view.east + (atX - canvas.clientWidth / 2) / view.perNm;
    const north = view.north - (atY - canvas.clientHeight / 2) / view.perNm;
    const least = Math.min(canvas.clientWidth, canvas.clientHeight) / MOST_NM;
    view.perNm = Math.min(Math.max(view.perNm * factor, least), 4000);
    view.east = east - (atX - canvas.clientWidth / 2) / view.perNm;
    view.north = north + (atY - canvas.clientHeight / 2) / view.perNm;
    this.stale = true;
  }

  pan(dx, dy) {
    this.view.east -= dx / this.view.perNm;
    this.view.north += dy / this.view.perNm;
    this.follow = false;
    this.stale = true;
  }

  listen() {
    const { canvas } = this;
    const place = (event) => {
      const box = canvas.getBoundingClientRect();
      return [event.clientX - box.left, event.clientY - box.top];
    };
    canvas.addEventListener("wheel", (event) => {
      event.preventDefault();
      this.zoom(Math.exp(-event.deltaY * 0.0015), ...place(event));
    }, { passive: false });
    let moved = 0;
    canvas.addEventListener("pointerdown", (event) => {
      canvas.setPointerCapture(event.pointerId);
      this.pointers.set(event.pointerId, place(event));
      if (this.pointers.size === 1) moved = 0;
    });
    canvas.addEventListener("pointermove", (event) => {
      const before = this.pointers.get(event.pointerId);
      if (!before) return;
      const now = place(event);
      if (this.pointers.size === 1) {
        moved += Math.hypot(now[0] - before[0], now[1] - before[1]);
        if (moved > 4) this.pan(now[0] - before[0], now[1] - before[1]);
      } else {
        const other = [...this.pointers].find(([id]) => id !== event.pointerId)[1];
        const far = (point) => Math.max(Math.hypot(point[0] - other[0], point[1] - other[1]), 1);
        this.zoom(far(now) / far(before), (now[0] + other[0]) / 2, (now[1] + other[1]) / 2);
        moved = 99;
      }
      this.pointers.set(event.pointerId, now);
    });
    for (const name of ["pointerup", "pointercancel"]) {
      canvas.addEventListener(name, (event) => {
        if (name === "pointerup" && this.pointers.size === 1 && moved <= 4) this.pick(...place(event));
        this.pointers.delete(event.pointerId);
      });
    }
    canvas.addEventListener("keydown", (event) => {
      const step = { ArrowLeft: [40, 0], ArrowRight: [-40, 0], ArrowUp: [0, 40], ArrowDown: [0, -40] }[event.key];
      if (!step) return;
      event.preventDefault();
      event.stopPropagation();
      this.pan(...step);
    });
  }

  // The time of the chosen attempt's sample nearest to a place on the map.
  pick(x, y) {
    const [flight] = this.flights;
    let best = 30;
    let time = null;
    for (let i = flight.before(flight.start); i <= flight.before(flight.end); i += 1) {
      const far = Math.hypot(this.x(flight.samples.east[i]) - x, this.y(flight.samples.north[i]) - y);
      if (far < best) [best, time] = [far, flight.samples.t[i]];
    }
    if (time !== null) this.picked(time);
  }

  draw(tau) {
    const { canvas } = this;
    const moments = this.flights.map((flight) => flight.at(tau + flight.zero));
    if (this.follow && moments[0]) {
      const away = Math.max(Math.abs(this.x(moments[0].east) / canvas.clientWidth - 0.5), Math.abs(this.y(moments[0].north) / canvas.clientHeight - 0.5));
      if (away > 0.35) {
        this.view.east = moments[0].east;
        this.view.north = moments[0].north;
        this.stale = true;
      }
    }
    if (this.stale) this.drawLayer();
    const scale = scaleOf(canvas);
    const pen = canvas.getContext("2d");
    pen.setTransform(1, 0, 0, 1, 0, 0);
    pen.drawImage(this.layer, 0, 0);
    pen.setTransform(scale, 0, 0, scale, 0, 0);
    const ghost = this.ghostShown && this.flights.length === 1 ? this.flights[0].ghostAt(tau) : null;
    if (ghost) {
      pen.strokeStyle = this.ink.ghost;
      pen.lineWidth = 2.5;
      pen.beginPath();
      pen.arc(this.x(ghost.east), this.y(ghost.north), 7, 0, 2 * Math.PI);
      pen.stroke();
    }
    moments.forEach((moment, number) => {
      if (moment) this.aircraft(pen, moment, this.flights[number], number);
    });
  }

  aircraft(pen, moment, flight, number) {
    const true_ = ((moment.heading ?? moment.track ?? 0) + flight.data.procedure.declination) * (Math.PI / 180);
    pen.save();
    pen.translate(this.x(moment.east), this.y(moment.north));
    pen.rotate(true_);
    pen.fillStyle = number ? this.ink.other : this.ink.focus;
    pen.strokeStyle = this.ink.sheet;
    pen.lineWidth = 2;
    pen.beginPath();
    pen.moveTo(0, -13);
    pen.lineTo(9, 10);
    pen.lineTo(0, 5);
    pen.lineTo(-9, 10);
    pen.closePath();
    pen.stroke();
    pen.fill();
    pen.restore();
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
    pen.lineJoin = "round";
    pen.font = "12px system-ui, sans-serif";
    this.drawCoast(pen);
    this.drawRings(pen);
    this.drawRadials(pen);
    this.drawProcedure(pen);
    this.flights.forEach((flight, number) => this.drawTrack(pen, flight, number));
    this.drawFindings(pen);
    this.drawStation(pen);
    this.drawScale(pen);
  }

  path(pen, east, north) {
    pen.beginPath();
    for (let i = 0; i < east.length; i += 1) pen.lineTo(this.x(east[i]), this.y(north[i]));
  }

  drawCoast(pen) {
    pen.strokeStyle = this.ink.land;
    pen.lineWidth = 1.2;
    for (const { east, north } of this.coast) {
      this.path(pen, east, north);
      pen.stroke();
    }
  }

  drawRings(pen) {
    const far = Math.hypot(this.canvas.clientWidth, this.canvas.clientHeight) / this.view.perNm / 2 + Math.hypot(this.view.east, this.view.north);
    const step = RING_STEPS.find((nm) => nm * this.view.perNm >= 55) || 50;
    pen.strokeStyle = this.ink.rule;
    pen.fillStyle = this.ink.soft;
    pen.lineWidth = 1;
    pen.setLineDash([1, 4]);
    pen.textAlign = "center";
    for (let nm = step; nm < Math.min(far, 60 * step); nm += step) {
      pen.beginPath();
      pen.arc(this.x(0), this.y(0), nm * this.view.perNm, 0, 2 * Math.PI);
      pen.stroke();
      plate(pen, this.ink, `${nm} NM`, this.x(0), this.y(nm) + 4);
    }
    pen.setLineDash([]);
  }

  drawRadials(pen) {
    pen.strokeStyle = this.ink.soft;
    pen.fillStyle = this.ink.soft;
    pen.lineWidth = 0.8;
    pen.setLineDash([9, 4, 2, 4]);
    const inner = Math.min(this.canvas.clientWidth, this.canvas.clientHeight) / 2 - 24;
    const drawn = new Set();
    for (const radial of this.flights[0].data.procedure.radials) {
      if (drawn.has(Math.round(radial.deg))) continue;
      drawn.add(Math.round(radial.deg));
      const angle = radial.true * (Math.PI / 180);
      pen.beginPath();
      pen.moveTo(this.x(0), this.y(0));
      pen.lineTo(this.x(60 * Math.sin(angle)), this.y(60 * Math.cos(angle)));
      pen.stroke();
      const far = Math.min(inner / this.view.perNm, 40);
      pen.textAlign = "left";
      plate(pen, this.ink, threeFigures(radial.deg), this.x(far * Math.sin(angle)) + 14, this.y(far * Math.cos(angle)));
    }
    pen.setLineDash([]);
  }

  drawProcedure(pen) {
    const { procedure } = this.flights[0].data;
    for (const line of procedure.lines) {
      const runway = line.name === "runway";
      pen.strokeStyle = runway ? this.ink.ink : this.ink.nominal;
      pen.lineWidth = runway ? 5 : 7;
      pen.setLineDash(line.name === "visual_segment" ? [3, 8] : []);
      this.path(pen, line.east, line.north);
      pen.stroke();
    }
    pen.setLineDash([]);
    const ghost = this.ghostShown && this.flights.length === 1 && this.flights[0].attempt && this.flights[0].attempt.errorless;
    if (ghost) {
      pen.strokeStyle = this.ink.ghost;
      pen.lineWidth = 1.6;
      pen.setLineDash([3, 4]);
      this.path(pen, ghost.east, ghost.north);
      pen.stroke();
      pen.setLineDash([]);
    }
  }

  drawTrack(pen, flight, number) {
    const { samples } = flight;
    const piece = (start, end, colour, width, dashes) => {
      pen.strokeStyle = colour;
      pen.lineWidth = width;
      pen.setLineDash(dashes);
      pen.beginPath();
      let drawing = false;
      for (let i = Math.max(flight.before(start), 0); i <= flight.before(end); i += 1) {
        const cut = i > 0 && flight.inGap((samples.t[i] + samples.t[i - 1]) / 2);
        if (!drawing || cut) pen.moveTo(this.x(samples.east[i]), this.y(samples.north[i]));
        else pen.lineTo(this.x(samples.east[i]), this.y(samples.north[i]));
        drawing = true;
      }
      pen.stroke();
      pen.setLineDash([]);
    };
    piece(samples.t[0], samples.t[flight.count - 1], this.ink.rule, 1, []);
    if (!flight.attempt) piece(samples.t[0], samples.t[flight.count - 1], this.ink.ink, 1.6, []);
    for (const phase of flight.phases) {
      const look = flight.data.looks[phase.phase];
      const dashes = number ? [] : look.dashes.map((dash) => dash * look.width * 1.3);
      piece(phase.start, phase.end, number ? this.ink.other : this.ink.phase[phase.phase], number ? 2 : look.width * 1.35, dashes);
    }
  }

  drawFindings(pen) {
    const [flight] = this.flights;
    pen.font = "bold 12px system-ui, sans-serif";
    pen.textAlign = "center";
    pen.textBaseline = "middle";
    const taken = [];
    for (const finding of flight.findings) {
      const moment = flight.at(finding.at);
      if (!moment) continue;
      let x = this.x(moment.east) + 16;
      const y = this.y(moment.north) - 12;
      while (taken.some((place) => Math.hypot(place[0] - x, place[1] - y) < 22)) x += 23;
      taken.push([x, y]);
      pen.fillStyle = this.ink.sheet;
      pen.strokeStyle = this.ink.ink;
      pen.lineWidth = 1.3;
      pen.beginPath();
      pen.arc(x, y, 10, 0, 2 * Math.PI);
      pen.fill();
      pen.stroke();
      pen.fillStyle = this.ink.ink;
      pen.fillText(String(finding.number), x, y + 0.5);
    }
    pen.textBaseline = "alphabetic";
    pen.font = "12px system-ui, sans-serif";
  }

  drawStation(pen) {
    const { procedure } = this.flights[0].data;
    const [x, y] = [this.x(0), this.y(0)];
    pen.strokeStyle = this.ink.ink;
    pen.fillStyle = this.ink.sheet;
    pen.lineWidth = 1.8;
    pen.beginPath();
    const corners = procedure.ndb ? 24 : 6;
    for (let i = 0; i <= corners; i += 1) {
      const angle = (i / corners) * 2 * Math.PI;
      pen.lineTo(x + 8 * Math.cos(angle), y + 8 * Math.sin(angle));
    }
    pen.fill();
    pen.stroke();
    pen.fillStyle = this.ink.ink;
    pen.beginPath();
    pen.arc(x, y, 2, 0, 2 * Math.PI);
    pen.fill();
    pen.font = "bold 13px system-ui, sans-serif";
    pen.textAlign = "left";
    plate(pen, this.ink, procedure.ident, x + 13, y + 16);
    for (const mark of procedure.marks) {
      if (mark.name === "station" || mark.name === "threshold") continue;
      pen.font = "11px system-ui, sans-serif";
      const [markX, markY] = [this.x(mark.east), this.y(mark.north)];
      pen.beginPath();
      pen.moveTo(markX - 5, markY - 5);
      pen.lineTo(markX + 5, markY + 5);
      pen.moveTo(markX + 5, markY - 5);
      pen.lineTo(markX - 5, markY + 5);
      pen.stroke();
      const name = mark.name === "step_down" ? mark.until : tr("missed approach point");
      plate(pen, this.ink, name, markX + 11, markY + 15);
    }
  }

  drawScale(pen) {
    const nm = RING_STEPS.filter((step) => step * this.view.perNm <= 120).pop() || RING_STEPS[0];
    const [left, bottom] = [14, this.canvas.clientHeight - 14];
    pen.strokeStyle = this.ink.ink;
    pen.fillStyle = this.ink.ink;
    pen.lineWidth = 1.5;
    pen.beginPath();
    pen.moveTo(left, bottom - 4);
    pen.lineTo(left, bottom);
    pen.lineTo(left + nm * this.view.perNm, bottom);
    pen.lineTo(left + nm * this.view.perNm, bottom - 4);
    pen.stroke();
    pen.textAlign = "left";
    pen.font = "12px system-ui, sans-serif";
    pen.fillText(tr("{nm} NM, north up", { nm }), left + 4, bottom - 7);
  }

  // Lines of a GeoJSON that the user chose. A sphere is near enough for a coast in the background.
  addCoast(geojson) {
    const { latitude, longitude } = this.flights[0].data.procedure;
    const radians = Math.PI / 180;
    const place = ([lon, lat]) => {
      const turn = (lon - longitude) * radians;
      const [here, there] = [latitude * radians, lat * radians];
      const x = Math.cos(there) * Math.sin(turn);
      const y = Math.cos(here) * Math.sin(there) - Math.sin(here) * Math.cos(there) * Math.cos(turn);
      const z = Math.sin(here) * Math.sin(there) + Math.cos(here) * Math.cos(there) * Math.cos(turn);
      const far = Math.atan2(Math.hypot(x, y), z) * (180 / Math.PI) * 60;
      const angle = Math.atan2(x, y);
      return [far * Math.sin(angle), far * Math.cos(angle)];
    };
    const lines = [];
    const line = (points) => {
      const placed = points.map(place).filter(([east, north]) => Number.isFinite(east) && Number.isFinite(north));
      if (placed.some(([east, north]) => Math.hypot(east, north) < MOST_NM)) lines.push({ east: placed.map((p) => p[0]), north: placed.map((p) => p[1]) });
    };
    const walk = (node) => {
      if (!node || typeof node !== "object") return;
      if (node.type === "LineString") line(node.coordinates);
      else if (node.type === "MultiLineString" || node.type === "Polygon") node.coordinates.forEach(line);
      else if (node.type === "MultiPolygon") node.coordinates.flat().forEach(line);
      else if (node.type === "Feature") walk(node.geometry);
      else (node.features || node.geometries || []).forEach(walk);
    };
    walk(geojson);
    this.coast = lines;
    this.stale = true;
    return lines.length;
  }
}
