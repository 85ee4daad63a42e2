"use strict";
// A turnable view of coloured meshes with lines on them. Needs WebGL; without it the still picture
// stays. Frame of the models: x forward, y to the wearer's left, z up, millimetres.
// createTurner(root) returns null where it cannot draw; else update(models, first) shows models: the
// one called `first` until another is chosen by its button. What is looked at, from where and how large
// stays as it was. light(names) lights the tapes of these names; redraw() follows another background;
// choose(name) shows the model of that name. follow(model, seen) is called after each drawing, with the
// model as it was given and what cameraOf returns.
function createTurner(turner, follow = () => {}) {
  const canvas = turner.querySelector("canvas");
  const live = turner.querySelector(".live");
  const still = turner.querySelector(".still");
  const gl = canvas.getContext("webgl", { antialias: true, alpha: false });
  if (!gl) return null;
  const showLabels = createTapeLabels(turner.querySelector(".stage"));
  const wideIndices = gl.getExtension("OES_element_index_uint");

  // ---- arrays and programs

  function bytes(text) {
    const raw = atob(text);
    const out = new Uint8Array(raw.length);
    for (let k = 0; k < raw.length; k++) out[k] = raw.charCodeAt(k);
    return out.buffer;
  }

  function buffer(data, target = gl.ARRAY_BUFFER) {
    const made = gl.createBuffer();
    gl.bindBuffer(target, made);
    gl.bufferData(target, data, gl.STATIC_DRAW);
    return made;
  }

  function program(vertexText, fragmentText) {
    const made = gl.createProgram();
    for (const [kind, text] of [[gl.VERTEX_SHADER, vertexText], [gl.FRAGMENT_SHADER, fragmentText]]) {
      const shader = gl.createShader(kind);
      gl.shaderSource(shader, text);
      gl.compileShader(shader);
      gl.attachShader(made, shader);
    }
    gl.linkProgram(made);
    return made;
  }

  const surface = program(
    `attribute vec3 place, normal, colour;
     uniform mat4 view, lens; uniform vec3 low, size;
     varying vec3 lit, tint;
     void main() {
       lit = (view * vec4(normal, 0.0)).xyz; tint = colour;
       gl_Position = lens * view * vec4(low + size * place, 1.0);
     }`,
    `precision mediump float; varying vec3 lit, tint; uniform float cover, stripe;
     void main() {
       vec3 n = normalize(lit) * (gl_FrontFacing ? 1.0 : -1.0);
       float lamp = max(dot(n, normalize(vec3(-0.35, 0.45, 1.0))), 0.0);
       // What lies too low is blue, and striped for eyes and printers that see no blue.
       bool isLow = stripe > 0.0 && tint.b > tint.r + 0.03;
       float ink = isLow && mod(gl_FragCoord.x + gl_FragCoord.y, 5.0 * stripe) < 1.5 * stripe ? 0.72 : 1.0;
       gl_FragColor = vec4(tint * ink * (0.66 + 0.34 * lamp), cover);
     }`);

  // Lines are ribbons that face the eye: each segment is four corners that know both of its ends.
  const ribbon = program(
    `attribute vec3 here, there; attribute float across;
     uniform mat4 view, lens; uniform vec2 screen; uniform float width;
     void main() {
       vec4 a = lens * view * vec4(here, 1.0), b = lens * view * vec4(there, 1.0);
       vec2 along = (b.xy / b.w - a.xy / a.w) * screen;
       along = along / max(length(along), 1e-6);
       a.xy += vec2(-along.y, along.x) * across * width / screen * a.w;
       a.z -= 0.0015 * a.w;
       gl_Position = a;
     }`,
    `precision mediump float; uniform vec3 ink; void main() { gl_FragColor = vec4(ink, 1.0); }`);

  function attribute(owner, name, data, count, type, normalised, stride = 0, offset = 0) {
    const at = gl.getAttribLocation(owner, name);
    gl.bindBuffer(gl.ARRAY_BUFFER, data);
    gl.enableVertexAttribArray(at);
    gl.vertexAttribPointer(at, count, type, normalised, stride, offset);
  }

  function uniform(owner, name, ...value) {
    const at = gl.getUniformLocation(owner, name);
    if (value[0].length === 16) gl.uniformMatrix4fv(at, false, value[0]);
    else gl["uniform" + value.length + "f"](at, ...value);
  }

  // ---- models on the graphics card

  const styles = {
    seam: { ink: [0.15, 0.2, 0.23], width: 2.6 },
    dart: { ink: [0.64, 0.21, 0.17], width: 3.2 },
    reference: { ink: [0.15, 0.2, 0.23], width: 1.1 },
    tape: { ink: [0.16, 0.36, 0.55], width: 2.0 },
    lit: { ink: [0.8, 0.27, 0.03], width: 5.0 },
  };

  function ribbonData(line) {
    const p = new Float32Array(bytes(line.points));
    const corners = [], order = [];
    for (let k = 0; k + 5 < p.length; k += 3) {
      const a = p.subarray(k, k + 3), b = p.subarray(k + 3, k + 6), first = corners.length / 7;
      // Seen from its far end the segment runs the other way, so its sides change sign.
      corners.push(...a, ...b, 1, ...a, ...b, -1, ...b, ...a, -1, ...b, ...a, 1);
      order.push(first, first + 1, first + 2, first + 2, first + 1, first + 3);
    }
    return {
      kind: line.kind, count: order.length, corners: buffer(new Float32Array(corners)),
      order: buffer(new Uint16Array(order), gl.ELEMENT_ARRAY_BUFFER),
    };
  }

  function upload(model) {
    const faces = bytes(model.faces);
    return {
      ...model,
      given: model,
      size: model.high.map((value, k) => value - model.low[k]),
      count: faces.byteLength / (model.wide ? 4 : 2),
      positions: buffer(bytes(model.positions)),
      normals: buffer(bytes(model.normals)),
      faces: buffer(faces, gl.ELEMENT_ARRAY_BUFFER),
      looks: model.looks.map((look) => ({ ...look, colours: buffer(bytes(look.colours)) })),
      lines: model.lines.map(ribbonData),
      tapes: model.tapes.map((tape) => (
        { ...tape, ...ribbonData(tape), spots: new Float32Array(bytes(tape.points)) })),
    };
  }

  function forget(model) {
    const looks = model.looks.map((look) => look.colours);
    const lines = [...model.lines, ...model.tapes].flatMap((line) => [line.corners, line.order]);
    for (const made of [model.positions, model.normals, model.faces, ...looks, ...lines]) gl.deleteBuffer(made);
  }

  let shown = [];

  function update(models, first = "") {
    if (models.some((model) => model.wide) && !wideIndices) return false;
    const before = shown[state.model];
    const look = before && before.looks[state.look].name;
    const kept = new Map(shown.map((model) => [model.given, model]));
    shown.filter((model) => !models.includes(model.given)).forEach(forget);
    shown = models.map((model) => kept.get(model) || upload(model));
    // Models of one arm share their frame, so that changing from one to the other shows the change.
    for (const model of shown) {
      const family = shown.filter((other) => (model.alone ? other === model : other.side === model.side && !other.alone))
        .map((other) => other.focus || other);
      const low = [0, 1, 2].map((k) => Math.min(...family.map((other) => other.low[k])));
      const high = [0, 1, 2].map((k) => Math.max(...family.map((other) => other.high[k])));
      model.box = { low, size: high.map((value, k) => value - low[k]) };
    }
    if (before || first) {
      const wanted = before && (state.isChosen || !first) ? before.name : first;
      const found = shown.findIndex((model) => model.name.endsWith(wanted));
      state.model = Math.max(0, found);
      state.look = Math.max(0, shown[state.model].looks.findIndex((one) => one.name === look));
    }
    live.hidden = false;
    still.hidden = true;
    const held = [...turner.querySelectorAll("button")].indexOf(document.activeElement);
    buildControls();
    if (held >= 0) turner.querySelectorAll("button")[held]?.focus();
    redraw();
    return true;
  }

  const state = { model: 0, look: 0, yaw: 0, pitch: 0, zoom: 1, slide: 0, lines: true, tapes: true, lit: [], veil: false, isChosen: false };

  // ---- drawing

  function ground() {
    const found = getComputedStyle(canvas).backgroundColor.match(/[\d.]+/g);
    return found ? found.slice(0, 3).map((part) => part / 255) : [1, 1, 1];
  }

  function draw() {
    const density = Math.min(window.devicePixelRatio || 1, 2);
    const width = Math.round(canvas.clientWidth * density), height = Math.round(canvas.clientHeight * density);
    if (!width || !height) return;
    if (canvas.width !== width || canvas.height !== height) Object.assign(canvas, { width, height });
    const model = shown[state.model];
    const seen = cameraOf(model, state, canvas.clientWidth, canvas.clientHeight), { view, lens } = seen;
    gl.viewport(0, 0, width, height);
    gl.clearColor(...ground(), 1);
    gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT);
    gl.enable(gl.DEPTH_TEST);

    drawSurface(model, state.look, view, lens, 1.0, density);
    const tapes = model.tapes.map((tape) => ({ ...tape, isLit: state.lit.some((name) => tape.name.startsWith(name)) }))
      .filter((tape) => tape.isLit || (state.tapes && (tape.girth || tape.name.startsWith("cap_arc"))));
    const lines = state.lines ? model.lines : [];
    drawLines([...lines, ...tapes], view, lens, width, height, density);
    showLabels(tapes, (...place) => seen.project(place));
    follow(model.given, seen);
    const over = state.veil && !model.alone && shown.find((other) => other.side === model.side);
    if (!over || over === model) return;
    gl.enable(gl.BLEND);
    gl.blendFunc(gl.SRC_ALPHA, gl.ONE_MINUS_SRC_ALPHA);
    gl.depthMask(false);
    drawSurface(over, 0, view, lens, 0.4, density);
    gl.depthMask(true);
    gl.disable(gl.BLEND);
  }

  function drawSurface(model, look, view, lens, cover, density) {
    gl.useProgram(surface);
    attribute(surface, "place", model.positions, 3, gl.UNSIGNED_SHORT, true);
    attribute(surface, "normal", model.normals, 3, gl.BYTE, true);
    attribute(surface, "colour", model.looks[look].colours, 3, gl.UNSIGNED_BYTE, true);
    uniform(surface, "view", view);
    uniform(surface, "lens", lens);
    uniform(surface, "low", ...model.low);
    uniform(surface, "size", ...model.size);
    gl.uniform1f(gl.getUniformLocation(surface, "cover"), cover);
    const stripe = model.looks[look].legend?.signed ? density : 0;
    gl.uniform1f(gl.getUniformLocation(surface, "stripe"), stripe);
    gl.bindBuffer(gl.ELEMENT_ARRAY_BUFFER, model.faces);
    gl.drawElements(gl.TRIANGLES, model.count, model.wide ? gl.UNSIGNED_INT : gl.UNSIGNED_SHORT, 0);
  }

  function drawLines(lines, view, lens, width, height, density) {
    gl.useProgram(ribbon);
    uniform(ribbon, "view", view);
    uniform(ribbon, "lens", lens);
    uniform(ribbon, "screen", width, height);
    for (const line of lines) {
      const style = styles[line.isLit ? "lit" : line.kind || "tape"];
      uniform(ribbon, "ink", ...style.ink);
      const at = gl.getUniformLocation(ribbon, "width");
      gl.uniform1f(at, style.width * density);
      attribute(ribbon, "here", line.corners, 3, gl.FLOAT, false, 28, 0);
      attribute(ribbon, "there", line.corners, 3, gl.FLOAT, false, 28, 12);
      attribute(ribbon, "across", line.corners, 1, gl.FLOAT, false, 28, 24);
      gl.bindBuffer(gl.ELEMENT_ARRAY_BUFFER, line.order);
      gl.drawElements(gl.TRIANGLES, line.count, gl.UNSIGNED_SHORT, 0);
    }
  }

  let isWaiting = false;
  function redraw() {
    if (isWaiting) return;
    isWaiting = true;
    requestAnimationFrame(() => { isWaiting = false; draw(); });
  }

  // ---- turning, by hand and by key

  function turn(sideways, upwards) {
    const outward = shown[state.model].side === "right" ? -1 : 1;
    state.yaw += outward * sideways;
    state.pitch = Math.max(-1.4, Math.min(1.4, state.pitch + upwards));
    redraw();
  }

  function resize(factor) {
    state.zoom = Math.max(0.6, Math.min(6, state.zoom * factor));
    redraw();
  }

  function slide(step) {
    state.slide = Math.max(-1, Math.min(1, state.slide + step / state.zoom));
    redraw();
  }

  function reset() {
    Object.assign(state, { yaw: 0, pitch: 0, zoom: 1, slide: 0 });
    redraw();
  }

  const keys = {
    ArrowLeft: () => turn(-0.13, 0), ArrowRight: () => turn(0.13, 0),
    ArrowUp: () => turn(0, 0.13), ArrowDown: () => turn(0, -0.13),
    "+": () => resize(1.15), "=": () => resize(1.15), "-": () => resize(1 / 1.15), Home: reset,
    PageUp: () => slide(0.25), PageDown: () => slide(-0.25),
  };
  canvas.addEventListener("keydown", (event) => {
    if (!keys[event.key] || event.ctrlKey || event.metaKey || event.altKey) return;
    event.preventDefault();
    keys[event.key]();
  });
  canvas.addEventListener("pointerdown", (event) => {
    canvas.setPointerCapture(event.pointerId);
    state.held = [event.clientX, event.clientY];
  });
  canvas.addEventListener("pointermove", (event) => {
    if (!state.held) return;
    turn((event.clientX - state.held[0]) * 0.01, (event.clientY - state.held[1]) * 0.008);
    state.held = [event.clientX, event.clientY];
  });
  for (const name of ["pointerup", "pointercancel"]) {
    canvas.addEventListener(name, () => { state.held = null; });
  }

  // ---- buttons and legend

  const controls = turner.querySelector(".controls");
  const more = turner.querySelector(".more") || controls;  // where there is less room
  const legend = turner.querySelector(".legend");

  function element(parent, kind, text, className) {
    const made = document.createElement(kind);
    if (text) made.textContent = text;
    if (className) made.className = className;
    return parent.appendChild(made);
  }

  function choices(title, names, isChosen, choose, place = more) {
    const group = element(place, "div");
    group.setAttribute("role", "group");
    group.setAttribute("aria-label", title);
    element(group, "span", title, "what");
    names.forEach((name, k) => {
      const button = element(group, "button", name);
      button.type = "button";
      if (isChosen) button.setAttribute("aria-pressed", String(isChosen(k)));
      button.addEventListener("click", () => {
        choose(k);
        if (isChosen) {
          [...group.querySelectorAll("button")].forEach((other, j) =>
            other.setAttribute("aria-pressed", String(isChosen(j))));
        }
        redraw();
      });
    });
  }

  function showLegend() {
    const told = shown[state.model].looks[state.look].legend;
    legend.replaceChildren();
    if (!told) return;
    element(legend, "div", told.title + (told.signed ? "; striped where too low" : ""));
    const ramp = `linear-gradient(to right, ${told.stops.join(",")})`;
    const stripes = "repeating-linear-gradient(-45deg, #0007 0 1.5px, #0000 1.5px 5px) 0 0 / 50% 100% no-repeat, ";
    element(legend, "div", "", "bar").style.background = (told.signed ? stripes : "") + ramp;
    const ticks = element(legend, "div", "", "ticks");
    for (const [place, text] of told.ticks) element(ticks, "span", text).style.left = 100 * place + "%";
  }

  function buildControls() {
    const model = shown[state.model];
    controls.replaceChildren();
    more.replaceChildren();
    if (shown.length > 1) {
      choices("Show", shown.map((m) => m.name), (k) => k === state.model, (k) => {
        const wanted = model.looks[state.look].name;
        state.model = k;
        state.isChosen = true;
        state.look = Math.max(0, shown[k].looks.findIndex((look) => look.name === wanted));
        buildControls();
        // The buttons were made anew: give the keyboard back its place.
        controls.querySelectorAll("button")[k].focus();
      }, controls);
    }
    if (model.looks.length > 1) {
      choices("Colours", model.looks.map((look) => look.name), (k) => k === state.look, (k) => {
        state.look = k;
        showLegend();
      }, controls);
    }
    const sides = [["Outside", 0, 0], ["Front", 90, 0], ["Inside", 180, 0], ["Back", -90, 0], ["Shoulder", 30, 40]];
    choices("From", sides.map((side) => side[0]), null, (k) => {
      state.yaw = (sides[k][1] * Math.PI) / 180;
      state.pitch = (sides[k][2] * Math.PI) / 180;
    });
    choices("Size", ["Larger", "Smaller", "Whole"], null, (k) => {
      if (k === 2) Object.assign(state, { zoom: 1, slide: 0 });
      else resize(k ? 1 / 1.25 : 1.25);
    });
    choices("Look", ["Higher", "Lower"], null, (k) => slide(k ? -0.4 : 0.4));
    const drawn = ["lines", "tapes"];
    choices("Lines", ["Seams", "Tapes"], (k) => state[drawn[k]], (k) => { state[drawn[k]] = !state[drawn[k]]; });
    if (!model.alone && model !== shown.find((other) => other.side === model.side)) {
      choices("Over it", ["The wanted arm"], () => state.veil, () => { state.veil = !state.veil; });
    }
    showLegend();
  }

  canvas.addEventListener("webglcontextlost", () => { live.hidden = true; still.hidden = false; });
  new ResizeObserver(redraw).observe(canvas);
  function light(names) {
    const isSame = names.join() === state.lit.join();
    state.lit = names;
    if (shown.length && !isSame) redraw();
  }

  function choose(name) {
    const found = shown.findIndex((model) => model.name.endsWith(name));
    if (found < 0) return;
    state.isChosen = true;  // also where it is the only one yet
    if (found === state.model) return;
    Object.assign(state, { model: found, look: 0 });
    buildControls();
    redraw();
  }

  return { update, light, redraw, choose };
}

for (const root of document.querySelectorAll(".turner:has(.models)")) {
  const turner = createTurner(root);
  if (turner) turner.update(JSON.parse(root.querySelector(".models").textContent));
}

// A link into a folded section unfolds it, and paper shows everything.
function unfold(name) {
  const target = name && document.getElementById(name);
  const folded = target && target.querySelector("details");
  if (folded) folded.open = true;
}
window.addEventListener("hashchange", () => unfold(location.hash.slice(1)));
window.addEventListener("beforeprint", () => {
  for (const folded of document.querySelectorAll("details")) folded.open = true;
});
unfold(location.hash.slice(1));
