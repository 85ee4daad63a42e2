"use strict";
// Where the eye stands before a model, and what it sees where. Yaw 0 looks at the arm's outside; a
// quarter turn looks at its front.
// cameraOf(model, state, wide, high) returns: view and lens, matrices; right and up, ways on the stage;
// project(place), a point's place on the stage in pixels; rayAt(x, y), from the eye through a pixel.
function cameraOf(model, state, wide, high) {
  const aspect = wide / high;
  const outward = model.side === "right" ? -1 : 1;
  const c = Math.cos(state.pitch);
  const toward = [c * Math.sin(state.yaw), outward * c * Math.cos(state.yaw), Math.sin(state.pitch)];
  const flat = Math.hypot(toward[0], toward[1]);
  const right = [-toward[1] / flat, toward[0] / flat, 0];
  const up = [
    toward[1] * right[2] - toward[2] * right[1],
    toward[2] * right[0] - toward[0] * right[2],
    toward[0] * right[1] - toward[1] * right[0],
  ];
  const { low, size } = model.box;
  const centre = low.map((value, k) => value + size[k] / 2);
  centre[2] += (state.slide * size[2]) / 2;
  const dot = (a, b) => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
  const reach = (axis) => axis.reduce((sum, a, k) => sum + (Math.abs(a) * size[k]) / 2, 0);
  const slope = Math.tan(Math.PI / 18);
  const radius = Math.hypot(...size) / 2;
  const fit = Math.max(reach(up), reach(right) / aspect) * 1.08;
  const distance = fit / slope / state.zoom + reach(toward);
  const rows = [right, up, toward];
  const view = new Float32Array(16);
  for (let k = 0; k < 3; k++) {
    for (let j = 0; j < 3; j++) view[4 * j + k] = rows[k][j];
    view[12 + k] = -dot(rows[k], centre);
  }
  view[14] -= distance;
  view[15] = 1;
  const near = Math.max(distance - 1.2 * radius, distance / 50), far = distance + 1.2 * radius;
  const lens = new Float32Array(16);
  lens[0] = 1 / (slope * aspect);
  lens[5] = 1 / slope;
  lens[10] = (far + near) / (near - far);
  lens[11] = -1;
  lens[14] = (2 * far * near) / (near - far);

  function project(place) {
    const [x, y, z] = [0, 1, 2].map((k) => view[k] * place[0] + view[4 + k] * place[1] + view[8 + k] * place[2] + view[12 + k]);
    return [(1 - (lens[0] * x) / z) * 0.5 * wide, (1 + (lens[5] * y) / z) * 0.5 * high];
  }

  function rayAt(x, y) {
    const sideways = ((2 * x) / wide - 1) / lens[0], upwards = (1 - (2 * y) / high) / lens[5];
    return {
      from: centre.map((value, k) => value + distance * toward[k]),
      way: [0, 1, 2].map((k) => sideways * right[k] + upwards * up[k] - toward[k]),
    };
  }

  return { view, lens, right, up, project, rayAt };
}
