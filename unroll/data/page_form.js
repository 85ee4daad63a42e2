// The measures: a field for every entry of the sheet, what is wrong beside it, and its tape.
import { drawScanFile } from "./page_scan.js";

const at = (name) => document.getElementById(name);
const MOST_ROWS = 12;
let groups = [], ask = null, upload = null, light = null, sheet = null, shownArm = "arm";
const open = {}; // rows that are shown, by list, beyond those that are filled
const waiting = {}; // typed and not yet answered, by path
let isSending = false;

function element(parent, kind, text = "", values = {}) {
  const made = Object.assign(document.createElement(kind), values);
  if (text) made.textContent = text;
  parent.append(made);
  return made;
}

export function buildForm(described, asked, uploaded, lit) {
  groups = described;
  ask = asked;
  upload = uploaded;
  light = lit;
}

const tableOf = (group) => (group.table === "arm" ? shownArm : group.table);

function listed(path) { return path.split(".").map((part) => (/^\d+$/.test(part) ? Number(part) : part)); }

// ---- drawing the form; drawn anew only where its rows or arms are others than before

let drawnAs = "";

export function showSheet(told, isMine) {
  sheet = told;
  const isUnlike = told.is_unlike;
  if (isUnlike && shownArm === "arm") shownArm = "left_arm";
  if (!isUnlike) shownArm = "arm";
  const shape = JSON.stringify([shownArm, told.unit, told.entries["scan.file"], groups.map((group) => group.fields.map((field) =>
    field.kind === "rows" ? rowCount(`${tableOf(group)}.${field.name}`) : 0))]);
  if (shape !== drawnAs) { drawnAs = shape; draw(); }
  fill(isMine);
  mark();
}

function rowCount(path) {
  const filled = Object.keys(sheet.entries).filter((key) => key.startsWith(`${path}.`))
    .map((key) => Number(key.slice(path.length + 1).split(".")[0]) + 1);
  return Math.min(MOST_ROWS, Math.max(path.endsWith("darts") ? 0 : 1, open[path] || 0, ...filled));
}

function draw() {
  const held = document.activeElement?.dataset?.path;
  const folded = new Map([...document.querySelectorAll("#form details, #own-form details")].map((one) => [one.dataset.title, one.open]));
  const form = at("form"), trial = at("trial-form"), own = at("own-form");
  for (const place of [form, trial, own]) place.replaceChildren();
  drawTop(form);
  for (const group of groups) {
    if (group.table === "trial") { drawGroup(trial, group); continue; }
    if (!group.folded) { drawGroup(element(form, "fieldset"), group, true); continue; }
    const details = element(group.table === "draft" ? own : form, "details");
    details.dataset.title = group.title;
    details.open = folded.get(group.title) || (group.table === "scan" && Boolean(sheet.entries["scan.file"]));
    element(details, "summary", group.title);
    drawGroup(details, group);
  }
  if (held) document.querySelector(`[data-path="${held}"]`)?.focus();
}

function drawTop(form) {
  const top = element(form, "fieldset");
  drawField(top, "", { name: "owner", label: "whose arm", help: "for the labels", kind: "line", parts: [] });
  drawField(top, "", { name: "unit", label: "lengths in", help: "for numbers that say no unit of their own; what is typed already keeps its own", kind: "line", parts: [], choices: ["in", "cm", "mm"] });
  const row = element(top, "div", "", { className: "arms" });
  row.setAttribute("role", "group");
  row.setAttribute("aria-label", "Arms");
  if (!sheet.is_unlike) {
    arm(row, "Both arms alike", true, () => {});
    arm(row, "Two unlike arms", false, () => ask("part"));
    return;
  }
  for (const [name, label] of [["left_arm", "Left arm"], ["right_arm", "Right arm"]]) {
    arm(row, label, shownArm === name, () => { shownArm = name; drawnAs = ""; showSheet(sheet, false); });
  }
  arm(row, "Let the left one serve both", null, () => ask("join"));
}

function arm(row, text, pressed, choose) {
  const button = element(row, "button", text, { type: "button" });
  if (pressed !== null) button.setAttribute("aria-pressed", String(pressed));
  button.addEventListener("click", choose);
}

function drawGroup(place, group, hasLegend = false) {
  if (hasLegend) element(place, "legend", group.title);
  if (group.note) element(place, "p", group.note, { className: "note" });
  if (group.table === "scan") drawScanFile(place, sheet.entries, element, upload, Number(at("form").dataset.mostScan));
  for (const field of group.fields) drawField(place, `${tableOf(group)}.`, field);
}

function drawField(place, before, field) {
  const path = before + field.name;
  if (field.kind === "rows") { drawRows(place, path, field); return; }
  if (field.parts.length) {
    for (const part of field.parts) {
      const said = { ...field, name: `${field.name}.${part}`, parts: [], label: `${field.name === "armhole" ? "armhole " : ""}${part.replaceAll("_", " ")}` };
      if (part !== "width") said.number = null;
      if (part === "outline") said.help = "a drawing at true scale (SVG, DXF) or a photograph with the corner cards; or points of its edge, x forward and y up, one a line: 0 0, then -12 -3";
      drawField(place, before, said);
    }
    return;
  }
  const line = element(place, "div", "", { className: "field" });
  line.dataset.of = path;
  const id = `f-${path.replaceAll(".", "-")}`;
  const label = element(line, "label", "", { htmlFor: id });
  if (field.number) element(label, "span", String(field.number), { className: "badge" });
  label.append(field.label + (field.must ? " (needed)" : ""));
  const input = makeInput(line, path, field, id);
  if (path.endsWith(".outline")) drawTracing(line, path, id);
  for (const kind of ["estimate", "fault"]) {
    element(line, "p", "", { className: `told ${kind}`, id: `${id}-${kind}` });
  }
  input.setAttribute("aria-describedby", `${id}-fault ${id}-estimate tape-says`);
}

function makeInput(line, path, field, id) {
  let input;
  if (field.choices) {
    input = element(line, "select", "", { id });
    for (const choice of ["", ...field.choices]) {
      if (choice || path !== "unit") element(input, "option", choice || (/^(scan|draft)\./.test(path) ? "as found" : "as usual"), { value: choice });
    }
  } else if (path.endsWith(".outline")) {
    input = element(line, "textarea", "", { id, rows: 2, className: "wide", spellcheck: false });
  } else {
    input = element(line, "input", "", { id, type: "text", autocomplete: "off", spellcheck: false });
  }
  attend(input, path, field);
  return input;
}

function drawTracing(line, path, id) {
  const label = element(line, "label", "or a file of it", { htmlFor: `${id}-file` });
  label.className = "wide";
  const picked = element(line, "input", "", { id: `${id}-file`, type: "file", accept: ".svg,.dxf,.jpg,.jpeg,.png", className: "wide" });
  picked.setAttribute("aria-describedby", `${id}-fault`);
  picked.addEventListener("change", async () => {
    const [file] = picked.files, most = Number(at("form").dataset.mostBytes);
    if (!file) return;
    const isTooLarge = file.size > most;
    const told = !isTooLarge && await upload(`armhole/${path.split(".")[0]}`, file);
    picked.value = "";
    if (!told) showRefused(path, isTooLarge ? `the file holds ${(file.size / 1e6).toFixed(1)} MB; expected at most ${most / 1e6} MB` : at("step").textContent);
  });
}

function drawRows(place, path, field) {
  const box = element(place, "div", "", { className: "field" });
  box.dataset.of = path;
  element(box, "span", (field.number ? `${field.number}  ` : "") + field.label, { className: "wide" });
  const rows = element(box, "div", "", { className: "rows" });
  const count = rowCount(path);
  for (let k = 0; k < count; k++) {
    const row = element(rows, "div", "", { className: "row" });
    row.dataset.of = `${path}.${k}`;
    for (const part of field.parts) {
      const label = element(row, "label", part);
      const input = element(label, "input", "", { type: "text", autocomplete: "off", spellcheck: false });
      input.setAttribute("aria-label", `${field.label} ${k + 1}, ${part}`);
      attend(input, `${path}.${k}.${part}`, field);
    }
  }
  if (count < MOST_ROWS) {
    const more = element(rows, "button", "One more", { type: "button" });
    more.addEventListener("click", () => {
      open[path] = count + 1;
      showSheet(sheet, false);
      document.querySelector(`[data-path="${path}.${count}.${field.parts[0]}"]`)?.focus();
    });
  }
  for (const kind of ["estimate", "fault"]) element(box, "p", "", { className: `told ${kind}` });
}

function attend(input, path, field) {
  input.dataset.path = path;
  input.addEventListener("input", () => { waiting[path] = input.value; send(); lightTape(path, field, input.value); });
  input.addEventListener("focus", () => lightTape(path, field, input.value));
  input.addEventListener("blur", () => lightTape(""));
}

// ---- what is typed goes off at once, one change after another

async function send() {
  if (isSending) return;
  isSending = true;
  try {
    let path;
    while ((path = Object.keys(waiting)[0])) {
      const value = waiting[path];
      const told = await ask("edit", { path: listed(path), value });
      if (waiting[path] === value) delete waiting[path];
      if (!told) showRefused(path, at("step").textContent);
    }
  } finally {
    isSending = false;
  }
}

function showRefused(path, text) {
  const line = document.querySelector(`[data-path="${path}"]`)?.closest("[data-of]");
  line?.classList.add("is-bad");
  const place = line?.querySelector(".fault");
  if (place) place.textContent = text;
}

const plain = (text) => text.trim().replace(/\s+/g, " ");
const parted = (text) => text.split(";").map(plain).filter(Boolean).join(";"); // as the sheet has it

function fill() {
  for (const input of document.querySelectorAll("[data-path]")) {
    const path = input.dataset.path, value = sheet.entries[path] ?? "";
    if (path in waiting || (input === document.activeElement && parted(input.value) === parted(value))) continue;
    if (input.value !== value) input.value = value;
  }
}

// ---- faults and estimates

function mark() {
  const faults = new Map();
  const rest = [];
  for (const [path, text] of sheet.faults) {
    let near = path;
    while (near && !document.querySelector(`[data-of="${near}"]`)) near = near.includes(".") ? near.slice(0, near.lastIndexOf(".")) : "";
    if (near) faults.set(near, [...(faults.get(near) || []), text]);
    else rest.push(text);
  }
  const missing = /is missing/;
  for (const line of document.querySelectorAll("[data-of]")) {
    const found = faults.get(line.dataset.of) || [];
    const isNeeded = found.length > 0 && found.every((text) => missing.test(text));
    line.classList.toggle("is-bad", found.length > 0 && !isNeeded);
    line.classList.toggle("is-needed", isNeeded);
    const input = line.querySelector(":scope > input, :scope > select, :scope > textarea");
    if (input) input.setAttribute("aria-invalid", String(found.length > 0));
    const place = line.querySelector(":scope > .fault") || line.closest(".field")?.querySelector(":scope > .fault");
    if (place && line.classList.contains("field")) {
      const inside = [...faults].filter(([path]) => path === line.dataset.of || path.startsWith(`${line.dataset.of}.`));
      place.textContent = inside.flatMap(([, texts]) => texts).filter((text) => !missing.test(text)).join(". ");
    }
    estimate(line, input);
  }
  at("sheet-faults").replaceChildren(...rest.map((text) => Object.assign(document.createElement("p"), { textContent: text })));
}

function estimate(line, input) {
  if (!input || line.dataset.of.split(".").length < 2) return;
  const found = sheet.estimates[line.dataset.of];
  const isEmpty = !sheet.entries[line.dataset.of];
  if ("placeholder" in input) input.placeholder = isEmpty && found ? found[0] : line.classList.contains("is-needed") ? "needed" : "";
  const place = line.querySelector(":scope > .estimate");
  const notice = sheet.notices.filter(([name]) => name && line.dataset.of.endsWith(`.${name}`)).map((pair) => pair[1]);
  if (place) place.textContent = isEmpty && found ? found[1] : notice.join(". ");
}

// ---- the drawn arm

export function lightTape(path, field = {}, value = "") {
  const name = path.replace(/^(arm|left_arm|right_arm|trial)\./, "").replace(/\.\d+\..*$/, "");
  for (const part of document.querySelectorAll(".measured [data-fields]")) {
    part.classList.toggle("is-lit", path !== "" && part.dataset.fields.split(" ").includes(name));
  }
  light(path.startsWith("scan.") ? [path] : path ? [{ girths: "girth_", cap_arcs: "cap_arc" }[name] || name] : []);
  at("tape-says").textContent = path ? `${field.number ? `${field.number}. ` : ""}${field.label}: ${field.help || "as the sheet asks it"}` : "Click a measure: its tape lights up here.";
  for (const drawing of document.querySelectorAll(".measured")) sayOn(drawing, value);
}

function sayOn(drawing, value) {
  const said = drawing.querySelector(".said");
  const lit = [...drawing.querySelectorAll(".is-lit")];
  const readings = plain(value).split(";").map((part) => part.trim()).filter(Boolean);
  const text = readings.length > 1 ? `${readings.length} readings, ${readings.at(-1)}` : readings[0] || "";
  if (!lit.length || !text) { said.setAttribute("hidden", ""); return; }
  const ring = lit.map((part) => part.querySelector(".ring")).find(Boolean);
  const box = (ring || lit[0]).getBBox();
  const isBare = /[\d⅛-⅞¼½¾]$/.test(text);
  const words = said.querySelector("text");
  words.textContent = isBare && sheet ? `${text} ${sheet.unit}` : text;
  said.removeAttribute("hidden");
  const width = words.getComputedTextLength() + 18, view = drawing.viewBox.baseVal;
  const x = Math.min(Math.max(box.x + box.width / 2, width / 2 + 4), view.width - width / 2 - 4);
  const y = Math.min(box.y + box.height + 6, view.height - 36);
  words.setAttribute("x", x);
  words.setAttribute("y", y + 24);
  const rect = said.querySelector("rect");
  rect.setAttribute("x", x - width / 2);
  rect.setAttribute("y", y);
  rect.setAttribute("width", width);
}
