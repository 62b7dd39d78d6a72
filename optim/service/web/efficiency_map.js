/** Efficiency over speed and torque: coloured cells, contour lines with their percents, the cycle as dots. */

import { h, put, s } from "./elements.js";
import { frame } from "./charts.js";
import { extent, linear, mapColour } from "./scale.js";
import { numberText, percentText } from "./wording.js";

const W = 460;
const H = 340;
const PAD = { left: 52, right: 24, top: 10, bottom: 40 };
/** Unequal steps of efficiency get equal steps of colour: the last percents matter most. */
const LEVELS = [60, 70, 80, 85, 88, 90, 92, 93, 94, 95, 96, 97, 98];
/** Levels that get a line, and at which share of the largest torque its percent is written. */
const LINES = [
  [90, 0.85],
  [94, 0.66],
  [96, 0.47],
  [97, 0.3],
];

export function efficiencyMap({
  speed_rpm: speed,
  torque_nm: torque,
  efficiency_percent: efficiency,
  cycle,
  dc_voltage_v: voltage,
}) {
  const across = [0, speed.at(-1)];
  const up = extent(torque.flat(), 0.03) ?? [-1, 1];
  const toX = linear(across, [PAD.left, W - PAD.right]);
  const toY = linear(up, [H - PAD.bottom, PAD.top]);
  const canvas = h("canvas", { "aria-hidden": "true" });
  const reading = h("p", { class: "reading" });
  const picture = s(
    "svg",
    {
      class: "chart",
      viewBox: `0 0 ${W} ${H}`,
      role: "img",
      "aria-label": `Efficiency over speed and torque at ${voltage} V`,
    },
    frame(toX, toY, across, up, "Speed [r/min]", "Shaft torque [N·m]", { width: W, height: H }),
    s("path", { class: "envelope", d: envelope(speed, torque, toX, toY) }),
    LINES.map(([level, share]) => contour(level, toY(share * up[1]), speed, torque, efficiency, toX, toY)),
    cycleDots(cycle, toX, toY),
  );
  picture.addEventListener("pointermove", (event) => {
    const box = picture.getBoundingClientRect();
    read(
      toX.back(((event.clientX - box.left) * W) / box.width),
      toY.back(((event.clientY - box.top) * H) / box.height),
    );
  });
  function read(n, t) {
    const i = nearest(speed, n);
    const j = nearest(torque[i], t);
    const value = efficiency[i]?.[j];
    put(
      reading,
      `${numberText(speed[i])} r/min, ${numberText(torque[i][j])} N·m: `,
      h("b", {}, value === null ? "nothing useful comes out" : percentText(value, 2)),
    );
  }
  requestAnimationFrame(() => paint(canvas, speed, torque, efficiency, toX, toY));
  return h(
    "figure",
    { class: "map" },
    h(
      "figcaption",
      { class: "key" },
      legend(),
      h(
        "span",
        {},
        s(
          "svg",
          { viewBox: "0 0 10 10", width: 10, height: 10, "aria-hidden": "true" },
          s("circle", { class: "cycle", cx: 5, cy: 5, r: 3 }),
        ),
        ` ${cycle.name}, by energy`,
      ),
    ),
    h("div", { class: "layers" }, canvas, picture),
    reading,
  );
}

function legend() {
  return h(
    "span",
    {},
    "60 % ",
    s(
      "svg",
      { viewBox: "0 0 104 10", width: 104, height: 10, "aria-hidden": "true" },
      LEVELS.map((_, k) => s("rect", { x: 8 * k, y: 0, width: 8.5, height: 10, fill: colourOf(LEVELS[k]) })),
    ),
    " 98 %",
  );
}

function colourOf(value) {
  const k = LEVELS.findLastIndex((level) => value >= level);
  return mapColour((k + 1) / LEVELS.length);
}

/** Fill the cells of the grid, each in the colour of its middle. */
function paint(canvas, speed, torque, efficiency, toX, toY) {
  const ratio = 2;
  canvas.width = W * ratio;
  canvas.height = H * ratio;
  const pen = canvas.getContext("2d");
  pen.scale(ratio, ratio);
  for (let i = 0; i + 1 < speed.length; i += 1) {
    for (let j = 0; j + 1 < torque[i].length; j += 1) {
      const corners = [
        efficiency[i][j],
        efficiency[i + 1][j],
        efficiency[i + 1][j + 1],
        efficiency[i][j + 1],
      ];
      const known = corners.filter((v) => v !== null);
      if (known.length < 2) continue;
      pen.fillStyle = colourOf(known.reduce((a, b) => a + b, 0) / known.length);
      pen.strokeStyle = pen.fillStyle;
      pen.lineWidth = 0.6; // closes the hairline between neighbours
      pen.beginPath();
      pen.moveTo(toX(speed[i]), toY(torque[i][j]));
      pen.lineTo(toX(speed[i + 1]), toY(torque[i + 1][j]));
      pen.lineTo(toX(speed[i + 1]), toY(torque[i + 1][j + 1]));
      pen.lineTo(toX(speed[i]), toY(torque[i][j + 1]));
      pen.closePath();
      pen.fill();
      pen.stroke();
    }
  }
}

/** Return a level's line by marching over the triangles of the grid, with its percent written once. */
function contour(level, height, speed, torque, efficiency, toX, toY) {
  const pieces = [];
  const node = (i, j) => ({ x: toX(speed[i]), y: toY(torque[i][j]), v: efficiency[i][j] ?? 0 });
  for (let i = 0; i + 1 < speed.length; i += 1) {
    for (let j = 0; j + 1 < torque[i].length; j += 1) {
      const [a, b, c, d] = [node(i, j), node(i + 1, j), node(i + 1, j + 1), node(i, j + 1)];
      for (const triangle of [
        [a, b, c],
        [a, c, d],
      ]) {
        const cut = cutOf(triangle, level);
        if (cut) pieces.push(cut);
      }
    }
  }
  if (!pieces.length) return null;
  const d = pieces
    .map(([p, q]) => `M${p.x.toFixed(1)} ${p.y.toFixed(1)}L${q.x.toFixed(1)} ${q.y.toFixed(1)}`)
    .join("");
  const [place] = pieces.reduce((best, piece) =>
    Math.abs(piece[0].y - height) < Math.abs(best[0].y - height) ? piece : best,
  );
  return [
    s("path", { class: "contour", d }),
    s("text", { class: "contour-text", x: place.x + 3, y: place.y + 4 }, `${level} %`),
  ];
}

function cutOf(triangle, level) {
  const found = [];
  for (let k = 0; k < 3; k += 1) {
    const [p, q] = [triangle[k], triangle[(k + 1) % 3]];
    if (p.v < level === q.v < level) continue;
    const share = (level - p.v) / (q.v - p.v);
    found.push({ x: p.x + share * (q.x - p.x), y: p.y + share * (q.y - p.y) });
  }
  return found.length === 2 ? found : null;
}

function envelope(speed, torque, toX, toY) {
  const line = (j) => speed.map((n, i) => `${toX(n).toFixed(1)} ${toY(torque[i].at(j)).toFixed(1)}`);
  return `M${line(-1).join("L")}M${line(0).join("L")}`;
}

function cycleDots(cycle, toX, toY) {
  const most = Math.max(...cycle.energy_kj, 1e-9);
  return cycle.speed_rpm.map((n, k) =>
    s("circle", {
      class: "cycle",
      cx: toX(n).toFixed(1),
      cy: toY(cycle.torque_nm[k]).toFixed(1),
      r: (0.4 + 1.9 * Math.sqrt(cycle.energy_kj[k] / most)).toFixed(2),
    }),
  );
}

function nearest(values, value) {
  let best = 0;
  values.forEach((v, k) => {
    if (Math.abs(v - value) < Math.abs(values[best] - value)) best = k;
  });
  return best;
}
