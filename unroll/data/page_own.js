// Her own draft: its files handed over, and what it comes to.
const at = (name) => document.getElementById(name);
let judgedAt = -1, now = -1; // revisions of the sheet

export function beginOwn(ask, upload) {
  const picked = at("own-files"), most = Number(at("form").dataset.mostBytes);
  picked.addEventListener("change", () => { at("judge").disabled = !picked.files.length && judgedAt < 0; });
  at("judge").addEventListener("click", async () => {
    at("own-fault").textContent = "";
    const large = [...picked.files].find((file) => file.size > most);
    if (large) { at("own-fault").textContent = `a file holds ${(large.size / 1e6).toFixed(1)} MB; expected at most ${most / 1e6} MB`; return; }
    let number = 0;
    for (const file of picked.files) {
      number += 1;
      if (!await upload(`draft/${number}`, file)) { at("own-fault").textContent = at("step").textContent; return; }
    }
    if (!await ask("own")) at("own-fault").textContent = at("step").textContent;
  });
}

export function oldOwn(revision) {
  now = revision;
  at("own-old").hidden = now === judgedAt;
}

function listed(name, lines) {
  at(name).replaceChildren(...lines.map((text) => Object.assign(document.createElement("li"), { textContent: text })));
}

export function showOwn(told, figures) {
  judgedAt = told.revision;
  oldOwn(Math.max(now, judgedAt));
  at("judged").hidden = at("judge").disabled = false;
  at("own-sentence").textContent = told.sentence;
  at("own-sewn").textContent = told.sewn;
  at("own-figures").replaceChildren(...figures);
  const svg = new DOMParser().parseFromString(told.drawing.replace("<svg ", '<svg xmlns="http://www.w3.org/2000/svg" '), "image/svg+xml");
  at("own-drawing").replaceChildren(document.importNode(svg.documentElement, true));
  listed("own-lines", [...told.seams, ...told.tape, ...told.changes]);
  listed("own-found", told.found);
  at("own-outlines").src = `out/own_outlines.png?${told.revision}-${Date.now()}`;
  const files = { "check.html": "The whole answer, with pictures", ...(told.is_changed ? { "changed.pdf": "Your draft, changed (PDF)", "changed.svg": "The same (SVG)" } : {}) };
  document.querySelector("#judged .files").replaceChildren(...Object.entries(files).map(([name, textContent]) =>
    Object.assign(document.createElement("a"), { href: `out/${name}`, download: name, textContent })));
}
