// The flat pieces: drawn to one scale, with rings that move a dart or change its length.
const SVG = "http://www.w3.org/2000/svg";
const shown = {}; // by side: what is drawn, and the drawing before it
const waiting = {}; // by side: what came while a ring was being moved
let moving = false;
let ask = null;

export function freeDarts(asked) { asked("darts", { darts: [] }); }

export function showPieces(told, asked) {
  ask = asked;
  if (moving) { waiting[told.side] = told; return; }
  const place = document.getElementById("drawing");
  const before = shown[told.side];
  if (before?.told.drawing === told.drawing) return;
  shown[told.side] = { told, before: before?.svg };
  const svg = new DOMParser().parseFromString(told.drawing.replace("<svg ", `<svg xmlns="${SVG}" `), "image/svg+xml").documentElement;
  const drawn = document.importNode(svg, true);
  drawn.setAttribute("role", "group");
  shown[told.side].svg = drawn;
  const box = place.querySelector(`[data-side="${told.side}"]`) || place.appendChild(Object.assign(document.createElement("div"), { className: "set" }));
  box.dataset.side = told.side;
  if (before) drawBefore(drawn, before.svg);
  addHandles(drawn, told);
  const held = box.querySelector(".handle:focus")?.dataset;
  box.replaceChildren(drawn);
  if (held) drawn.querySelector(`.handle[data-dart="${held.dart}"][data-what="${held.what}"]`)?.focus({ preventScroll: true });
  tellDarts();
}

function moved() {
  moving = false;
  for (const side of Object.keys(waiting)) {
    const told = waiting[side];
    delete waiting[side];
    showPieces(told, ask);
  }
}

function tellDarts() {
  const sides = Object.values(shown);
  const words = sides.flatMap(({ told }) => told.darts.map((dart) => (sides.length > 1 ? `${told.side}, ` : "") + `${dart.name}: ${dart.words}`));
  document.getElementById("darts").replaceChildren(...words.map((text) =>
    Object.assign(document.createElement("li"), { textContent: text })));
  document.getElementById("free").hidden = !document.querySelector('[data-path^="make.darts."]');
}

// ---- what was drawn before, as a thin line

function drawBefore(drawn, old) {
  for (const group of drawn.querySelectorAll("g.piece")) {
    const same = old.querySelector(`#${CSS.escape(group.id)}`);
    if (!same) continue;
    const [x, y] = group.dataset.at.split(" ").map(Number), [u, v] = same.dataset.at.split(" ").map(Number);
    const layer = document.createElementNS(SVG, "g");
    layer.setAttribute("class", "before");
    layer.setAttribute("aria-hidden", "true");
    layer.setAttribute("transform", `translate(${x - u} ${y - v})`);
    for (const path of same.querySelectorAll(":scope > .stitching-line, :scope > .dart")) {
      const copy = path.cloneNode();
      copy.removeAttribute("class");
      layer.append(copy);
    }
    group.querySelector(".piece-area").after(layer);
  }
}

// ---- darts

const numbers = (path) => path.getAttribute("d").match(/-?[\d.]+(?:e-?\d+)?/g).map(Number);

function dartOf(group, name) {
  const legs = [...group.querySelectorAll(":scope > .dart")].filter((path) => path.dataset.name === name).map(numbers);
  if (legs.length !== 2) return null;
  const from = legs[0].slice(0, 2), point = legs[0].slice(-2), to = legs[1].slice(-2);
  const front = middle(group, "front seam"), back = middle(group, "back seam");
  const way = Math.sign((to[0] - from[0]) * (front[0] - back[0])) || 1;
  const across = unit([(to[0] - from[0]) * way, (to[1] - from[1]) * way]);
  const opening = [(from[0] + to[0]) / 2, (from[1] + to[1]) / 2];
  return { point, opening, across, along: unit([point[0] - opening[0], point[1] - opening[1]]) };
}

function middle(group, seam) {
  const path = [...group.querySelectorAll(".stitching-line")].find((one) => one.dataset.name === seam);
  const all = path ? numbers(path) : [0, 0];
  const half = 2 * Math.floor(all.length / 4);
  return all.slice(half, half + 2);
}

function unit([x, y]) {
  const size = Math.hypot(x, y) || 1;
  return [x / size, y / size];
}

function addHandles(drawn, told) {
  const group = [...drawn.querySelectorAll("g.piece")].find((one) => one.dataset.name === "outer");
  if (!group) return;
  const radius = drawn.viewBox.baseVal.width / 90;
  for (const dart of told.darts) {
    const found = dartOf(group, dart.name);
    if (!found) continue;
    const words = text(group, found.point, `${dart.name}: ${dart.words}`, radius);
    handle(drawn, group, told, dart, found, "at", found.opening, found.across, radius, words);
    handle(drawn, group, told, dart, found, "length", found.point, found.along, radius, words);
  }
}

function text(group, [x, y], said, radius) {
  const words = document.createElementNS(SVG, "text");
  words.setAttribute("class", "dart-words");
  words.setAttribute("text-anchor", "middle");
  words.setAttribute("x", x);
  words.setAttribute("y", y + 3.2 * radius);
  words.dataset.said = words.textContent = said.replace(/^dart (\d+): .*/, "$1");
  group.append(words);
  return words;
}

function handle(drawn, group, told, dart, found, what, place, way, radius, words) {
  const ring = document.createElementNS(SVG, "circle");
  const named = what === "at" ? "place along the seam, plus to the front" : "length";
  for (const [name, value] of Object.entries({
    class: "handle", r: radius, cx: place[0], cy: place[1], tabindex: 0, role: "slider",
    "aria-label": `${dart.name}: ${named}`, "aria-valuetext": inWords(dart[what], told.unit), "aria-valuenow": Math.round(dart[what]),
    "aria-valuemin": what === "at" ? -300 : 10, "aria-valuemax": 300,
  })) ring.setAttribute(name, value);
  ring.dataset.dart = dart.name;
  ring.dataset.what = what;
  group.append(ring);
  let by = 0, start = null, timer = 0;
  const move = (step) => {
    by = step;
    ring.setAttribute("cx", place[0] + by * way[0]);
    ring.setAttribute("cy", place[1] + by * way[1]);
    ring.setAttribute("aria-valuenow", Math.round(dart[what] + by));
    words.textContent = inWords(dart[what] + by, told.unit);
    ring.setAttribute("aria-valuetext", words.textContent);
  };
  const settle = () => {
    if (Math.abs(by) >= 0.5) put(told, dart, what, dart[what] + by); else words.textContent = words.dataset.said;
    moved();
  };
  const onSheet = (event) => new DOMPoint(event.clientX, event.clientY).matrixTransform(drawn.getScreenCTM().inverse());
  ring.addEventListener("pointerdown", (event) => {
    event.preventDefault();
    ring.focus();
    ring.setPointerCapture(event.pointerId);
    moving = true;
    start = onSheet(event);
  });
  ring.addEventListener("pointermove", (event) => {
    if (!start) return;
    const now = onSheet(event);
    move((now.x - start.x) * way[0] + (now.y - start.y) * way[1]);
  });
  ring.addEventListener("pointerup", () => { if (start) { start = null; settle(); } });
  ring.addEventListener("pointercancel", () => { start = null; move(0); settle(); });
  ring.addEventListener("keydown", (event) => {
    const step = { ArrowRight: 2, ArrowUp: 2, ArrowLeft: -2, ArrowDown: -2 }[event.key];
    if (!step) return;
    event.preventDefault();
    moving = true;
    move(by + step);
    clearTimeout(timer);
    timer = setTimeout(settle, 500);
  });
}

// A length as the sheet's maker reads it: sixteenths of an inch, else whole millimetres.
function inWords(mm, unit) {
  if (unit !== "in") return `${Math.round(mm)} mm`;
  const parts = Math.round(Math.abs(mm) / 25.4 * 16);
  const shared = [16, 8, 4, 2, 1].find((k) => parts % k === 0 && 16 % k === 0);
  const whole = Math.floor(parts / 16), rest = parts % 16 ? `${parts % 16 / shared}/${16 / shared}` : "";
  return `${mm < 0 && parts ? "\u2212" : ""}${[whole || !rest ? whole : "", rest].filter((part) => part !== "").join(" ")} in`;
}

function put(told, dart, what, value) {
  const darts = told.darts.map((one) => {
    const at = one === dart && what === "at" ? value : one.at;
    const length = one === dart && what === "length" ? Math.max(value, 15) : one.length;
    return [at, length];
  });
  ask("darts", { darts });
}
