"use strict";
(() => {
  const config = { displayModeBar: false, displaylogo: false, responsive: true, scrollZoom: false, doubleClick: false };
  const draw = (place) => {
    if (place.dataset.drawn || typeof Plotly === "undefined") return;
    place.dataset.drawn = "yes";
    const figure = JSON.parse(document.getElementById(place.dataset.figure).textContent);
    Plotly.newPlot(place, figure.data, figure.layout, config);
  };
  const isShown = (place) => !place.closest("details:not([open])");
  const drawShown = (part) => part.querySelectorAll(".chart").forEach((place) => { if (isShown(place)) draw(place); });

  document.querySelectorAll("details").forEach((part) => part.addEventListener("toggle", () => drawShown(part)));
  drawShown(document);

  const printWidth = 690;
  const fit = (width) => document.querySelectorAll(".chart[data-drawn]").forEach((place) => {
    place.classList.toggle("fitted", width !== null);
    Plotly.relayout(place, width === null ? { autosize: true, width: null } : { width });
  });
  window.addEventListener("beforeprint", () => fit(printWidth));
  window.addEventListener("afterprint", () => fit(null));

  const chooser = document.getElementById("choose-measure");
  if (chooser) {
    chooser.closest(".choose").hidden = false;
    chooser.addEventListener("change", () => {
      const part = document.getElementById(chooser.value);
      part.open = true;
      part.scrollIntoView({ block: "start" });
    });
  }
})();
