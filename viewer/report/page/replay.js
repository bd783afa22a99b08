"use strict";
// Up to two flights drawn from their recorded places and attitudes: path, plane with its surfaces, sticks in numbers.
(() => {
  const canvas = document.getElementById("r-canvas");
  if (!canvas) return;
  const get = (id) => document.getElementById(`r-${id}`);
  const ctx = canvas.getContext("2d");
  const NEAR = 0.05, SEEN = 56, TURN = Math.PI / 36, ZOOM = 1.25, GROUND = "#8a8672";
  const SCALES = [1, 2, 3, 5, 8, 10, 15, 20, 30, 50], ROOM = 0.44;
  let flights = [], shift = [0, 0, 0], time = 0, playing = false, last = 0, zero = [0, 0];
  let view = { azimuth: 0, elevation: 0.2, zoom: 1 };
  let path = null;  // box of what is flown: middle, radius, lowest height, field's direction

  // ---- flights -------------------------------------------------------------------------------------------------------
  const at = (rows, f, i) => rows[i] + (rows[Math.min(i + 1, rows.length - 1)] - rows[i]) * f;
  function index(n, t) {
    const flight = flights[n], x = Math.min(Math.max((t + zero[n] - flight.begin) / flight.step, 0), flight.frames - 1);
    return [Math.floor(x), x - Math.floor(x)];
  }
  function place(n, t) {
    const [i, f] = index(n, t), [north, east, height] = flights[n].place.map((row) => at(unpack(row), f, i));
    const by = n === 1 ? shift : [0, 0, 0];
    return [east + by[0], north + by[1], height + by[2]];
  }
  function attitude(n, t) {
    const [i, f] = index(n, t), rows = flights[n].attitude.map(unpack), next = Math.min(i + 1, rows[0].length - 1);
    const a = rows.map((row) => row[i]), b = rows.map((row) => row[next]);
    const sign = a.reduce((sum, x, k) => sum + x * b[k], 0) < 0 ? -1 : 1;
    const q = a.map((x, k) => x + (sign * b[k] - x) * f), size = Math.hypot(...q) || 1;
    return q.map((x) => x / size);
  }
  const channel = (n, name, t) => { const [i, f] = index(n, t); return at(unpack(flights[n].channels[name]), f, i); };
  const begins = (n) => flights[n].begin - zero[n];
  const ends = (n) => begins(n) + (flights[n].frames - 1) * flights[n].step;
  const phaseAt = (n, t) => flights[n].phases.filter(([, start]) => start <= t + zero[n] + 1e-6).pop()?.[0] ?? "-";

  // body axes (forward, right, down) to the picture's world (east, north, up)
  function turned([w, x, y, z], [a, b, c]) {
    const north = (1 - 2 * (y * y + z * z)) * a + 2 * (x * y - w * z) * b + 2 * (x * z + w * y) * c;
    const east = 2 * (x * y + w * z) * a + (1 - 2 * (x * x + z * z)) * b + 2 * (y * z - w * x) * c;
    const down = 2 * (x * z - w * y) * a + 2 * (y * z + w * x) * b + (1 - 2 * (x * x + y * y)) * c;
    return [east, north, -down];
  }

  // ---- camera --------------------------------------------------------------------------------------------------------
  const minus = (a, b) => a.map((x, k) => x - b[k]);
  const plus = (a, b, by = 1) => a.map((x, k) => x + by * b[k]);
  const dot = (a, b) => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
  const cross = (a, b) => [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]];
  const unit = (a) => { const size = Math.hypot(...a) || 1; return a.map((x) => x / size); };

  // Right and up in the picture of who looks along `ahead`.
  function frameOf(ahead) {
    let right = cross(ahead, [0, 0, 1]);
    if (Math.hypot(...right) < 1e-6) right = [Math.cos(view.azimuth), -Math.sin(view.azimuth), 0];
    right = unit(right);
    return [right, cross(right, ahead)];
  }

  // How far back from the middle of the path one has to stand to see all of it.
  function fitting(back, focal, wide, tall) {
    const [right, up] = frameOf(back.map((x) => -x));
    return path.points.reduce((most, p) => {
      const d = minus(p, path.middle), depth = dot(d, back);
      const sides = Math.max(Math.abs(dot(d, right)) / wide, Math.abs(dot(d, up)) / tall);
      return Math.max(most, (focal * sides) / ROOM + depth);
    }, 8);
  }

  function camera() {
    const wide = canvas.clientWidth, tall = canvas.clientHeight, kind = get("view").value;
    const span = page.setups[flights[0].setup].span;
    let eye, aim, focal = 1.2 * Math.min(wide, tall * 1.3);
    if (kind === "station") {
      const aside = [Math.cos(path.heading), -Math.sin(path.heading)];
      const away = Math.max(60, 0.8 * path.radius);
      eye = [path.middle[0] + away * aside[0], path.middle[1] + away * aside[1], 1.7];
      aim = place(0, time);
      focal *= 6 * view.zoom;
    } else {
      const near = kind === "near", flat = Math.cos(view.elevation);
      const back = [flat * Math.sin(view.azimuth), flat * Math.cos(view.azimuth), Math.sin(view.elevation)];
      aim = near ? place(0, time) : path.middle;
      eye = plus(aim, back, (near ? 3.2 * span : fitting(back, focal, wide, tall)) / view.zoom);
    }
    const ahead = unit(minus(aim, eye));
    const [right, up] = frameOf(ahead);
    const seen = (p) => { const d = minus(p, eye); return [dot(d, right), dot(d, up), dot(d, ahead)]; };
    const flatten = ([x, y, z]) => [wide / 2 + (focal * x) / z, tall / 2 - (focal * y) / z];
    return { eye, focal, seen, flatten, kind };
  }

  function line(cam, a, b) {  // cut at the near plane
    let p = cam.seen(a), q = cam.seen(b);
    if (p[2] < NEAR && q[2] < NEAR) return;
    if (p[2] < NEAR) p = plus(p, minus(q, p), (NEAR - p[2]) / (q[2] - p[2]));
    if (q[2] < NEAR) q = plus(q, minus(p, q), (NEAR - q[2]) / (p[2] - q[2]));
    ctx.moveTo(...cam.flatten(p));
    ctx.lineTo(...cam.flatten(q));
  }

  // ---- what is drawn -------------------------------------------------------------------------------------------------
  function grid(cam) {
    const step = [2, 5, 10, 20, 50, 100, 200].find((s) => path.radius / s < 8) ?? 500;
    const reach = step * Math.ceil((1.3 * path.radius) / step);
    const [x0, y0] = path.middle.map((x) => step * Math.round(x / step));
    ctx.beginPath();
    for (let d = -reach; d <= reach; d += step) {
      line(cam, [x0 + d, y0 - reach, path.floor], [x0 + d, y0 + reach, path.floor]);
      line(cam, [x0 - reach, y0 + d, path.floor], [x0 + reach, y0 + d, path.floor]);
    }
    ctx.strokeStyle = "#d9d5c6";
    ctx.lineWidth = 1;
    ctx.setLineDash([]);
    ctx.stroke();
    return step;
  }

  function trail(cam, n) {
    const flight = flights[n], look = lookOf(flight), rows = flight.place.map(unpack), by = n === 1 ? shift : [0, 0, 0];
    const point = (i) => [rows[1][i] + by[0], rows[0][i] + by[1], rows[2][i] + by[2]];
    const now = index(n, time)[0];
    for (const [from, to, alpha, width] of [[0, now, 1, 2.5], [now, flight.frames - 1, 0.35, 1.5]]) {
      ctx.beginPath();
      let joined = false;
      for (let i = from; i <= to; i++) {
        const p = cam.seen(point(i));
        if (!(p[2] > NEAR)) { joined = false; continue; }
        const xy = cam.flatten(p);
        if (joined) ctx.lineTo(...xy); else ctx.moveTo(...xy);
        joined = true;
      }
      ctx.globalAlpha = alpha;
      ctx.strokeStyle = look.colour;
      ctx.lineWidth = width;
      ctx.setLineDash(look.dash);
      ctx.stroke();
    }
    ctx.globalAlpha = 1;
    ctx.setLineDash([]);
    ctx.fillStyle = look.colour;
    const second = Math.round(1 / flight.step);
    for (let i = Math.round((Math.ceil(flight.begin) - flight.begin) / flight.step); i < flight.frames; i += second) {
      const p = cam.seen(point(i));
      if (p[2] > NEAR) { const [x, y] = cam.flatten(p); ctx.fillRect(x - 2, y - 2, 4, 4); }
    }
    const here = place(n, time);
    ctx.beginPath();
    line(cam, here, [here[0], here[1], path.floor]);
    ctx.strokeStyle = GROUND;
    ctx.lineWidth = 1;
    ctx.stroke();
  }

  const NAMES = { "left aileron": 1, "right aileron": 1, elevator: -1, rudder: -1 };  // charts have elevator up, rudder right
  const TINTS = { fuselage: 0.62, propeller: 0.8, wheel: 0.2, flap: 0.45 };

  function planeOf(cam, n) {
    const here = place(n, time), q = attitude(n, time), setup = page.setups[flights[n].setup];
    const far = Math.max(cam.seen(here)[2], 1), pixels = (cam.focal * setup.span) / far;
    const scale = cam.kind === "near" ? 1 : SCALES.find((s) => s * pixels >= SEEN) ?? SCALES[SCALES.length - 1];
    const faces = [];
    const angles = {};
    for (const name in NAMES) angles[name] = (NAMES[name] * channel(n, name, time) * Math.PI) / 180;
    for (const face of setup.faces) {
      let points = face.points;
      if (face.moves) {
        const angle = angles[face.moves] ?? 0, [c, s] = [Math.cos(angle), Math.sin(angle)];
        points = points.map((p, k) => plus(plus(face.hinge[k], minus(p, face.hinge[k]), c), face.swing[k], s));
      }
      const seen = points.map((p) => cam.seen(plus(here, turned(q, p), scale)));
      if (seen.some((p) => !(p[2] > NEAR))) continue;
      faces.push({ kind: face.kind, seen, depth: seen.reduce((sum, p) => sum + p[2], 0) / seen.length });
    }
    return { n, faces, scale, here };
  }

  function fill(cam, face, colour, ghost) {
    const [a, b, c] = face.seen, normal = unit(cross(minus(b, a), minus(c, a)));
    const light = 0.55 + 0.45 * Math.abs(normal[2] * 0.6 + normal[1] * 0.8);
    const tint = TINTS[face.kind] ?? 0.75;
    ctx.beginPath();
    face.seen.forEach((p, k) => { const xy = cam.flatten(p); if (k) ctx.lineTo(...xy); else ctx.moveTo(...xy); });
    ctx.closePath();
    const mixed = colour.map((x) => Math.round(light * (x + (255 - x) * tint)));
    ctx.globalAlpha = face.kind === "propeller" ? 0.25 : ghost ? 0.45 : 1;
    ctx.fillStyle = `rgb(${mixed.join(",")})`;
    ctx.fill();
    ctx.globalAlpha = 1;
    ctx.strokeStyle = `rgb(${colour.map((x) => Math.round(0.7 * x)).join(",")})`;
    ctx.lineWidth = face.kind === "fuselage" ? 0.4 : 0.9;
    ctx.stroke();
  }

  const rgb = (hex) => [1, 3, 5].map((k) => parseInt(hex.slice(k, k + 2), 16));

  function draw() {
    const ratio = devicePixelRatio || 1, wide = canvas.clientWidth, tall = canvas.clientHeight;
    if (!wide || !flights.length) return;
    if (canvas.width !== Math.round(wide * ratio) || canvas.height !== Math.round(tall * ratio)) {
      canvas.width = Math.round(wide * ratio);
      canvas.height = Math.round(tall * ratio);
    }
    ctx.setTransform(ratio, 0, 0, ratio, 0, 0);
    ctx.fillStyle = "#ffffff";
    ctx.fillRect(0, 0, wide, tall);
    const cam = camera(), step = grid(cam);
    flights.forEach((_, n) => trail(cam, n));
    const planes = flights.map((_, n) => planeOf(cam, n));
    for (const plane of planes) {  // the second over the first, as a ghost
      const colour = rgb(lookOf(flights[plane.n]).colour);
      plane.faces.sort((a, b) => b.depth - a.depth).forEach((face) => fill(cam, face, colour, plane.n === 1));
    }
    ctx.font = "bold 14px sans-serif";
    for (const { n, here, scale } of planes) {
      const p = cam.seen(here);
      if (!(p[2] > NEAR)) continue;
      const [x, y] = cam.flatten(p), off = (cam.focal * scale * page.setups[flights[n].setup].span) / p[2] / 2;
      ctx.fillStyle = lookOf(flights[n]).colour;
      ctx.fillText("AB"[n], x - 5 + (n ? 16 : -16), y - Math.min(off, 60) - 10);
    }
    const size = planes.find(({ n }) => n === 0).scale;
    ctx.font = "13px sans-serif";
    ctx.fillStyle = "#1c2126";
    const key = flights.map((flight, n) => `${"AB"[n]}: ${nameOf(flight)}`).join("    ");
    ctx.fillText(key, 10, 20);
    if (size > 1) ctx.fillText(`planes drawn ${size} times their size`, 10, tall - 30);
    ctx.fillText(`grid ${step} m, ${path.floor.toFixed(0)} m above the field`, 10, tall - 12);
    numbers();
  }

  const ROWS = [["airspeed", 1], ["height", 1], ["pitch", 0], ["bank", 0], ["alpha", 1], ["load z", 2], ["elevator stick", 0], ["aileron stick", 0],
    ["rudder stick", 0], ["throttle", 0], ["elevator", 1], ["rudder", 1], ["left aileron", 1], ["right aileron", 1]];
  const body = get("numbers").tBodies[0];
  const cells = [null, ...ROWS].map((row) => {
    const tr = body.insertRow(), th = document.createElement("th");
    th.scope = "row";
    const told = row && channelNamed(row[0]);
    th.textContent = told ? `${told.label}, ${told.unit}${told.positive ? ` (${told.positive} +)` : ""}` : "phase";
    tr.append(th);
    return [tr.insertCell(), tr.insertCell()];
  });

  function numbers() {
    get("clock").textContent = `${time.toFixed(2)} s`;
    get("time").value = time;
    get("time").setAttribute("aria-valuetext", `${time.toFixed(2)} seconds`);
    for (const n of [0, 1]) {
      cells.forEach(([...pair], k) => {
        let text = "-";
        if (flights[n]) {
          const over = time > ends(n) + 1e-6 ? " (over)" : time < begins(n) - 1e-6 ? " (not yet)" : "";
          text = k === 0 ? phaseAt(n, time) + over : channel(n, ROWS[k - 1][0], time).toFixed(ROWS[k - 1][1]).replace(/^-(0(\.0+)?)$/, "$1");
        }
        if (pair[n].textContent !== text) pair[n].textContent = text;
      });
    }
  }

  // ---- choices -------------------------------------------------------------------------------------------------------
  function box() {
    const points = [];
    flights.forEach((flight, n) => {
      const by = n === 1 ? shift : [0, 0, 0], rows = flight.place.map(unpack);
      for (let i = 0; i < flight.frames; i += 3) {
        const p = [rows[1][i] + by[0], rows[0][i] + by[1], rows[2][i] + by[2]];
        if (p.every(isFinite)) points.push(p);
      }
    });
    const low = [0, 1, 2].map((k) => Math.min(...points.map((p) => p[k])));
    const high = [0, 1, 2].map((k) => Math.max(...points.map((p) => p[k])));
    const middle = low.map((x, k) => (x + high[k]) / 2);
    const radius = Math.max(6, Math.hypot(...minus(high, low)) / 2);
    const [first, end] = [points[0], points.reduce((a, p) => (Math.hypot(p[0] - points[0][0], p[1] - points[0][1]) > Math.hypot(a[0] - points[0][0], a[1] - points[0][1]) ? p : a))];
    const heading = Math.atan2(end[0] - first[0], end[1] - first[1]);
    path = { points, middle, radius, heading, floor: 10 * Math.floor((low[2] - 1) / 10) };
  }

  function aim() {
    const kind = get("view").value;
    view = { azimuth: path.heading + (kind === "near" ? Math.PI * 0.78 : Math.PI / 2), elevation: kind === "top" ? Math.PI / 2 - 0.001 : kind === "near" ? 0.3 : 0.12, zoom: 1 };
    if (kind === "top") view.azimuth = path.heading + Math.PI / 2;
  }

  function align() {
    const name = get("align").value;
    zero = flights.map((flight) => flight.phases.find(([phase]) => phase === name)?.[1] ?? 0);
    shift = [0, 0, 0];
    if (flights.length > 1) shift = minus(place(0, 0), place(1, 0));
    const slider = get("time");
    slider.min = Math.min(...flights.map((_, n) => begins(n)));
    slider.max = Math.max(...flights.map((_, n) => ends(n)));
    time = Math.max(Number(slider.min), 0);
    box();
    aim();
    draw();
  }

  function choose() {
    const all = page.manoeuvres[get("manoeuvre").value].flights;
    const a = Number(get("a").value), b = get("b").value;
    flights = [all[a], ...(b === "" || Number(b) === a ? [] : [all[Number(b)]])];
    ["a", "b"].forEach((letter, n) => { get(`head-${letter}`).textContent = `${letter.toUpperCase()}${flights[n] ? `: ${nameOf(flights[n])}` : ""}`; });
    const select = get("align"), before = select.value;
    select.replaceChildren();
    const names = flights[0].phases.map(([name]) => name).filter((name) => flights.every((f) => f.phases.some(([other]) => other === name)));
    option(select, "", "start of the flight");
    names.slice(1).forEach((name) => option(select, name, `start of "${name}"`));
    const wanted = flights[0].phases.find(([, start]) => Math.abs(start - flights[0].zero) < 1e-6)?.[0] ?? "";
    select.value = names.slice(1).includes(before) ? before : names.slice(1).includes(wanted) ? wanted : "";
    align();
  }

  function manoeuvre() {
    stop();
    const all = page.manoeuvres[get("manoeuvre").value].flights;
    for (const letter of ["a", "b"]) {
      const select = get(letter);
      select.replaceChildren();
      if (letter === "b") option(select, "", "none");
      all.forEach((flight, n) => option(select, n, nameOf(flight)));
      select.value = letter === "a" ? 0 : all.length > 1 ? 1 : "";
    }
    get("align").value = "";
    choose();
  }

  // ---- time ----------------------------------------------------------------------------------------------------------
  function stop() {
    playing = false;
    get("play").textContent = "Play";
    get("play").setAttribute("aria-pressed", "false");
  }
  function toggle() {
    if (playing) { stop(); return; }
    if (time >= Number(get("time").max) - 1e-6) time = Number(get("time").min);
    playing = true;
    last = performance.now();
    get("play").textContent = "Pause";
    get("play").setAttribute("aria-pressed", "true");
    requestAnimationFrame(frame);
  }
  function frame(now) {
    if (!playing) return;
    time += ((now - last) / 1000) * Number(get("speed").value);
    last = now;
    const end = Number(get("time").max);
    if (time >= end) { time = end; stop(); }
    draw();
    requestAnimationFrame(frame);
  }

  // ---- hands ---------------------------------------------------------------------------------------------------------
  const zoomed = (by) => { view.zoom = Math.min(Math.max(view.zoom * by, 0.2), 60); draw(); };
  function turn(sideways, up) {
    if (get("view").value === "station") {
      get("status").textContent = "The view from the ground follows the plane; it only zooms.";
      return;
    }
    view.azimuth += sideways;
    view.elevation = Math.min(Math.max(view.elevation + up, -0.4), Math.PI / 2 - 0.001);
    draw();
  }
  const KEYS = {
    ArrowLeft: () => turn(TURN, 0), ArrowRight: () => turn(-TURN, 0), ArrowUp: () => turn(0, TURN), ArrowDown: () => turn(0, -TURN),
    "+": () => zoomed(ZOOM), "=": () => zoomed(ZOOM), "-": () => zoomed(1 / ZOOM), " ": toggle,
  };
  canvas.addEventListener("keydown", (event) => {
    if (!(event.key in KEYS) || event.ctrlKey || event.metaKey || event.altKey) return;
    event.preventDefault();
    KEYS[event.key]();
  });
  canvas.addEventListener("pointerdown", (event) => { canvas.setPointerCapture(event.pointerId); });
  canvas.addEventListener("pointermove", (event) => {
    if (event.buttons & 1) turn(event.movementX * 0.008, event.movementY * 0.008);
  });
  canvas.addEventListener("wheel", (event) => {
    if (document.activeElement !== canvas && !event.ctrlKey) return;  // the page goes on scrolling until the view is taken
    event.preventDefault();
    zoomed(event.deltaY < 0 ? 1.1 : 1 / 1.1);
  }, { passive: false });
  get("play").addEventListener("click", toggle);
  get("in").addEventListener("click", () => zoomed(ZOOM));
  get("out").addEventListener("click", () => zoomed(1 / ZOOM));
  get("time").addEventListener("input", () => { stop(); time = Number(get("time").value); draw(); });
  get("view").addEventListener("change", () => { get("status").textContent = ""; aim(); draw(); });
  get("align").addEventListener("change", () => { stop(); align(); });
  for (const letter of ["a", "b"]) get(letter).addEventListener("change", () => { stop(); choose(); });
  get("manoeuvre").addEventListener("change", manoeuvre);
  new ResizeObserver(draw).observe(canvas);
  addEventListener("beforeprint", () => {
    draw();
    const told = flights.map((flight, n) => `${"AB"[n]} ${nameOf(flight)}`).join(" and ");
    still(canvas, `Path in ${page.manoeuvres[get("manoeuvre").value].name}: ${told}, at ${time.toFixed(1)} s`, document.querySelector(".replay"));
  });

  page.manoeuvres.forEach((one, n) => { if (one.flights.length) option(get("manoeuvre"), n, one.name); });
  get("manoeuvre").value = page.first;
  manoeuvre();
})();
