"use strict";
// Both versions turned freely, side by side through one camera. Drawn when something moves, not else.
(() => {
  const SHAPE = `#version 300 es
in vec3 place; in vec3 normal; in vec2 uv; in uvec4 face;
uniform mat3 turn; uniform vec3 scale; uniform vec2 slide; uniform vec3 nudge;
out vec3 n; out vec2 t; out vec3 corner; flat out uvec4 about;
void main() {
  vec3 seen = turn * place;
  int k = gl_VertexID % 3;
  corner = vec3(k == 0, k == 1, k == 2);
  n = turn * normal; t = uv; about = face;
  gl_Position = vec4(seen.xy * scale.xy + slide + nudge.xy, -seen.z * scale.z + nudge.z, 1.0);
}`;
  const LOOK = `#version 300 es
precision highp float; precision highp int;
in vec3 n; in vec2 t; in vec3 corner; flat in uvec4 about;
uniform int mode; uniform bool edges; uniform float cells; uniform vec4 ink;
out vec4 colour;
const vec3 TINTS[{{ tints|length }}] = vec3[{{ tints|length }}](
  {% for r, g, b in tints %}vec3({{ r }}, {{ g }}, {{ b }}){{ "" if loop.last else ", " }}{% endfor %}

);
vec3 cividis(float x) {
  vec3 a = vec3(0., .135, .305), b = vec3(.33, .36, .43), c = vec3(.58, .56, .47), d = vec3(.996, .91, .22);
  return x < .33 ? mix(a, b, x / .33) : x < .6 ? mix(b, c, (x - .33) / .27) : mix(c, d, (x - .6) / .4);
}
float board(vec2 p, vec2 w) { // a two-tone board, averaged over the pixel
  vec2 i = 2. * (abs(fract((p - .5 * w) * .5) - .5) - abs(fract((p + .5 * w) * .5) - .5)) / w;
  return .5 - .5 * i.x * i.y;
}
void main() {
  if (ink.a > 0.) { colour = ink; return; }
  bool inner = !gl_FrontFacing, unmapped = (about.x & 8u) != 0u, mirrored = (about.x & 16u) != 0u;
  vec3 face = normalize(inner ? -n : n);
  float light = .34 + .5 * max(0., dot(face, vec3(-.46, .56, .68))) + .18 * max(0., dot(face, vec3(.8, .1, .5)));
  vec3 base = TINTS[about.z | about.w << 8];
  if (mode == 1) base = mix(vec3(.93, .92, .88), vec3(.36, .41, .47), board(t * cells, max(fwidth(t * cells), 1e-5)));
  if (mode == 2) base = cividis(float(about.y) / 255.);
  bool stripe = mod(gl_FragCoord.x + gl_FragCoord.y, 8.) < 2.;
  if (mode > 0 && unmapped) base = stripe ? vec3(.42) : vec3(.62);
  else if (mode > 0 && mirrored && stripe) base *= .55;
  vec3 shown = base * (mode == 2 ? .55 + .5 * light : light * 1.05);
  if (inner) shown *= stripe ? .25 : .5;
  if (edges) {
    vec3 drawn = vec3(about.x & 1u, about.x >> 1 & 1u, about.x >> 2 & 1u);
    vec3 near = mix(vec3(9.), corner / fwidth(corner), drawn);
    shown = mix(shown, vec3(.08, .1, .13), .75 * (1. - smoothstep(.4, 1.3, min(near.x, min(near.y, near.z)))));
  }
  colour = vec4(shown, 1.);
}`;
  const make = (tag, fields = {}, ...children) => {
    const node = Object.assign(document.createElement(tag), fields);
    node.append(...children);
    return node;
  };
  const clamp = (value, low, high) => Math.min(high, Math.max(low, value));

  const unpacked = async (id) => {
    const bytes = Uint8Array.from(atob(document.getElementById(id).textContent.trim()), (c) => c.charCodeAt(0));
    const stream = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("gzip"));
    const data = await new Response(stream).arrayBuffer();
    let at = 0;
    const take = (Kind, count) => {
      const array = new Kind(data, at, count);
      at += (array.byteLength + 3) & ~3;
      return array;
    };
    const head = JSON.parse(new TextDecoder().decode(take(Uint8Array, take(Uint32Array, 1)[0])));
    const corners = head.triangles * 3;
    const solid = { corners, seams: head.seams * 2, place: take(Int16Array, corners * 3), normal: take(Int8Array, corners * 3), uv: take(Float32Array, corners * 2) };
    const faces = take(Uint32Array, head.triangles);
    solid.face = new Uint32Array(corners).map((_, k) => faces[(k / 3) | 0]);
    solid.seam = take(Int16Array, head.seams * 6);
    return solid;
  };

  const program = (gl) => {
    const linked = gl.createProgram();
    [[gl.VERTEX_SHADER, SHAPE], [gl.FRAGMENT_SHADER, LOOK]].forEach(([kind, text]) => {
      const shader = gl.createShader(kind);
      gl.shaderSource(shader, text);
      gl.compileShader(shader);
      gl.attachShader(linked, shader);
    });
    ["place", "normal", "uv", "face"].forEach((name, at) => gl.bindAttribLocation(linked, at, name));
    gl.linkProgram(linked);
    if (!gl.getProgramParameter(linked, gl.LINK_STATUS)) throw new Error(gl.getProgramInfoLog(linked) || "no program");
    return linked;
  };

  const uploaded = (gl, solid) => {
    const array = (...attributes) => {
      const vertices = gl.createVertexArray();
      gl.bindVertexArray(vertices);
      attributes.forEach(([data, size, kind], at) => {
        gl.bindBuffer(gl.ARRAY_BUFFER, gl.createBuffer());
        gl.bufferData(gl.ARRAY_BUFFER, data, gl.STATIC_DRAW);
        gl.enableVertexAttribArray(at);
        if (kind === gl.UNSIGNED_BYTE) gl.vertexAttribIPointer(at, size, kind, 0, 0);
        else gl.vertexAttribPointer(at, size, kind, kind !== gl.FLOAT, 0, 0);
      });
      return vertices;
    };
    return {
      ...solid,
      form: array([solid.place, 3, gl.SHORT], [solid.normal, 3, gl.BYTE], [solid.uv, 2, gl.FLOAT], [solid.face, 4, gl.UNSIGNED_BYTE]),
      cuts: array([solid.seam, 3, gl.SHORT]),
    };
  };

  const open = async (holder) => {
    const canvas = make("canvas", { className: "solid-canvas", tabIndex: 0 });
    canvas.setAttribute("role", "img");
    canvas.setAttribute("aria-label", "The asset in three dimensions, before left and after right. Arrow keys turn it, plus and minus zoom, 0 goes back to the start.");
    const gl = canvas.getContext("webgl2", { antialias: true, preserveDrawingBuffer: false });
    if (!gl) throw new Error("no WebGL 2");
    const sides = holder.dataset.solids.split(" ");
    const solids = [];
    for (const id of sides) solids.push(uploaded(gl, await unpacked(id)));
    const drawing = program(gl);
    const at = (name) => gl.getUniformLocation(drawing, name);
    const state = { yaw: 0.5, pitch: 0.25, zoom: 1, x: 0, y: 0, mode: 0, edges: false, seams: false };
    const upright = holder.dataset.up === "z";
    const turned = () => {
      const [c, s, d, e] = [Math.cos(state.yaw), Math.sin(state.yaw), Math.cos(state.pitch), Math.sin(state.pitch)];
      const rows = [[c, 0, -s], [-s * e, d, -c * e], [s * d, e, c * d]];
      const seen = upright ? rows.map(([x, y, z]) => [x, -z, y]) : rows;
      return [0, 1, 2].flatMap((column) => rows.map((_, row) => seen[row][column]));
    };
    let asked = 0;
    const draw = () => {
      asked = 0;
      const ratio = Math.min(devicePixelRatio || 1, 2);
      const [width, height] = [canvas.clientWidth * ratio, canvas.clientHeight * ratio].map(Math.round);
      if (canvas.width !== width || canvas.height !== height) [canvas.width, canvas.height] = [width, height];
      gl.clearColor(0.925, 0.933, 0.941, 1);
      gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT);
      gl.enable(gl.DEPTH_TEST);
      gl.useProgram(drawing);
      gl.uniformMatrix3fv(at("turn"), false, turned());
      gl.uniform1i(at("mode"), state.mode);
      gl.uniform1i(at("edges"), state.edges);
      gl.uniform1f(at("cells"), 32);
      const share = width / solids.length;
      solids.forEach((solid, place) => {
        gl.viewport(place * share, 0, share, height);
        const fit = (1.2 * state.zoom) / Math.SQRT2;
        const squeeze = Math.min(1, share / height);
        gl.uniform3f(at("scale"), (fit * squeeze * height) / share, fit * squeeze, 0.5);
        gl.uniform2f(at("slide"), state.x, state.y);
        gl.uniform4f(at("ink"), 0, 0, 0, 0);
        gl.uniform3f(at("nudge"), 0, 0, 0);
        gl.bindVertexArray(solid.form);
        gl.drawArrays(gl.TRIANGLES, 0, solid.corners);
        if (!state.seams || !solid.seams) return;
        gl.uniform4f(at("ink"), 0.835, 0.369, 0, 1);
        gl.bindVertexArray(solid.cuts);
        gl.vertexAttribI4ui(3, 0, 0, 0, 0); // lines have no faces
        for (const [right, up] of [[0, 0], [1, 0], [0, 1], [1, 1]]) {
          gl.uniform3f(at("nudge"), (2 * right) / share, (2 * up) / height, -0.002);
          gl.drawArrays(gl.LINES, 0, solid.seams);
        }
      });
    };
    const redraw = () => (asked = asked || requestAnimationFrame(draw));
    const change = (fields) => {
      Object.assign(state, fields);
      state.pitch = clamp(state.pitch, -1.57, 1.57);
      state.zoom = clamp(state.zoom, 0.5, 30);
      holder.dataset.view = [state.yaw, state.pitch, state.zoom].map((value) => value.toFixed(2)).join(" ");
      redraw();
    };
    const restart = () => change({ yaw: 0.5, pitch: 0.25, zoom: 1, x: 0, y: 0 });
    const keys = {
      ArrowLeft: () => change({ yaw: state.yaw - 0.1 }), ArrowRight: () => change({ yaw: state.yaw + 0.1 }),
      ArrowUp: () => change({ pitch: state.pitch + 0.1 }), ArrowDown: () => change({ pitch: state.pitch - 0.1 }),
      "+": () => change({ zoom: state.zoom * 1.2 }), "=": () => change({ zoom: state.zoom * 1.2 }),
      "-": () => change({ zoom: state.zoom / 1.2 }), 0: restart,
    };
    canvas.addEventListener("keydown", (event) => {
      if (!keys[event.key] || event.ctrlKey || event.metaKey || event.altKey) return;
      event.preventDefault();
      keys[event.key]();
    });
    canvas.addEventListener("wheel", (event) => {
      if (document.activeElement !== canvas && !event.ctrlKey) return;
      event.preventDefault();
      change({ zoom: state.zoom * Math.exp(-event.deltaY / 500) });
    }, { passive: false });
    const touches = new Map();
    canvas.addEventListener("pointerdown", (event) => {
      canvas.setPointerCapture(event.pointerId);
      touches.set(event.pointerId, [event.clientX, event.clientY]);
    });
    canvas.addEventListener("pointermove", (event) => {
      const was = touches.get(event.pointerId);
      if (!was) return;
      const [right, down] = [event.clientX - was[0], event.clientY - was[1]];
      if (touches.size === 2) {
        const other = [...touches].find(([id]) => id !== event.pointerId)[1];
        const apart = (x, y) => Math.hypot(x - other[0], y - other[1]) || 1;
        change({ zoom: state.zoom * (apart(event.clientX, event.clientY) / apart(...was)) });
      } else if (event.shiftKey || event.buttons & 2) {
        change({ x: state.x + (2 * solids.length * right) / canvas.clientWidth, y: state.y - (2 * down) / canvas.clientHeight });
      } else change({ yaw: state.yaw + right / 120, pitch: state.pitch + down / 120 });
      touches.set(event.pointerId, [event.clientX, event.clientY]);
    });
    ["pointerup", "pointercancel"].forEach((kind) => canvas.addEventListener(kind, (event) => touches.delete(event.pointerId)));
    canvas.addEventListener("contextmenu", (event) => event.preventDefault());
    const button = (text, act) => {
      const node = make("button", { type: "button", textContent: text });
      node.addEventListener("click", act);
      return node;
    };
    const looks = ["Clay", "Checker", "Stretch"].map((text, mode) => button(text, () => {
      looks.forEach((node, other) => node.setAttribute("aria-pressed", other === mode));
      change({ mode });
    }));
    looks.forEach((node, mode) => node.setAttribute("aria-pressed", mode === 0));
    const box = (text, field) => {
      const input = make("input", { type: "checkbox" });
      input.addEventListener("change", () => change({ [field]: input.checked }));
      return make("label", {}, input, text);
    };
    const tags = solids.length === 2 ? ["before", "after"].map((side) => make("span", { className: `tag tag-${side}`, textContent: side })) : [];
    holder.replaceChildren(
      make("div", { className: "controls" },
        make("fieldset", {}, make("legend", { textContent: "Show" }), ...looks),
        box("polygon edges", "edges"), box("seams", "seams"), button("Start view", restart)),
      make("div", { className: "solid-stage" }, canvas, ...tags),
      make("p", { className: "aside", textContent: "Drag to turn, Shift and drag to move, plus, minus or the wheel to zoom. Hatched: mirrored, or without UVs. Stretch: dark blue is none, yellow four times or more." }));
    new ResizeObserver(redraw).observe(canvas);
    canvas.focus();
    restart();
  };

  document.querySelectorAll(".solid").forEach((holder) => {
    const press = make("button", { type: "button", textContent: "Turn it freely" });
    press.addEventListener("click", async () => {
      press.disabled = true;
      try {
        await open(holder);
      } catch (trouble) {
        holder.replaceChildren(make("p", { className: "remark", textContent: `This browser cannot show it in three dimensions (${trouble.message}).` }));
      }
    });
    holder.append(press);
  });
})();
