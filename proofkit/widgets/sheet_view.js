// A sheet under the eye: pan, zoom, grid of plate mm, regions, cuts, and the standard beside or over it.
// Only the part that is seen is asked for, one question at a time; pictures move at once and sharpen when the answer
// comes. Coordinates are millimetres of the plate, x right, y down.

const TOOLS = [["move", "Move"], ["rectangle", "Rectangle"], ["polygon", "Polygon"], ["shift", "Shift region"], ["cut", "Cut"]];
const MODES = [["one", "Sheet"], ["beside", "Beside"], ["swipe", "Swipe"], ["blink", "Blink"], ["difference", "Difference"]];
const SLOTS = { one: ["a"], beside: ["a", "b"], swipe: ["a", "b"], blink: ["a", "b"], difference: ["d"] };
const HINT = "Arrows pan, plus and minus zoom, 0 shows the whole sheet, 1 scan pixels, N and P go to the next and previous " +
  "place that differs. With a drawing tool the space bar sets a corner at the cross, Enter closes, Escape gives up. " +
  "Alt and arrows shift the chosen region, Delete removes it, Control Z takes back.";
const ENDED = "The kernel that showed this sheet has ended. Run the cell again.";
const INK = "#231f1c", RUST = "#a8431f", WHITE = "#fdfbf6", PATIENCE_MS = 8000, BLINK_MS = 700, NEAR_PX = 6;

function element(tag, attributes, ...children) {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, value);
  made.append(...children);
  return made;
}

// JupyterLab takes keys from whatever has the focus unless that element itself says otherwise.
const focusable = (tag, attributes, ...children) =>
  element(tag, { ...attributes, "data-lm-suppress-shortcuts": "true" }, ...children);

// 1, 2 or 5 times a power of ten, at least `least`.
function roundLength(least) {
  const power = 10 ** Math.floor(Math.log10(least));
  return power * [1, 2, 5, 10].find(step => step * power >= least);
}

const tidy = value => String(+value.toFixed(3)).replace("-", "−");

function render({ model, el }) {
  const viewer = crypto.randomUUID ? crypto.randomUUID() : String(Math.random());
  const listening = [];
  const on = (event, answer) => { model.on(event, answer); listening.push([event, answer]); };
  const put = (name, value) => { if (!gone) { model.set(name, value); model.save_changes(); } };
  // A kernel that restarts leaves the canvas on the page with nobody to ask.
  let gone = false;
  function post(message) {
    if (gone) return;
    try { model.send(message); } catch { gone = true; asked = 0; tell(ENDED); }
  }

  const bar = element("div", { class: "pk-bar", role: "toolbar", "aria-label": "Sheet view" });
  const canvas = focusable("canvas", { class: "pk-canvas", tabindex: "0", role: "application", "aria-label": "Sheet. " + HINT });
  const reading = element("span", { class: "pk-reading" });
  const said = element("span", { class: "pk-said", role: "status" });
  const trouble = element("p", { class: "pk-trouble", role: "alert" });
  const root = element("div", { class: "pk-sheet" }, bar, element("div", { class: "pk-stage" }, canvas, trouble),
    element("div", { class: "pk-foot" }, reading, said));
  el.append(root);
  const pen = canvas.getContext("2d");

  let width = 0, height = 0, ratio = 1, scale = 0, centre = [0, 0];
  const newest = { base: 0, crop: 0 };
  let base = {}, crop = {}, asked = 0, question = 0, askAgain = false, frame = 0, blinkB = false;
  let draft = null, drag = null, pointer = null, reads = { busy: 0, next: null }, byKeys = false, answers = 0;

  const world = () => model.get("world");
  const mode = () => (model.get("names")[1] ? model.get("mode") : "one");
  const tool = () => model.get("tool");
  const panes = () => mode() === "beside"
    ? [{ slot: "a", left: 0, width: width / 2 - 2 }, { slot: "b", left: width / 2 + 2, width: width / 2 - 2 }]
    : [{ slot: SLOTS[mode()][0], left: 0, width }];
  const paneAt = x => panes().find(pane => x < pane.left + pane.width) ?? panes().at(-1);
  const X = (pane, mm) => pane.left + pane.width / 2 + (mm - centre[0]) * scale;
  const Y = mm => height / 2 + (mm - centre[1]) * scale;
  const toMm = (x, y) => { const pane = paneAt(x); return [centre[0] + (x - pane.left - pane.width / 2) / scale, centre[1] + (y - height / 2) / scale]; };
  const clamp = (value, low, high) => Math.min(Math.max(value, low), high);

  // ---- what is seen ------------------------------------------------------------------------------------------
  function wholeScale() {
    const { box } = world(), pane = panes()[0];
    return Math.min(pane.width / (box[2] - box[0]), height / (box[3] - box[1])) || 1;
  }
  function whole() {
    const { box } = world();
    centre = [(box[0] + box[2]) / 2, (box[1] + box[3]) / 2];
    scale = wholeScale();
    moved();
  }
  function show(box) {
    const pane = panes()[0];
    centre = [(box[0] + box[2]) / 2, (box[1] + box[3]) / 2];
    scale = clamp(Math.min(pane.width / (box[2] - box[0]), height / (box[3] - box[1])), wholeScale() / 2, 400);
    moved();
  }
  function zoom(factor, x, y) {
    const pane = paneAt(x), at = toMm(x, y);
    scale = clamp(scale * factor, wholeScale() / 2, 400);
    centre = [at[0] - (x - pane.left - pane.width / 2) / scale, at[1] - (y - height / 2) / scale];
    moved();
  }
  function pan(x, y) { centre = [centre[0] + x / scale, centre[1] + y / scale]; moved(); }
  let keep = 0;
  function moved() {
    const { box } = world();
    centre = [clamp(centre[0], box[0], box[2]), clamp(centre[1], box[1], box[3])];
    if (!frame) frame = requestAnimationFrame(() => { frame = 0; paint(); ask(); });
    clearTimeout(keep);
    if (width) keep = setTimeout(() => put("view", [...centre, scale]), 400);
  }

  // ---- asking for pictures ---------------------------------------------------------------------------------
  function seen() {
    const { box } = world(), half = [panes()[0].width / 2 / scale, height / 2 / scale];
    return [Math.max(box[0], centre[0] - half[0]), Math.max(box[1], centre[1] - half[1]),
      Math.min(box[2], centre[0] + half[0]), Math.min(box[3], centre[1] + half[1])];
  }
  function ask() {
    if (!width || !world().box || model.get("trouble") || !model.get("names")[0]) return;
    if (asked && performance.now() - asked < PATIENCE_MS) { askAgain = true; return; }
    const slots = SLOTS[mode()], lacksBase = slots.some(slot => !base[slot]), box = lacksBase ? world().box : seen();
    if (box[0] >= box[2] || box[1] >= box[3]) return;
    asked = performance.now(); askAgain = false; question += 1;
    if (lacksBase && scale !== wholeScale()) askAgain = true;
    root.dataset.asked = question;
    post({ type: "look", viewer, question, mode: mode(), box, px_per_mm: (lacksBase ? wholeScale() : scale) * ratio, base: lacksBase });
  }
  async function answered(message, buffers) {
    const bytes = buffers.map(part => new Uint8Array(part.buffer ?? part, part.byteOffset ?? 0, part.byteLength));
    const pictures = await Promise.all(bytes.map(part => createImageBitmap(new Blob([part], { type: "image/jpeg" }))));
    asked = 0;
    if (message.serial === model.get("serial") && message.mode === mode()) {
      const kind = message.base ? "base" : "crop", isLate = message.question < newest[kind];
      // Pictures are decoded side by side: an older one may be ready last.
      if (!isLate) newest[kind] = message.question;
      if (!isLate) message.slots.forEach((slot, index) => {
        const shown = { picture: pictures[index], box: message.box };
        if (message.base) base[slot] = shown; else crop[slot] = shown;
      });
      answers += 1;
      root.dataset.bytes = bytes.reduce((sum, part) => sum + part.length, 0);
      paint();
      root.dataset.ready = answers;
      if (!message.base || !askAgain) root.dataset.settled = Math.max(message.question, Number(root.dataset.settled ?? 0));
    } else if (message.serial > model.get("serial")) {
      model.set("serial", message.serial);  // the answer came before the news of another sheet: forget, ask anew
      return;
    } else askAgain = true;  // the sheet or the way of showing it changed meanwhile
    if (askAgain) ask();
  }
  function forget() { base = {}; crop = {}; asked = 0; delete root.dataset.settled; paint(); ask(); }

  // ---- painting --------------------------------------------------------------------------------------------
  function layer(pane, shown) {
    if (!shown) return;
    const { picture, box } = shown;
    pen.imageSmoothingEnabled = picture.width / (box[2] - box[0]) > scale * ratio / 3;
    pen.drawImage(picture, X(pane, box[0]), Y(box[1]), (box[2] - box[0]) * scale, (box[3] - box[1]) * scale);
  }
  function pictures(pane, slot) { layer(pane, base[slot]); layer(pane, crop[slot]); }
  function clipped(left, top, right, bottom, draw) {
    pen.save(); pen.beginPath(); pen.rect(left, top, right - left, bottom - top); pen.clip(); draw(); pen.restore();
  }
  function stroke(colour, line, dash = []) {
    pen.setLineDash(dash);
    pen.strokeStyle = "rgba(253,251,246,.85)"; pen.lineWidth = line + 2; pen.stroke();
    pen.strokeStyle = colour; pen.lineWidth = line; pen.stroke();
    pen.setLineDash([]);
  }
  function labelWidth(text, strong) {
    pen.font = `${strong ? "600 " : ""}12px Georgia, "Noto Serif", "Liberation Serif", serif`;
    return pen.measureText(text).width + 8;
  }
  function label(text, x, y, align = "left", strong = false) {
    const wide = labelWidth(text, strong), left = align === "left" ? x - 4 : align === "right" ? x - wide + 4 : x - wide / 2;
    pen.textAlign = align; pen.textBaseline = "middle";
    pen.fillStyle = "rgba(253,251,246,.86)"; pen.fillRect(left, y - 9, wide, 18);
    pen.fillStyle = INK; pen.fillText(text, x, y + 1);
  }
  function path(pane, points, closed) {
    pen.beginPath();
    points.forEach(([x, y], index) => (index ? pen.lineTo : pen.moveTo).call(pen, X(pane, x), Y(y)));
    if (closed) pen.closePath();
  }
  function grid(pane) {
    const step = roundLength(48 / scale), [x0, y0] = toMm(pane.left, 0), [x1, y1] = [x0 + pane.width / scale, y0 + height / scale];
    const plate = world().plate, low = plate ? [0, 0] : world().box, high = plate ?? world().box.slice(2);
    pen.lineWidth = 1; pen.strokeStyle = "rgba(61,90,115,.38)"; pen.beginPath();
    const across = [], down = [];
    for (let x = Math.ceil(Math.max(x0, low[0]) / step) * step; x <= Math.min(x1, high[0]) + 1e-9; x += step) across.push(x);
    for (let y = Math.ceil(Math.max(y0, low[1]) / step) * step; y <= Math.min(y1, high[1]) + 1e-9; y += step) down.push(y);
    across.forEach(x => { pen.moveTo(X(pane, x), Y(Math.max(y0, low[1]))); pen.lineTo(X(pane, x), Y(Math.min(y1, high[1]))); });
    down.forEach(y => { pen.moveTo(X(pane, Math.max(x0, low[0])), Y(y)); pen.lineTo(X(pane, Math.min(x1, high[0])), Y(y)); });
    pen.stroke();
    across.forEach(x => label(tidy(x), X(pane, x), 34, "center"));
    down.forEach(y => label(tidy(y), pane.left + 8, Y(y)));
  }
  function regions(pane) {
    if (!model.get("show_regions")) return;
    const isChosen = region => region.name === model.get("chosen");
    for (const region of model.get("regions")) {
      for (const ring of region.rings) { path(pane, ring, true); stroke(isChosen(region) ? RUST : INK, isChosen(region) ? 2 : 1.2, region.proposed ? [5, 4] : []); }
    }
    // Names lie over all outlines, each where no other one lies; the chosen region's is always told.
    const taken = [], inOrder = [...model.get("regions")].sort((a, b) => isChosen(b) - isChosen(a));
    for (const region of inOrder) {
      const chosen = isChosen(region), first = region.rings[0], across = first.map(p => p[0]), down = first.map(p => p[1]);
      const [left, right, high, low] = [Math.min(...across), Math.max(...across), Math.min(...down), Math.max(...down)];
      const begins = Math.min(...first.filter(p => p[1] <= high + 0.15 * (low - high)).map(p => p[0]));  // of the upper side
      if (!chosen && (right - left) * scale < 30) continue;
      const wide = labelWidth(region.name, chosen), places = [[begins, high, -11], [left, (high + low) / 2, 0], [left, low, 13]];
      const spots = places.map(([x, y, beside]) => [X(pane, x), Y(y) + beside]);
      const free = spots.find(([x, y]) => taken.every(([a, b, w]) => x > a + w || a > x + wide || Math.abs(y - b) > 18)) ?? (chosen ? spots[0] : null);
      if (!free) continue;
      taken.push([...free, wide]);
      label(region.name, ...free, "left", chosen);
    }
  }
  function mark(pane) {
    const box = model.get("mark");
    if (box.length !== 4) return;
    pen.beginPath(); pen.rect(X(pane, box[0]), Y(box[1]), (box[2] - box[0]) * scale, (box[3] - box[1]) * scale);
    stroke(RUST, 1.6, [2, 4]);
  }
  function sketch(pane) {
    const cut = model.get("cut");
    if (cut.length === 4) { path(pane, [[cut[0], cut[1]], [cut[2], cut[3]]], false); stroke("#3d5a73", 2); }
    if (!draft) return;
    const points = draft.points.slice();
    if (draft.at) points.push(draft.at);
    if (draft.kind === "rectangle" && points.length > 1) {
      const [[a, b], [c, d]] = points;
      path(pane, [[a, b], [c, b], [c, d], [a, d]], true);
    } else path(pane, points, false);
    stroke(RUST, 2);
    for (const [x, y] of draft.points) { pen.beginPath(); pen.arc(X(pane, x), Y(y), 3.5, 0, 7); pen.fillStyle = WHITE; pen.fill(); pen.lineWidth = 1.5; pen.strokeStyle = RUST; pen.stroke(); }
  }
  function bars(pane) {
    const length = roundLength(70 / scale), long = length * scale, x = pane.left + 14, y = height - 18;
    pen.fillStyle = "rgba(253,251,246,.86)"; pen.fillRect(x - 8, y - 22, Math.max(long, 60) + 16, 34);
    pen.fillStyle = INK; pen.fillRect(x, y, long, 3); pen.fillRect(x, y - 4, 1.5, 7); pen.fillRect(x + long - 1.5, y - 4, 1.5, 7);
    const unit = length < 0.1 ? `${tidy(length * 1000)} µm` : `${tidy(length)} mm`;
    pen.font = '12px Georgia, "Noto Serif", "Liberation Serif", serif'; pen.textAlign = "left"; pen.textBaseline = "alphabetic";
    pen.fillText(`${unit} of ${world().plate ? "plate" : "scan"}`, x, y - 8);
  }
  function legend() {
    const { shown, colours } = model.get("scale"), x = width - 190, y = height - 40;
    pen.fillStyle = "rgba(253,251,246,.9)"; pen.fillRect(x - 8, y - 8, 190, 42);
    const ramp = pen.createLinearGradient(x, 0, x + 174, 0);
    colours.forEach(([place, colour]) => ramp.addColorStop(place, colour));
    pen.fillStyle = ramp; pen.fillRect(x, y, 174, 9);
    pen.fillStyle = INK; pen.font = '11px Georgia, "Noto Serif", "Liberation Serif", serif'; pen.textBaseline = "top";
    pen.textAlign = "left"; pen.fillText(`−${shown} D lighter`, x, y + 14);
    pen.textAlign = "right"; pen.fillText(`darker +${shown} D`, x + 174, y + 14);
  }
  function cross(pane) {
    if (!byKeys || document.activeElement !== canvas) return;
    const x = pane.left + pane.width / 2, y = height / 2;
    pen.beginPath(); pen.moveTo(x - 12, y); pen.lineTo(x + 12, y); pen.moveTo(x, y - 12); pen.lineTo(x, y + 12);
    stroke(RUST, 1.2);
  }
  function paint() {
    if (!width) return;
    pen.setTransform(ratio, 0, 0, ratio, 0, 0);
    pen.fillStyle = "#d7d7d7"; pen.fillRect(0, 0, width, height);
    const names = model.get("names"), now = mode();
    for (const pane of panes()) {
      clipped(pane.left, 0, pane.left + pane.width, height, () => {
        if (now === "swipe") {
          const line = width * model.get("mix");
          clipped(0, 0, line, height, () => pictures(pane, "a"));
          clipped(line, 0, width, height, () => pictures(pane, "b"));
          pen.fillStyle = INK; pen.fillRect(line - 1, 0, 2, height);
          pen.beginPath(); pen.arc(line, height / 2, 9, 0, 7); pen.fillStyle = WHITE; pen.fill(); pen.lineWidth = 1.5; pen.strokeStyle = INK; pen.stroke();
        } else pictures(pane, now === "blink" && blinkB ? "b" : pane.slot);
        if (model.get("grid")) grid(pane);
        regions(pane); mark(pane); sketch(pane); bars(pane); cross(pane);
      });
    }
    if (now === "beside") { pen.fillStyle = "#fdfbf6"; pen.fillRect(width / 2 - 2, 0, 4, height); label(names[0], 14, 14, "left", true); label(names[1], width / 2 + 16, 14, "left", true); }
    else if (now === "swipe") { label(names[0], 14, 14, "left", true); label(names[1], width - 14, 14, "right", true); }
    else if (now === "blink") label(names[blinkB ? 1 : 0], 14, 14, "left", true);
    else if (now === "difference") { label(`${names[0]} against ${names[1]}`, 14, 14, "left", true); legend(); }
    else label(names[0], 14, 14, "left", true);
  }

  // ---- drawing ---------------------------------------------------------------------------------------------
  function corner(point) {
    const kind = tool();
    if (!draft || draft.kind !== kind) draft = { kind, points: [] };
    draft.points.push(point); draft.at = point;
    if (kind !== "polygon" && draft.points.length === 2) finish();
    paint();
  }
  function finish() {
    if (!draft) return;
    const { kind, points } = draft;
    if (points.length < (kind === "polygon" ? 3 : 2)) { tell(kind === "polygon" ? "A polygon needs three corners." : "Two corners are needed."); return; }
    draft = null;
    if (kind === "cut") { put("cut", points.flat()); }
    else post({ type: "drawn", kind, points });
    paint();
  }
  function tell(text) { said.textContent = text; }
  function inside([x, y], ring) {
    let odd = false;
    ring.forEach(([a, b], index) => { const [c, d] = ring[(index + 1) % ring.length]; if (b > y !== d > y && x < (c - a) * (y - b) / (d - b) + a) odd = !odd; });
    return odd;
  }
  const regionAt = point => model.get("regions").filter(region => inside(point, region.rings[0])).at(-1)?.name ?? "";

  // ---- mouse -----------------------------------------------------------------------------------------------
  const place = event => { const box = canvas.getBoundingClientRect(); return [event.clientX - box.left, event.clientY - box.top]; };
  canvas.addEventListener("wheel", event => { event.preventDefault(); event.stopPropagation(); byKeys = false; zoom(Math.exp(-event.deltaY * 0.002), ...place(event)); }, { passive: false });
  canvas.addEventListener("pointerdown", event => {
    if (event.button > 1) return;
    canvas.focus({ preventScroll: true }); canvas.setPointerCapture(event.pointerId); byKeys = false;
    const at = place(event), mm = toMm(...at);
    drag = { from: at, last: at, mm, far: false };
    if (mode() === "swipe" && Math.abs(at[0] - width * model.get("mix")) < NEAR_PX + 3) drag.kind = "swipe";
    else if (tool() === "move" || event.button === 1) drag.kind = "pan";
    else if (tool() === "shift") { drag.kind = "shift"; drag.region = regionAt(mm); if (drag.region) put("chosen", drag.region); }
    else if (tool() === "polygon") { drag = null; corner(mm); }
    else { drag.kind = "draw"; if (draft?.points.length === 1) { drag = null; corner(mm); } else corner(mm); }
  });
  canvas.addEventListener("pointermove", event => {
    const at = place(event), mm = toMm(...at);
    pointer = at; read(mm);
    if (draft) { draft.at = mm; paint(); }
    if (!drag) return;
    drag.far ||= Math.hypot(at[0] - drag.from[0], at[1] - drag.from[1]) > 3;
    if (drag.kind === "pan") pan(drag.last[0] - at[0], drag.last[1] - at[1]);
    if (drag.kind === "swipe") put("mix", clamp(at[0] / width, 0, 1));
    if (drag.kind === "shift" && drag.region) {
      const region = model.get("regions").find(one => one.name === drag.region), by = [mm[0] - drag.mm[0], mm[1] - drag.mm[1]];
      paint();
      for (const pane of panes()) { path(pane, region.rings[0].map(([x, y]) => [x + by[0], y + by[1]]), true); stroke(RUST, 2, [3, 3]); }
    }
    drag.last = at;
  });
  canvas.addEventListener("pointerup", event => {
    if (!drag) return;
    const mm = toMm(...place(event)), done = drag; drag = null;
    if (done.kind === "pan" && !done.far) { put("chosen", regionAt(mm)); paint(); }
    if (done.kind === "shift" && done.region && done.far) post({ type: "shift", region: done.region, by: [mm[0] - done.mm[0], mm[1] - done.mm[1]] });
    if (done.kind === "draw" && done.far) corner(mm);
  });
  canvas.addEventListener("pointercancel", () => { drag = null; });
  canvas.addEventListener("dblclick", () => { if (draft?.kind === "polygon") { if (draft.points.length > 3) draft.points.pop(); finish(); } });
  canvas.addEventListener("pointerleave", () => { pointer = null; });

  function read(mm) {
    if (reads.busy && performance.now() - reads.busy < PATIENCE_MS) { reads.next = mm; return; }
    reads.busy = performance.now(); reads.next = null;
    post({ type: "read", viewer, x: mm[0], y: mm[1], side: 3 / scale });
  }

  // ---- keys ------------------------------------------------------------------------------------------------
  const STEPS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
  canvas.addEventListener("keydown", event => {
    const step = STEPS[event.key], middle = [panes()[0].left + panes()[0].width / 2, height / 2];
    const say = name => () => post({ type: "key", name });
    let act = null;
    if (step && event.altKey) act = () => { const by = event.shiftKey ? 1 : 0.1; if (model.get("chosen")) post({ type: "shift", region: model.get("chosen"), by: [step[0] * by, step[1] * by] }); };
    else if (step) act = () => { const by = event.shiftKey ? 240 : 48; pan(step[0] * by, step[1] * by); };
    else if (event.ctrlKey || event.metaKey) act = { z: say(event.shiftKey ? "redo" : "undo"), Z: say("redo"), y: say("redo") }[event.key];
    else act = {
      "+": () => zoom(1.4, ...middle), "=": () => zoom(1.4, ...middle), "-": () => zoom(1 / 1.4, ...middle), 0: whole, 1: pixels,
      n: say("next"), p: say("previous"), g: () => put("grid", !model.get("grid")), " ": () => { if (tool() !== "move" && tool() !== "shift") corner(centre.slice()); },
      Enter: finish, Delete: say("remove"), Escape: () => { draft = null; put("cut", []); paint(); },
    }[event.key.length === 1 ? event.key.toLowerCase() : event.key];
    if (!act) return;
    event.preventDefault(); event.stopPropagation(); byKeys = true; act(); paint(); read(centre);
    if (draft) draft.at = centre.slice();
  });
  canvas.addEventListener("blur", paint);
  function pixels() { scale = model.get("scan_px_per_mm") / ratio; moved(); }

  // ---- the bar ---------------------------------------------------------------------------------------------
  function choices(name, list, key, after) {
    const group = element("span", { class: "pk-group", role: "group", "aria-label": name });
    const buttons = list.map(([value, text]) => { const button = focusable("button", { type: "button", "data-value": value }, text); button.onclick = () => put(key, value); group.append(button); return button; });
    const mark_ = () => { buttons.forEach(button => button.setAttribute("aria-pressed", String(button.dataset.value === model.get(key)))); after?.(); };
    on("change:" + key, mark_); mark_(); bar.append(group);
    return group;
  }
  function action(group, text, name, act) { const button = focusable("button", { type: "button", "aria-label": name, title: name }, text); button.onclick = act; group.append(button); return button; }
  function toggle(group, text, key) { const button = action(group, text, text, () => put(key, !model.get(key))); const mark_ = () => button.setAttribute("aria-pressed", String(model.get(key))); on("change:" + key, () => { mark_(); paint(); }); mark_(); }

  const slide = focusable("input", { type: "range", min: "0", max: "1", step: "0.01", "aria-label": "Where the swipe parts the two sheets" });
  slide.value = model.get("mix"); slide.oninput = () => put("mix", Number(slide.value));
  const compare = choices("Compare with the standard", MODES, "mode", () => { slide.hidden = mode() !== "swipe"; });
  bar.append(slide);
  const places = element("span", { class: "pk-group", role: "group", "aria-label": "Places that differ" });
  action(places, "‹ place", "Previous place that differs", () => post({ type: "key", name: "previous" }));
  action(places, "place ›", "Next place that differs", () => post({ type: "key", name: "next" }));
  bar.append(places);
  choices("Tool", TOOLS, "tool", () => { draft = null; canvas.style.cursor = { move: "grab", shift: "move" }[tool()] ?? "crosshair"; paint(); });
  const sizes = element("span", { class: "pk-group", role: "group", "aria-label": "Scale" });
  const middle = () => [panes()[0].left + panes()[0].width / 2, height / 2];
  action(sizes, "−", "Zoom out", () => zoom(1 / 1.4, ...middle())); action(sizes, "+", "Zoom in", () => zoom(1.4, ...middle()));
  action(sizes, "Whole", "Whole sheet", whole); action(sizes, "1 : 1", "Scan pixels", pixels);
  bar.append(sizes);
  const overlays = element("span", { class: "pk-group", role: "group", "aria-label": "Drawn over the sheet" });
  toggle(overlays, "Grid", "grid"); toggle(overlays, "Regions", "show_regions"); bar.append(overlays);
  function withStandard() { const has = Boolean(model.get("names")[1]); compare.hidden = places.hidden = !has; slide.hidden = mode() !== "swipe"; }

  // ---- changes from the kernel -----------------------------------------------------------------------------
  on("change:world", () => { forget(); whole(); });
  on("change:serial", forget);
  on("change:names", () => { withStandard(); paint(); });
  on("change:mode", () => { slide.hidden = mode() !== "swipe"; crop = {}; asked = 0; moved(); });
  on("change:mix", () => { slide.value = model.get("mix"); paint(); });
  for (const name of ["regions", "chosen", "mark", "cut", "scale"]) on("change:" + name, paint);
  on("change:go", () => { if (model.get("go").box) show(model.get("go").box); });
  on("change:said", () => tell(model.get("said")));
  const troubled = () => { trouble.textContent = model.get("trouble"); trouble.hidden = !model.get("trouble"); };
  on("change:trouble", troubled); troubled();
  on("msg:custom", (message, buffers) => {
    if (message.viewer !== viewer) return;
    if (message.type === "picture") answered(message, buffers);
    if (message.type === "fault") { asked = 0; tell(message.text); root.dataset.fault = message.text; }
    if (message.type === "reading") { reads.busy = 0; reading.textContent = message.text; if (reads.next) read(reads.next); }
  });
  const timer = setInterval(() => {
    if (mode() === "blink") { blinkB = !blinkB; paint(); }
    if (asked && performance.now() - asked > PATIENCE_MS) { asked = 0; ask(); }  // an answer was lost
  }, BLINK_MS);
  const watch = new ResizeObserver(() => {
    const stage = canvas.parentElement, first = !width;  // inside its border: the canvas is drawn to the same size
    if (!stage.clientWidth || !stage.clientHeight) return;
    const wasWhole = !first && Math.abs(scale - wholeScale()) < 1e-6 * scale;
    width = stage.clientWidth; height = stage.clientHeight; ratio = Math.min(window.devicePixelRatio || 1, 2);
    canvas.width = Math.round(width * ratio); canvas.height = Math.round(height * ratio);
    const kept = model.get("view");
    if (first && kept.length === 3) { centre = kept.slice(0, 2); scale = kept[2]; moved(); }
    else if (first || wasWhole) whole(); else moved();
  });
  watch.observe(canvas.parentElement);
  withStandard(); tell(model.get("said"));
  return () => { clearInterval(timer); clearTimeout(keep); cancelAnimationFrame(frame); watch.disconnect(); listening.forEach(([event, answer]) => model.off(event, answer)); };
}

export default { render };
