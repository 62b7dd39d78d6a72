/** The mark of each outcome: cross, hollow square, triangle, disc; drawn in this order. */

import { h, s } from "./elements.js";

const colour = (style, name) => style.getPropertyValue(name).trim();

export const MARKS = {
  infeasible: { size: 3, alpha: 0.75, look: (style) => ({ colour: colour(style, "--magnet-light") }) },
  feasible: { size: 3, alpha: 0.9, look: (style) => ({ colour: colour(style, "--iron") }) },
  failed: { size: 4, alpha: 1, look: (style) => ({ colour: colour(style, "--warning") }) },
  front: {
    size: 4.6,
    alpha: 1,
    look: (style) => ({ colour: colour(style, "--moss"), edge: colour(style, "--paper") }),
  },
};

/** Draw a mark on a canvas. */
export function drawMark(pen, shape, x, y, { colour: ink, edge }) {
  const r = MARKS[shape].size;
  pen.beginPath();
  pen.lineWidth = 1;
  pen.strokeStyle = ink;
  pen.fillStyle = ink;
  if (shape === "infeasible") {
    pen.moveTo(x - r, y - r);
    pen.lineTo(x + r, y + r);
    pen.moveTo(x - r, y + r);
    pen.lineTo(x + r, y - r);
    pen.stroke();
  } else if (shape === "feasible") {
    pen.rect(x - r, y - r, 2 * r, 2 * r);
    pen.stroke();
  } else if (shape === "failed") {
    pen.moveTo(x - r, y - r);
    pen.lineTo(x + r, y - r);
    pen.lineTo(x, y + r);
    pen.closePath();
    pen.fill();
  } else {
    pen.arc(x, y, r, 0, 2 * Math.PI);
    pen.fill();
    pen.strokeStyle = edge;
    pen.stroke();
  }
}

const PATHS = {
  infeasible: "M2 2L10 10M2 10L10 2",
  feasible: "M2.5 2.5H9.5V9.5H2.5Z",
  failed: "M1.5 2.5H10.5L6 10.5Z",
  front: "M6 1.5A4.5 4.5 0 1 1 5.99 1.5Z",
};

/** Return the mark of an outcome for a legend or a table. */
export function legendMark(shape) {
  return h(
    "span",
    { class: `mark ${shape}`, "aria-hidden": "true" },
    s("svg", { viewBox: "0 0 12 12", width: 12, height: 12 }, s("path", { d: PATHS[shape] })),
  );
}
