// What the pilot saw at the cursor: needle, distance, altitude against its limit, heading; in figures and drawn.
import { colours, fitted, grouped, scaleOf, threeFigures } from "./replay_data.js";
import { tr } from "./words.js";

const DOTS = 5; // on each side of the middle, two degrees apart

export class Panel {
  constructor(root, flight, number) {
    this.flight = flight;
    this.number = number;
    this.canvas = root.querySelector("canvas");
    this.cells = Object.fromEntries([...root.querySelectorAll("[data-reads]")].map((cell) => [cell.dataset.reads, cell]));
    fitted(this.canvas, () => {});
  }

  draw(tau) {
    const moment = this.flight.at(tau + this.flight.zero);
    const put = (name, text) => {
      const cell = this.cells[name];
      if (cell && cell.textContent !== text) cell.textContent = text;
    };
    const known = (value, text) => (moment && value !== null && value !== undefined ? text(value) : "–");
    put("altitude", known(moment?.altitude, grouped));
    put("dme", known(moment?.dme, (value) => value.toFixed(1)));
    put("groundspeed", known(moment?.groundspeed, grouped));
    put("vertical", known(moment?.vertical, (value) => grouped(Math.round(value / 10) * 10)));
    put("direction", known(moment?.heading ?? moment?.track, threeFigures));
    put("course", known(moment?.course, threeFigures));
    put("flag", moment ? this.flagWord(moment) : tr("not observed"));
    put("limit", moment ? limitWords(moment) : "");
    this.drawNeedle(moment);
  }

  flagWord(moment) {
    if (moment.cone) return tr("over the station");
    return { T: "TO", F: "FROM" }[moment.flag] || "";
  }

  drawNeedle(moment) {
    const { canvas } = this;
    const ink = colours(canvas);
    const scale = scaleOf(canvas);
    const pen = canvas.getContext("2d");
    pen.setTransform(scale, 0, 0, scale, 0, 0);
    const [wide, tall] = [canvas.clientWidth, canvas.clientHeight];
    pen.clearRect(0, 0, wide, tall);
    const ribbon = 40;
    this.ribbon(pen, ink, moment, wide, ribbon);
    if (this.flight.data.procedure.ndb) this.pointer(pen, ink, moment, wide, tall, ribbon);
    else this.scale(pen, ink, moment, wide, tall, ribbon);
  }

  // The heading as a ribbon that runs under a mark.
  ribbon(pen, ink, moment, wide, tall) {
    const direction = moment ? moment.heading ?? moment.track : null;
    pen.fillStyle = ink.wash;
    pen.fillRect(0, 0, wide, tall);
    if (direction !== null && direction !== undefined) {
      const perDegree = wide / 80;
      pen.strokeStyle = ink.soft;
      pen.fillStyle = ink.ink;
      pen.textAlign = "center";
      pen.font = "12px system-ui, sans-serif";
      for (let degree = Math.ceil((direction - 42) / 5) * 5; degree <= direction + 42; degree += 5) {
        const x = wide / 2 + (degree - direction) * perDegree;
        const ten = degree % 10 === 0;
        pen.beginPath();
        pen.moveTo(x, tall);
        pen.lineTo(x, tall - (ten ? 10 : 6));
        pen.stroke();
        if (degree % 30 === 0) pen.fillText(threeFigures(degree).slice(0, 3), x, tall - 15);
      }
      if (moment.course !== null) this.flagOn(pen, ink, moment, direction, perDegree, wide, tall);
    }
    pen.fillStyle = ink.focus;
    pen.beginPath();
    pen.moveTo(wide / 2, tall + 1);
    pen.lineTo(wide / 2 - 6, tall + 11);
    pen.lineTo(wide / 2 + 6, tall + 11);
    pen.fill();
  }

  // The course on the ribbon, as a standing bar, where it is in sight.
  flagOn(pen, ink, moment, direction, perDegree, wide, tall) {
    const away = ((moment.course - direction + 540) % 360) - 180;
    if (Math.abs(away) > 40) return;
    pen.fillStyle = ink.ink;
    pen.fillRect(wide / 2 + away * perDegree - 2, 2, 4, tall - 4);
  }

  // The needle on a scale of ten degrees to each side; the pilot flies towards it.
  scale(pen, ink, moment, wide, tall, top) {
    const middle = (top + 14 + tall) / 2;
    const reach = wide / 2 - 18;
    pen.strokeStyle = ink.soft;
    pen.fillStyle = ink.soft;
    pen.lineWidth = 1;
    for (let dot = -DOTS; dot <= DOTS; dot += 1) {
      const x = wide / 2 + (dot / DOTS) * reach;
      const high = dot === 0 ? 16 : Math.abs(dot) === DOTS ? 11 : 5;
      pen.beginPath();
      pen.moveTo(x, middle - high);
      pen.lineTo(x, middle + high);
      pen.stroke();
    }
    pen.beginPath();
    pen.moveTo(wide / 2 - reach, middle);
    pen.lineTo(wide / 2 + reach, middle);
    pen.stroke();
    if (!moment || moment.needle === null || moment.cone) {
      pen.textAlign = "center";
      pen.font = "13px system-ui, sans-serif";
      pen.fillStyle = ink.sheet;
      pen.fillRect(wide / 2 - 70, middle - 10, 140, 20);
      pen.fillStyle = ink.ink;
      pen.fillText(!moment ? tr("not observed") : moment.cone ? tr("means nothing here") : tr("no course published"), wide / 2, middle + 4);
      return;
    }
    const x = wide / 2 - moment.needle * reach;
    pen.fillStyle = this.number ? ink.other : ink.focus;
    pen.fillRect(x - 3, top + 16, 6, tall - top - 18);
  }

  // An NDB: the arrow points to the station, the nose is up.
  pointer(pen, ink, moment, wide, tall, top) {
    const radius = (tall - top - 22) / 2;
    const [x, y] = [wide / 2, top + 16 + radius];
    pen.strokeStyle = ink.soft;
    pen.lineWidth = 1.2;
    pen.beginPath();
    pen.arc(x, y, radius, 0, 2 * Math.PI);
    pen.stroke();
    const direction = moment ? moment.heading ?? moment.track : null;
    if (!moment || direction === null || moment.cone) return;
    const bearing = (Math.atan2(-moment.east, -moment.north) * 180) / Math.PI - this.flight.data.procedure.declination;
    const arm = (degrees, width, colour, dashes) => {
      const angle = ((degrees - direction) * Math.PI) / 180;
      pen.strokeStyle = colour;
      pen.lineWidth = width;
      pen.setLineDash(dashes);
      pen.beginPath();
      pen.moveTo(x - radius * 0.85 * Math.sin(angle), y + radius * 0.85 * Math.cos(angle));
      pen.lineTo(x + radius * 0.85 * Math.sin(angle), y - radius * 0.85 * Math.cos(angle));
      pen.stroke();
      pen.setLineDash([]);
      pen.beginPath();
      pen.arc(x + radius * 0.85 * Math.sin(angle), y - radius * 0.85 * Math.cos(angle), width * 1.6, 0, 2 * Math.PI);
      pen.fillStyle = colour;
      pen.fill();
    };
    if (moment.course !== null) arm(moment.course, 1.5, ink.soft, [4, 4]);
    arm(bearing, 3, this.number ? ink.other : ink.focus, []);
  }
}

function limitWords(moment) {
  if (moment.altitude === null) return "";
  return moment.limits
    .map((limit) => {
      const over = moment.altitude - limit.ft;
      const told = { limit: grouped(limit.ft), over: grouped(Math.abs(over)) };
      if (limit.below) return over >= 0 ? tr("not below {limit}: {over} above", told) : tr("not below {limit}: {over} below", told);
      return over >= 0 ? tr("not above {limit}: {over} above", told) : tr("not above {limit}: {over} below", told);
    })
    .join("; ");
}
