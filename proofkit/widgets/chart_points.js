// The points of the charts in the same panel: which one was pointed at, and a way through them by keys, with the same
// words. The charts themselves are drawn by JupyterLab, which has the chart library loaded: a few kB each, where a chart
// with its own way back to Python would bring 5 MB along.

const STEPS = { ArrowLeft: -1, ArrowRight: 1, PageUp: -10, PageDown: 10, Home: -Infinity, End: Infinity };
const ROWS = { ArrowUp: -1, ArrowDown: 1 };
const HINT = "Left and right arrows go from point to point, up and down arrows from row to row, Page Up and Page Down by " +
  "ten, Home and End to the ends, Escape puts the mark away.";
const OPENS = " Enter opens the sheet.";

// Texts of charts carry entities and small markup; nothing in a parsed document is run or loaded.
const plain = markup => new DOMParser().parseFromString(String(markup).replaceAll("<br>", "; "), "text/html").body.textContent.trim();

// What the chart shows beside the mouse at a point.
function wordsOf(trace, values) {
  const fill = (_, name, digits) => (digits ? Number(values[name]).toFixed(digits).replace("-", "−") : values[name]);
  return plain(trace.hovertemplate.replace(/<extra>.*<\/extra>/, "").replace(/%\{(\w+)(?::\.(\d)f)?\}/g, fill));
}

function nameOf(chart, trace) {
  const titles = chart._fullLayout.annotations ?? [], panel = titles.find(one => one.xref === `${trace.xaxis} domain`);
  return [panel && plain(panel.text), trace.mode?.includes("lines") && trace.name && plain(trace.name)].filter(Boolean).join(", ");
}

// Rows of points from left to right: the sheets of a panel, a row of the map, a line.
function rowsOf(chart) {
  const rows = new Map();
  const row = (key, trace) => { if (!rows.has(key)) rows.set(key, { name: nameOf(chart, trace), points: [] }); return rows.get(key).points; };
  const axes = trace => ({ across: trace.xaxis, down: trace.yaxis });
  for (const trace of chart._fullData) {
    if (trace.visible !== true || trace.hoverinfo === "skip" || !trace.hovertemplate) continue;
    if (trace.type === "heatmap") {
      [...trace.y].forEach((y, r) => [...trace.x].forEach((x, c) => {
        if (!Number.isFinite(trace.z[r][c])) return;
        const words = wordsOf(trace, { customdata: trace.customdata[r][c] });
        row(`${trace.index} ${r}`, trace).push({ ...axes(trace), x, y, words, opens: true, region: y });
      }));
      continue;
    }
    const isLine = trace.mode.includes("lines"), points = row(isLine ? trace.index : trace.xaxis, trace);
    [...trace.x].forEach((x, n) => {
      const y = trace.y[n];
      if (!Number.isFinite(y)) return;
      const words = wordsOf(trace, { x, y, text: trace.text?.[n], customdata: trace.customdata?.[n] });
      // A finding is drawn over the dot of its sheet: one point, which says both.
      const dot = isLine ? undefined : points.filter(one => one.x === x).sort((a, b) => Math.abs(a.y - y) - Math.abs(b.y - y))[0];
      if (dot && dot.trace !== trace.index) dot.words += `; ${words.slice(words.indexOf(": ") + 2)}`;
      else points.push({ ...axes(trace), x, y, words, opens: words.startsWith("pull ") && !isLine, region: "", trace: trace.index });
    });
  }
  const full = [...rows.values()].filter(one => one.points.length);
  full.forEach(one => one.points.sort((a, b) => a.x - b.x));
  return full;
}

function render({ model, el }) {
  let panel = null, watch = null, wait = 0;
  const heard = new WeakSet(), at = new WeakMap();
  const said = document.createElement("p");
  said.className = "pk-heard";
  said.setAttribute("role", "status");
  el.append(said);

  const pullOf = point => (point.opens ? model.get("pulls")[Math.round(Number(point.x))] ?? "" : "");
  function open(point) {
    if (pullOf(point)) model.send({ type: "point", pull: pullOf(point), panel: point.region ? "" : point.across, row: point.region });
  }

  function mark(chart) {
    let made = chart.querySelector(":scope > .pk-point");
    if (!made) {
      made = document.createElement("div");
      made.className = "pk-point";
      made.setAttribute("aria-hidden", "true");
      made.append(document.createElement("i"), document.createElement("span"));
      chart.append(made);
    }
    return made;
  }
  function hide(chart) { const made = chart.querySelector(":scope > .pk-point"); if (made) made.hidden = true; }
  function show(chart, rows) {
    const [r, n] = at.get(chart), point = rows[r].points[n], layout = chart._fullLayout;
    const [across, down] = [point.across, point.down].map(name => layout[name[0] + "axis" + name.slice(1)]);
    const [x, y] = [across._offset + across.d2p(point.x), down._offset + down.d2p(point.y)];
    const text = rows[r].name ? `${rows[r].name}: ${point.words}` : point.words, made = mark(chart);
    made.hidden = false;
    made.style.left = `${x}px`; made.style.top = `${y}px`;
    made.className = `pk-point${x > layout.width / 2 ? " left" : ""}`;
    made.lastChild.textContent = text;
    said.textContent = text;
    made.scrollIntoView({ block: "nearest" });
  }

  const nearest = (points, x) => points.reduce((best, one, n) => (Math.abs(one.x - x) < Math.abs(points[best].x - x) ? n : best), 0);
  function start(rows) {
    const place = model.get("pulls").indexOf(model.get("current"));
    return [0, rows[0].points[0].opens && place >= 0 ? nearest(rows[0].points, place) : 0];
  }
  function keyed(chart, event) {
    const rows = rowsOf(chart);
    if (!rows.length || event.ctrlKey || event.metaKey || event.altKey) return;
    const now = at.get(chart), [r, n] = now && rows[now[0]]?.points[now[1]] ? now : start(rows);
    const isShown = chart.querySelector(":scope > .pk-point")?.hidden === false, { points } = rows[r];
    if (event.key === "Escape") hide(chart);
    else if (event.key === "Enter" || event.key === " ") { at.set(chart, [r, n]); show(chart, rows); open(points[n]); }
    else if (event.key in STEPS) {
      at.set(chart, [r, isShown ? Math.min(Math.max(n + STEPS[event.key], 0), points.length - 1) : n]);
      show(chart, rows);
    } else if (event.key in ROWS) {
      const to = isShown ? Math.min(Math.max(r + ROWS[event.key], 0), rows.length - 1) : r;
      at.set(chart, [to, to === r ? n : nearest(rows[to].points, points[n].x)]);
      show(chart, rows);
    } else return;
    event.preventDefault(); event.stopPropagation();
  }

  function listen() {
    panel.querySelectorAll(".js-plotly-plot").forEach(chart => {
      if (heard.has(chart) || typeof chart.on !== "function") return;
      heard.add(chart);
      const opens = rowsOf(chart).some(row => row.points.some(pullOf));
      const named = { tabindex: "0", role: "application", "aria-roledescription": "chart", "data-lm-suppress-shortcuts": "true",
        "aria-label": `${plain(chart._fullLayout.title.text)}. ${HINT}${opens ? OPENS : ""}` };
      for (const [name, value] of Object.entries(named)) chart.setAttribute(name, value);
      chart.classList.add("pk-chart");
      chart.addEventListener("keydown", event => keyed(chart, event));
      chart.addEventListener("blur", () => hide(chart));
      chart.on("plotly_click", event => {
        const hit = event.points?.[0];
        if (!hit) return;
        // Only charts along the pulls lead to a sheet: their points say so, or are cells of the map.
        const isCell = hit.z !== undefined, words = String(hit.text ?? hit.customdata ?? "");
        open({ x: hit.x, across: hit.xaxis?._id ?? "", region: isCell ? String(hit.y) : "", opens: isCell || words.startsWith("pull ") });
      });
    });
  }
  // This element is put into the page only after it was made.
  function attach() {
    panel = el.closest(".proofkit-charts");
    if (!panel) { wait = setTimeout(attach, 100); return; }
    watch = new MutationObserver(listen);
    watch.observe(panel, { childList: true, subtree: true });
    listen();
  }
  attach();
  const note = () => { said.dataset.current = model.get("current"); };  // the sheet at which keys begin
  model.on("change:current", note); note();
  return () => { clearTimeout(wait); watch?.disconnect(); model.off("change:current", note); };
}

export default { render };
