"use strict";
// What a tape was asked to find and what it finds, written beside the tapes of a model in 3D.
// createTapeLabels(stage) returns show(tapes, project): tapes are those that are drawn, the ones that
// are lit marked; project(x, y, z) gives a point's place on the stage in pixels.
function createTapeLabels(stage) {
  const place = document.createElement("div");
  place.className = "tape-labels";
  stage.append(place);
  const GAP = 8, NARROW = 420;  // pixels

  function extent(tape, project) {
    const p = tape.spots, ends = { left: Infinity, right: -Infinity, y: 0 };
    for (let k = 0; k + 2 < p.length; k += 3) {
      const [x, y] = project(p[k], p[k + 1], p[k + 2]);
      if (x < ends.left) ends.left = x;
      if (x > ends.right) Object.assign(ends, { right: x, y });
    }
    return ends;
  }

  function written(tape) {
    const label = document.createElement("div");
    label.className = tape.isLit ? "is-lit" : "";
    label.append(Object.assign(document.createElement("b"), { textContent: tape.label }));
    const said = tape.asked === tape.got ? ["asked and ", `got ${tape.got}`] : [`asked ${tape.asked}, `, `got ${tape.got}`];
    for (const textContent of said) label.append(Object.assign(document.createElement("span"), { textContent }));
    place.append(label);
    return label;
  }

  let shown = "";
  function show(tapes, project) {
    const words = JSON.stringify(tapes.map((tape) => [tape.label, tape.asked, tape.got, tape.isLit]));
    if (words !== shown) {
      place.replaceChildren();
      tapes.forEach(written);
      shown = words;
    }
    const width = stage.clientWidth, height = stage.clientHeight;
    place.classList.toggle("is-narrow", width < NARROW);
    const rows = tapes.map((tape, k) => ({ label: place.children[k], ...extent(tape, project) }));
    let lowest = 0;
    for (const row of rows.sort((one, other) => one.y - other.y)) {
      const { offsetWidth: wide, offsetHeight: high } = row.label;
      const x = row.right + GAP + wide <= width ? row.right + GAP
        : row.left - GAP - wide >= 0 ? row.left - GAP - wide : Math.max(0, width - wide);
      const y = Math.max(lowest, Math.min(row.y - high / 2, height - high));
      row.label.style.transform = `translate(${x.toFixed(1)}px, ${y.toFixed(1)}px)`;
      row.label.style.visibility = row.y < 0 || row.y > height || y + high > height ? "hidden" : "";
      lowest = y + high + 2;
    }
  }

  return show;
}
