/** Designs without metrics, so without a place in the picture: in a strip by their number. */

import { h, onceAFrame, put } from "./elements.js";
import { drawMark, MARKS } from "./marks.js";
import { linear } from "./scale.js";
import { countText } from "./wording.js";

const EDGE = 12;
const REACH = 12;

export function stripPlot(model) {
  const canvas = h("canvas", { onclick: (event) => pickAt(event), "aria-hidden": "true" });
  const words = h("p", { class: "strip" });
  const element = h("div", { class: "placeless" }, words, canvas);
  let places = [];

  const redraw = onceAFrame(() => {
    const without = model.points.filter((p) => !p.hasPlace);
    element.hidden = without.length === 0;
    const width = canvas.clientWidth;
    if (element.hidden || !width) return;
    const failed = without.filter((p) => p.shape === "failed").length;
    put(
      words,
      `without a place: ${countText(without.length - failed)} are no machine, ${countText(failed)} failed; by number`,
    );
    const ratio = window.devicePixelRatio || 1;
    canvas.width = Math.round(width * ratio);
    canvas.height = Math.round(canvas.clientHeight * ratio);
    const pen = canvas.getContext("2d");
    pen.setTransform(ratio, 0, 0, ratio, 0, 0);
    const last = Math.max(model.status?.budget ?? 0, ...without.map((p) => p.number), 1);
    const x = linear([0, last], [EDGE, width - EDGE]);
    const style = getComputedStyle(element);
    places = without.map((point) => ({ x: x(point.number), point }));
    for (const place of places) {
      pen.globalAlpha = MARKS[place.point.shape].alpha;
      drawMark(
        pen,
        place.point.shape,
        place.x,
        canvas.clientHeight / 2,
        MARKS[place.point.shape].look(style),
      );
    }
  });

  function pickAt(event) {
    const at = event.clientX - canvas.getBoundingClientRect().left;
    let [found, best] = [null, REACH];
    for (const { x, point } of places) {
      if (Math.abs(x - at) < best) [found, best] = [point.number, Math.abs(x - at)];
    }
    model.pick(found);
  }

  model.addEventListener("change", redraw);
  new ResizeObserver(redraw).observe(element);
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", redraw);
  redraw();
  return element;
}
