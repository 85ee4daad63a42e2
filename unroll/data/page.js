// The open sheet: what is typed goes to the program beside this page, what it finds is drawn here.
import { buildForm, showSheet, lightTape } from "./page_form.js";
import { showPieces, freeDarts } from "./page_pieces.js";
import { beginOwn, oldOwn, showOwn } from "./page_own.js";
import { beginScan, followScan, isAwaited, lightMark, takeScan, SCANNED } from "./page_scan.js";

const at = (name) => document.getElementById(name);
const me = Math.random().toString(36).slice(2);
let sheet = null;
const arms = {}; // by side: models by name, tape, verdict, pieces

// ---- talking to the program

export function ask(what, given = {}) {
  return post(`do/${what}`, "application/json", JSON.stringify({ ...given, window: me }));
}

// A traced armhole or a scan as a file: its content alone is sent, never its name.
function upload(where, file) { return post(where, "application/octet-stream", file); }

async function post(where, kind, body) {
  try {
    const answer = await fetch(where, { method: "POST", headers: { "Content-Type": kind }, body });
    const found = await answer.json();
    if (found.trouble) { say(found.trouble); return null; }
    return found;
  } catch {
    at("ended").hidden = false;
    return null;
  }
}

function say(text) { at("step").textContent = text; }

function listen() {
  const events = new EventSource("events");
  events.onmessage = (event) => take(JSON.parse(event.data));
  events.onopen = () => { at("ended").hidden = true; };
  events.onerror = () => { at("ended").hidden = false; };
}

const takers = {
  sheet(told) {
    sheet = told;
    showSheet(told, told.window === me);
    at("file").textContent = told.file;
    at("undo").disabled = !told.can_undo;
    at("redo").disabled = !told.can_redo;
    at("outside").hidden = !told.is_outside;
    at("saved").textContent = told.unsaved || (told.is_outside ? "not saved" : told.revision ? "saved" : "");
    if (!at("paper").dataset.chosen) at("paper").value = (told.entries["make.paper"] || "a4").toLowerCase();
    oldOwn(told.revision);
    for (const name of ["correct", "print", "explain"]) at(name).disabled = !told.is_ready;
  },
  waiting() {
    document.body.classList.add("is-old");
    at("sentence").textContent = sheet && Object.keys(arms).length
      ? "What is marked needs mending first; the arm is as it was before."
      : "Type the measures that are marked “needed”.";
  },
  arm(told) { if (!trouble(told)) { keepModels(told); keep(told.side, { tape: told.tape }); showTape(); } },
  pieces(told) { if (!trouble(told)) { keepModels(told); showWorked(told, "as correcting them will leave them, foretold"); } },
  layers(told) { keepModels(told, ["sewn: corrected pieces"]); keep(told.side, { tape: told.tape }); showTape(); },
  corrected(told) { keepModels(told); keep(told.side, { tape: told.tape }); showTape(); showWorked(told, "corrected"); },
  scan(told) {
    delete arms[told.side]?.models[SCANNED];
    takeScan(told);
    keepModels(told);
    if (told.models.length && isAwaited()) turner?.choose(SCANNED);
  },
  own(told) {
    keepModels(told);
    turner?.choose("sewn: pieces of your draft");
    showOwn(told, figureList(told.figures));
  },
  words(told) { at("sentence").title = told.lines.join("\n"); },
  progress(told) {
    say(`${told.step} …`);
    at("share").hidden = told.task === "rest" || told.share <= 0;
    at("share").value = told.share;
    at("cancel").hidden = told.task === "rest";
    at("correct").hidden = told.task !== "rest";
    document.body.dataset.doing = told.task;
  },
  done(told) {
    say(told.trouble || "");
    if (told.task === "own") at("own-fault").textContent = told.trouble;
    at("share").hidden = at("cancel").hidden = true;
    at("correct").hidden = false;
    document.body.dataset.doing = "";
  },
  ready: showReady,
  trial: showTrial,
};

function take(told) {
  takers[told.kind]?.(told);
  document.dispatchEvent(new CustomEvent("told", { detail: told.kind }));
}

function trouble(told) {
  if (told.trouble) say(told.trouble);
  return told.trouble;
}

// ---- the arm

const turner = createTurner(document.querySelector(".turner"), followScan);
beginScan(ask, () => turner?.redraw());

function keep(side, values) { arms[side] = { models: {}, ...arms[side], ...values }; }

function keepModels(told, except = []) {
  keep(told.side, {});
  const kept = arms[told.side].models;
  for (const model of told.models) {
    const name = model.name.replace(/^(left|right), /, "");
    if (!(except.includes(name) && kept[name])) kept[name] = model;
  }
  for (const side of ["left", "right"]) if (arms[side] && !isShown(side)) delete arms[side];
  const order = (name) => ["wanted arm", "sewn: corrected pieces", "as taped", SCANNED].indexOf(name) + 1 || 9;
  const models = Object.values(arms).flatMap((arm) =>
    Object.entries(arm.models).sort((one, other) => order(one[0]) - order(other[0])).map((pair) => pair[1]));
  if (turner) turner.update(models, "sewn: corrected pieces");
}

function isShown(side) { return side === "left" || !sheet || sheet.is_unlike; }

function showTape() {
  const body = document.querySelector("#tape-found tbody");
  body.replaceChildren();
  const sides = Object.keys(arms).filter((side) => arms[side].tape);
  let off = 0;
  for (const side of sides) {
    for (const row of arms[side].tape) {
      const line = body.insertRow();
      const head = document.createElement("th");
      head.scope = "row";
      head.textContent = (sides.length > 1 ? `${side}, ` : "") + row.label;
      if (row.note) head.append(document.createElement("br"), Object.assign(document.createElement("small"), { textContent: row.note }));
      line.append(head);
      for (const text of [row.asked, row.got]) {
        const cell = line.insertCell();
        cell.textContent = text;
        cell.className = "number";
      }
      line.className = row.is_kept ? "" : "is-off";
      off += !row.is_kept;
    }
  }
  at("tape-short").textContent = off ? `: ${off} of ${body.rows.length} differ` : ": every measure";
}

// ---- pieces and verdict

function showWorked(told, state) {
  keep(told.side, { sentence: told.sentence, figures: told.figures });
  showPieces(told.pieces, ask);
  at("pieces-state").textContent = state;
  const sides = Object.keys(arms).filter((side) => arms[side].figures);
  at("figures").replaceChildren(...sides.flatMap((side) => figureList(arms[side].figures, sides.length > 1 ? `${side}: ` : "")));
  if (sheet && !sheet.is_ready) return; // of the sheet as it was before what is marked now
  document.body.classList.remove("is-old");
  at("sentence").textContent = sides.map((side) => arms[side].sentence).join(" ");
}

function figureList(figures, before = "") {
  return figures.map((figure) => {
    const item = document.createElement("li");
    item.className = figure.is_met ? "is-met" : "is-over";
    item.dataset.key = figure.key;
    const value = Object.assign(document.createElement("b"), { textContent: `${figure.is_met ? "✓" : "over:"} ${figure.value}` });
    const limit = Object.assign(document.createElement("span"), { className: "limit", textContent: ` (limit ${figure.limit})` });
    item.append(`${before}${figure.heading} `, value, limit);
    return item;
  });
}

// ---- print, trial

function link(name, text) {
  return Object.assign(document.createElement("a"), { href: `out/${name}`, textContent: text, download: name });
}

function showReady(told) {
  at("made").hidden = false;
  const count = told.pages.length;
  at("made-says").textContent = `${count} ${count === 1 ? "page" : "pages"} on ${told.paper}. Print at 100 %, and measure the test square first.`;
  document.querySelector("#made .files").replaceChildren(
    link("pattern.pdf", "Pattern to print (PDF)"), link("sewing_guide.pdf", "Order of sewing (PDF)"),
    link("cut_pieces.svg", "Pieces (SVG)"), link("cut_pieces.dxf", "Pieces (DXF)"), link("report.html", "Report"),
    link("report.json", "All numbers (JSON)"), link("arm.glb", "Arm in 3D (GLB)"));
  at("cautions").replaceChildren(...[...told.faults, ...told.cautions].map((text) =>
    Object.assign(document.createElement("li"), { textContent: text })));
  at("pages").replaceChildren(...told.pages.map((name, number) => {
    const figure = document.createElement("figure");
    const picture = Object.assign(document.createElement("img"), {
      src: `out/page-${number}.png?${told.revision}-${told.paper}`, alt: `Page ${number + 1}: ${name}`, loading: "lazy",
      width: Math.round(told.sizes[number][0]), height: Math.round(told.sizes[number][1]),
    });
    figure.append(picture, Object.assign(document.createElement("figcaption"), { textContent: name }));
    return figure;
  }));
}

function showTrial(told) {
  const lines = told.lines.map((text) => Object.assign(document.createElement("p"), { textContent: text }));
  const table = document.createElement("table");
  const head = table.createTHead().insertRow();
  for (const text of ["Measure", "Trial", "Expected", "Explained"]) {
    head.append(Object.assign(document.createElement("th"), { textContent: text, scope: "col" }));
  }
  const body = table.createTBody();
  for (const [name, trial, expected, explained, isOdd] of told.rows) {
    const row = body.insertRow();
    for (const text of [isOdd ? `${name} (contradicts the others)` : name, trial, expected, explained]) row.insertCell().textContent = text;
  }
  at("explained").replaceChildren(...lines, table);
}

// ---- buttons, keys, light and dark

for (const what of ["undo", "redo", "take", "keep", "correct", "cancel"]) {
  at(what).addEventListener("click", () => ask(what));
}
at("explain").addEventListener("click", () => ask("trial"));
at("print").addEventListener("click", () => ask("print", { paper: at("paper").value }));
at("paper").addEventListener("change", () => { at("paper").dataset.chosen = "yes"; at("made").hidden = true; });
at("free").addEventListener("click", () => freeDarts(ask));
at("close").addEventListener("click", async () => {
  await ask("close");
  at("ended").hidden = false;
});
document.addEventListener("keydown", (event) => {
  if (!(event.ctrlKey || event.metaKey) || event.altKey) return;
  const key = event.key.toLowerCase();
  if (key !== "z" && key !== "y") return;
  event.preventDefault();
  ask(key === "y" || event.shiftKey ? "redo" : "undo");
});

const dark = window.matchMedia("(prefers-color-scheme: dark)");
function setTheme(name) {
  document.documentElement.dataset.theme = name;
  at("theme").setAttribute("aria-pressed", String(name === "dark"));
  turner?.redraw();
}
function chosenTheme() {
  try { return localStorage.getItem("theme"); } catch { return null; }
}
setTheme(chosenTheme() || (dark.matches ? "dark" : "light"));
dark.addEventListener("change", () => { if (!chosenTheme()) setTheme(dark.matches ? "dark" : "light"); });
at("theme").addEventListener("click", () => {
  const name = document.documentElement.dataset.theme === "dark" ? "light" : "dark";
  try { localStorage.setItem("theme", name); } catch { /* it is then asked again next time */ }
  setTheme(name);
});

buildForm(JSON.parse(at("form-data").textContent), ask, upload, lit);
beginOwn(ask, upload);

// A field's tape lights up on the arm; a landmark's field shows the scan that it lies on.
function lit(names) {
  turner?.light(names);
  const mark = names[0]?.startsWith("scan.") ? names[0].slice(5) : "";
  lightMark(mark);
  if (mark) turner?.choose(SCANNED);
}

listen();
