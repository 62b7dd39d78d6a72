/** The mark of each outcome: cross, hollow square, triangle, disc; drawn in this order. */

import { h, s } from "./elements.js";

const colour = (style, name) => style.getPropertyValue(name).trim();

export const MARKS = {
  infeasible: { size: 3, alpha: 0.75, look: (style) => ({ colour: colour(style, "--magnet-light") }) },
  feasible: { size: 3, alpha: 0.9, look: (style) => ({ colour: colour(style, "--iron") }) },
  failed: { size: 4, alpha: 1, look: (style) => ({ colour: colour(style, "--warning") }) },
  front: { size: 4.6, alpha: 1, look: (style) => memberLook(style, "") },
};

/**
 * Form and colour of the front's mark for each rotor family: the same in every study and on exported
 * plots (FAMILY_LOOKS of optim/export/plots/front.py, which a test compares). In a study of one family
 * the front is a disc, whatever the family: its name is then passed empty.
 */
const FORMS = {
  interior: { path: "M0 -4.6A4.6 4.6 0 1 1 -0.01 -4.6Z", colour: "--moss" },
  surface: { path: "M0 -6L6 0L0 6L-6 0Z", colour: "--magnet" },
  cage: { path: "M0 -6L5.6 4.4H-5.6Z", colour: "--conductor" },
  reluctance: { path: "M-2 -5.6H2V-2H5.6V2H2V5.6H-2V2H-5.6V-2H-2Z", colour: "--ink" },
};
const drawn = Object.fromEntries(Object.entries(FORMS).map(([name, { path }]) => [name, new Path2D(path)]));
const formNameOf = (family) => (family in FORMS ? family : "interior");

/** Draw a design on the front: the form tells its family, the colour too unless another is given. */
export function drawMember(pen, family, x, y, { colour: ink, edge }) {
  const form = drawn[formNameOf(family)];
  pen.fillStyle = ink;
  pen.strokeStyle = edge;
  pen.lineWidth = 1;
  pen.translate(x, y);
  pen.fill(form);
  pen.stroke(form);
  pen.translate(-x, -y);
}

/** Return how a family's members of the front look. */
export function memberLook(style, family) {
  return { colour: colour(style, FORMS[formNameOf(family)].colour), edge: colour(style, "--paper") };
}

/** Return the mark of a family's members for a legend or a table. */
export function memberMark(family) {
  const name = formNameOf(family);
  return h(
    "span",
    { class: `mark member-${name}`, "aria-hidden": "true" },
    s("svg", { viewBox: "-6.5 -6.5 13 13", width: 13, height: 13 }, s("path", { d: FORMS[name].path })),
  );
}

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
  }
}

const PATHS = {
  infeasible: "M2 2L10 10M2 10L10 2",
  feasible: "M2.5 2.5H9.5V9.5H2.5Z",
  failed: "M1.5 2.5H10.5L6 10.5Z",
};

/** Return the mark of an outcome other than the front for a legend or a table. */
export function legendMark(shape) {
  return h(
    "span",
    { class: `mark ${shape}`, "aria-hidden": "true" },
    s("svg", { viewBox: "0 0 12 12", width: 12, height: 12 }, s("path", { d: PATHS[shape] })),
  );
}
