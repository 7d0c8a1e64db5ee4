// One line of news: shown for a while, and read out by screen readers.
const place = document.getElementById("said");
let timer;

export function say(sentence, bad = false) {
  clearTimeout(timer);
  place.textContent = sentence;
  place.className = bad ? "bad" : "";
  timer = setTimeout(() => { place.textContent = ""; }, bad ? 9000 : 4000);
}

export function byId(id) { return document.getElementById(id); }

// An element with attributes, a text or children; text is never taken for HTML.
export function make(tag, attributes = {}, ...children) {
  const element = document.createElement(tag);
  for (const [key, value] of Object.entries(attributes)) {
    if (value === undefined || value === null || value === false) continue;
    if (key === "on") for (const [event, act] of Object.entries(value)) element.addEventListener(event, act);
    else if (key in element && key !== "list" && typeof value !== "string") element[key] = value;
    else element.setAttribute(key, value === true ? "" : value);
  }
  element.append(...children);
  return element;
}

const SVG = "http://www.w3.org/2000/svg";
export function draw(tag, attributes = {}, ...children) {
  const element = document.createElementNS(SVG, tag);
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
  element.append(...children);
  return element;
}

// A swatch by drawing, since styles in attributes are forbidden here.
export function swatch(colour) {
  const square = draw("rect", { width: 10, height: 10, fill: colour });
  return draw("svg", { class: "swatch", viewBox: "0 0 10 10", "aria-hidden": "true" }, square);
}
