/** Builds page elements. Text always goes in as text nodes: nothing from a study becomes markup. */

const SVG = "http://www.w3.org/2000/svg";

/** Return an HTML element; functions under `on...` become listeners, false and null are left out. */
export function h(tag, attributes = {}, ...children) {
  return fill(document.createElement(tag), attributes, children);
}

/** Return an SVG element. */
export function s(tag, attributes = {}, ...children) {
  return fill(document.createElementNS(SVG, tag), attributes, children);
}

/** Replace what an element holds; lists are flattened, false and null left out. */
export function put(element, ...children) {
  element.replaceChildren(...children.flat(3).filter((c) => c !== null && c !== undefined && c !== false));
  return element;
}

function fill(element, attributes, children) {
  for (const [name, value] of Object.entries(attributes)) {
    if (value === null || value === undefined || value === false) continue;
    if (typeof value === "function") element.addEventListener(name.slice(2), value);
    else if (name === "value" || name === "checked" || name === "disabled") element[name] = value;
    else element.setAttribute(name, value === true ? "" : String(value));
  }
  return put(element, ...children);
}

/** Return an SVG text from the service as an element, or null; scripts and links are dropped. */
export function drawing(text, label) {
  const parsed = new DOMParser().parseFromString(text, "image/svg+xml").documentElement;
  if (parsed.nodeName !== "svg") return null;
  for (const found of parsed.querySelectorAll("script, foreignObject, a, image, style")) found.remove();
  parsed.removeAttribute("width");
  parsed.removeAttribute("height");
  parsed.setAttribute("role", "img");
  if (label) parsed.setAttribute("aria-label", label);
  return document.importNode(parsed, true);
}

/** Call a function at most once a frame, however often it is asked for. */
export function onceAFrame(action) {
  let isWaiting = false;
  return () => {
    if (isWaiting) return;
    isWaiting = true;
    requestAnimationFrame(() => {
      isWaiting = false;
      action();
    });
  };
}

/**
 * Like `onceAFrame`, for what people press: nothing is replaced under a finger that is down, and what
 * had the focus (told by its data-focus) has it again.
 */
export function calmly(element, action) {
  let isHeld = false;
  let isDue = false;
  const run = () => {
    isDue = false;
    const name = element.contains(document.activeElement) && document.activeElement.dataset.focus;
    action();
    if (name) element.querySelector(`[data-focus="${CSS.escape(name)}"]`)?.focus();
  };
  const release = () => {
    isHeld = false;
    if (isDue) setTimeout(run); // after the click that the release makes
  };
  element.addEventListener("pointerdown", () => {
    isHeld = true;
    for (const end of ["pointerup", "pointercancel"]) addEventListener(end, release, { once: true });
  });
  return onceAFrame(() => (isHeld ? (isDue = true) : run()));
}

/** Say something to everybody, also to screen readers; it goes after a while. */
export function notice(text, kind = "plain") {
  const place = document.getElementById("notices");
  const line = h("p", { class: `notice ${kind}` }, text);
  place.append(line);
  setTimeout(() => line.remove(), kind === "wrong" ? 9000 : 5000);
}

/** Return a labelled choice; `options` are [value, text] pairs. */
export function choice(label, options, value, onchange) {
  const select = h(
    "select",
    { onchange: (event) => onchange(event.target.value) },
    options.map(([v, text]) => h("option", { value: v, selected: v === value }, text)),
  );
  return h("label", { class: "choice" }, h("span", {}, label), select);
}
