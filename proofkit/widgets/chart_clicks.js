// Tells which pull was pointed at in a chart of the same panel. The charts themselves are drawn by JupyterLab, which has
// the chart library loaded: a few kB each, where a chart with its own way back to Python would bring 5 MB along.

function render({ model, el }) {
  let panel = null, watch = null, wait = 0;
  const heard = new WeakSet();
  function listen() {
    panel.querySelectorAll(".js-plotly-plot").forEach(chart => {
      if (heard.has(chart) || typeof chart.on !== "function") return;
      heard.add(chart);
      chart.on("plotly_click", event => {
        const point = event.points?.[0];
        if (!point) return;
        // Only charts along the pulls lead to a sheet: their points say so, or are cells of the map.
        const said = String(point.text ?? point.customdata ?? ""), isCell = point.z !== undefined;
        if (!isCell && !said.startsWith("pull ")) return;
        const pull = model.get("pulls")[Math.round(Number(point.x))] ?? "";
        model.send({ type: "point", pull, panel: isCell ? "" : point.xaxis?._id ?? "", row: isCell ? String(point.y) : "" });
      });
    });
    panel.dataset.heard = panel.querySelectorAll(".js-plotly-plot").length;
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
  return () => { clearTimeout(wait); watch?.disconnect(); };
}

export default { render };
