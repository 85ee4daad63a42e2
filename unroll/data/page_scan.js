// A scan of the arm in 3D: its landmarks are handles that move over its surface, by hand or by key.
const NAME = "as scanned", STEP_MM = 2, LARGE_STEP_MM = 10, SETTLED_MS = 500, NEAR_PX = 24;
const marks = new Map(); // by landmark: what is told of it, its handle, where it is
let told = null, surface = null, seen = null, place = null, ask = null, redraw = null, lit = "";

const at = (name) => document.getElementById(name);
const raw = (text) => Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0)).buffer;
const minus = (a, b) => [a[0] - b[0], a[1] - b[1], a[2] - b[2]];
const cross = (a, b) => [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]];
const dot = (a, b) => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
const along = (a, step, way) => [a[0] + step * way[0], a[1] + step * way[1], a[2] + step * way[2]];

export function beginScan(asked, redrawn) {
  ask = asked;
  redraw = redrawn;
  place = Object.assign(document.createElement("div"), { className: "marks", hidden: true });
  document.querySelector("#arm .stage").append(place);
}

// Takes what is told of a scan; there may be none any more.
export function takeScan(found) {
  told = found;
  const model = found.models[0];
  surface = model ? decoded(model) : null;
  const names = (found.marks || []).map((mark) => mark.name);
  for (const [name, mark] of marks) if (!names.includes(name)) { mark.handle.remove(); marks.delete(name); }
  for (const mark of found.marks || []) {
    const one = marks.get(mark.name) || handle(mark.name);
    one.told = mark;
    if (!one.isMoving) settle(one);
  }
}

export function lightMark(name) {
  lit = name;
  for (const [key, mark] of marks) mark.handle.classList.toggle("is-lit", key === name);
}

// Called after each drawing: the handles lie where their places are seen.
export function followScan(model, now) {
  seen = now;
  const isShown = Boolean(told?.models[0]) && model === told.models[0];
  place.hidden = at("scan-hint").hidden = !isShown;
  if (isShown) for (const mark of marks.values()) lay(mark);
}

function decoded(model) {
  const places = new Uint16Array(raw(model.positions));
  const points = Float64Array.from(places, (value, k) => model.low[k % 3] + ((model.high[k % 3] - model.low[k % 3]) * value) / 65535);
  const faces = model.wide ? new Uint32Array(raw(model.faces)) : new Uint16Array(raw(model.faces));
  return { points, faces };
}

// Where a ray meets the surface, nearest first (T. Moeller, B. Trumbore 1997, doi 10.1080/10867651.1997.10487468).
function hits({ from, way }) {
  const found = [], { points, faces } = surface;
  const corner = (k) => points.subarray(3 * faces[k], 3 * faces[k] + 3);
  for (let k = 0; k < faces.length; k += 3) {
    const a = corner(k), one = minus(corner(k + 1), a), two = minus(corner(k + 2), a);
    const p = cross(way, two), size = dot(one, p);
    if (Math.abs(size) < 1e-9) continue;
    const off = minus(from, a), u = dot(off, p) / size;
    if (u < 0 || u > 1) continue;
    const q = cross(off, one), v = dot(way, q) / size;
    if (v < 0 || u + v > 1) continue;
    const far = dot(two, q) / size;
    if (far > 0) found.push(far);
  }
  return found.sort((one, other) => one - other).map((far) => along(from, far, way));
}

const gap = (a, b) => Math.hypot(...minus(a, b));

function lay(mark) {
  const [x, y] = seen.project(mark.at), { handle } = mark;
  const ray = seen.rayAt(x, y), first = hits(ray)[0];
  const isBehind = first && gap(first, ray.from) + 4 < gap(mark.at, ray.from);
  handle.classList.toggle("is-behind", Boolean(isBehind));
  const near = [...marks.values()].filter((one) => one !== mark).map((one) => seen.project(one.at))
    .find((other) => Math.abs(other[1] - y) < NEAR_PX);
  handle.classList.toggle("is-left", near ? x < near[0] : x > place.clientWidth / 2); // its words lie clear
  handle.style.transform = `translate(${x.toFixed(1)}px, ${y.toFixed(1)}px)`;
}

// ---- moving

function inFile(point) {
  return [0, 1, 2].map((k) => (told.origin[k] + point.reduce((sum, value, j) => sum + value * told.axes[j][k], 0)).toFixed(told.decimals).replace(/^-(0\.?0*)$/, "$1")).join("; ");
}

function settle(mark) {
  mark.at = mark.told.at;
  name(mark);
}

function name(mark) {
  mark.handle.classList.toggle("is-given", mark.told.is_given || mark.isMoving);
  mark.handle.setAttribute("aria-label", `${mark.told.label}, ${mark.told.is_given ? "given" : "found"} at ${inFile(mark.at)}`);
  mark.handle.querySelector("span").textContent = mark.told.label;
}

function move(mark, point) {
  if (!point) return;
  mark.at = point;
  name(mark);
  redraw();
}

async function put(mark, value) {
  const answer = await ask("edit", { path: ["scan", mark.told.name], value });
  mark.isMoving = false;
  if (!answer) settle(mark);
  redraw();
}

const ARROWS = { ArrowRight: ["right", 1], ArrowLeft: ["right", -1], ArrowUp: ["up", 1], ArrowDown: ["up", -1] };

function handle(key) {
  const button = document.createElement("button");
  Object.assign(button, { type: "button", className: "mark" });
  button.dataset.mark = key;
  button.append(document.createElement("span"));
  button.classList.toggle("is-lit", key === lit);
  place.append(button);
  const mark = { handle: button, isMoving: false, at: [0, 0, 0] };
  marks.set(key, mark);
  let timer = 0, isHeld = false;
  button.addEventListener("pointerdown", (event) => {
    event.preventDefault();
    button.focus({ preventScroll: true });
    button.setPointerCapture(event.pointerId);
    isHeld = true;
  });
  button.addEventListener("pointermove", (event) => {
    if (!isHeld) return;
    mark.isMoving = true;
    const box = place.getBoundingClientRect();
    move(mark, hits(seen.rayAt(event.clientX - box.left, event.clientY - box.top))[0]);
  });
  button.addEventListener("pointerup", () => {
    if (isHeld && mark.isMoving) put(mark, inFile(mark.at));
    isHeld = false;
  });
  button.addEventListener("pointercancel", () => { isHeld = mark.isMoving = false; settle(mark); redraw(); });
  button.addEventListener("keydown", (event) => {
    if (event.key === "Delete" || event.key === "Backspace") { event.preventDefault(); put(mark, ""); return; }
    const [way, sign] = ARROWS[event.key] || [];
    if (!way || event.ctrlKey || event.metaKey || event.altKey) return;
    event.preventDefault();
    const step = sign * (event.shiftKey ? LARGE_STEP_MM : STEP_MM);
    const aim = along(mark.at, step, seen[way]);
    const found = hits(seen.rayAt(...seen.project(aim))).sort((one, other) => gap(one, aim) - gap(other, aim))[0];
    mark.isMoving = true;
    move(mark, found);
    clearTimeout(timer);
    timer = setTimeout(() => put(mark, inFile(mark.at)), SETTLED_MS);
  });
  return mark;
}

// ---- the scan's file, above its landmarks in the form

export function drawScanFile(box, entries, element, upload, most) {
  const line = element(box, "div", "", { className: "field" });
  line.dataset.of = "scan.file";
  const label = element(line, "label", entries["scan.file"] ? `${entries["scan.file"]}; another one` : "its file", { htmlFor: "f-scan-file", className: "wide" });
  const picked = element(line, "input", "", { id: "f-scan-file", type: "file", accept: ".obj,.ply,.stl,.glb,.off", className: "wide" });
  picked.setAttribute("aria-describedby", "f-scan-file-fault f-scan-file-said");
  const said = element(line, "p", "OBJ, PLY, STL, GLB or OFF", { className: "told wide", id: "f-scan-file-said" });
  const fault = element(line, "p", "", { className: "told fault", id: "f-scan-file-fault" });
  picked.addEventListener("change", async () => {
    const [file] = picked.files;
    if (!file) return;
    const kind = file.name.split(".").pop().toLowerCase().replace(/[^a-z]/g, "") || "none";
    const isTooLarge = file.size > most;
    fault.textContent = isTooLarge ? `the file holds ${(file.size / 1e6).toFixed(1)} MB; expected at most ${most / 1e6} MB` : "";
    if (isTooLarge) { picked.value = ""; return; }
    said.textContent = "reading the scan: some seconds …";
    wantsScan = true;
    const answer = await upload(`scan/${kind}`, file);
    picked.value = "";
    said.textContent = "";
    if (answer) return;
    wantsScan = false;
    fault.textContent = at("step").textContent;
    line.classList.add("is-bad");
  });
  if (entries["scan.file"]) {
    const without = element(line, "button", "Do without the scan", { type: "button", className: "wide" });
    without.addEventListener("click", () => ask("unscan"));
  }
}

let wantsScan = false; // handed over here and not yet shown

export function isAwaited() {
  const is = wantsScan;
  wantsScan = false;
  return is;
}

export { NAME as SCANNED };
