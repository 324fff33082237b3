// A table that sorts by its heads, tells which cell was chosen, and lets cells of some columns be written over.

function element(tag, attributes, ...children) {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) if (value !== null) made.setAttribute(name, value);
  made.append(...children);
  return made;
}
const focusable = (tag, attributes, ...children) =>
  element(tag, { ...attributes, "data-lm-suppress-shortcuts": "true" }, ...children);

function render({ model, el }) {
  const place = element("div", { class: "pk-table", role: "region", "aria-label": model.get("caption"), tabindex: "0", "data-lm-suppress-shortcuts": "true" });
  el.append(place);
  let order = { column: "", down: false };

  function sorted() {
    const rows = model.get("rows").slice();
    if (!order.column) return rows;
    const key = row => row.sort?.[order.column] ?? row.cells[order.column] ?? "";
    rows.sort((one, other) => {
      const a = key(one), b = key(other);
      if (a === "" || b === "") return (a === "") - (b === "");
      const by = typeof a === "number" && typeof b === "number" ? a - b : String(a).localeCompare(String(b), undefined, { numeric: true });
      return order.down ? -by : by;
    });
    return rows;
  }
  function head(column) {
    const now = order.column === column.key ? (order.down ? "descending" : "ascending") : "none";
    const sign = { ascending: " ↑", descending: " ↓", none: "" }[now];
    const button = focusable("button", { type: "button", title: column.note || null }, column.title + sign);
    button.onclick = () => { order = { column: column.key, down: order.column === column.key && !order.down }; draw(column.key); };
    return element("th", { scope: "col", "aria-sort": now, class: column.kind }, button);
  }
  function send(row, column, value) { model.send({ type: value === undefined ? "chosen" : "written", row: row.id, column: column.key, value }); }
  function cell(row, column) {
    const value = row.cells[column.key] ?? "", mark = row.marks?.[column.key];
    const made = element(column.kind === "head" ? "th" : "td", { class: [column.kind, mark ? "marked" : ""].join(" ").trim(), ...(column.kind === "head" ? { scope: "row" } : {}) });
    if (column.writable) {
      const input = focusable("input", { type: "text", value, "aria-label": `${column.title} of ${row.name}` });
      input.onchange = () => send(row, column, input.value);
      made.append(input);
    } else if (column.goes && value !== "") {
      const button = focusable("button", { type: "button", title: mark || null, "aria-label": `${column.title} of ${row.name}: ${value}${mark ? ", " + mark : ""}` }, value);
      button.onclick = () => send(row, column);
      made.append(button);
      if (mark) made.append(element("i", {}, " " + mark));
    } else made.append(String(value));
    return made;
  }
  function draw(focus) {
    const columns = model.get("columns"), rows = sorted();
    const table = element("table", {}, element("caption", {}, model.get("caption")),
      element("thead", {}, element("tr", {}, ...columns.map(head))),
      element("tbody", {}, ...rows.map(row => element("tr", { class: row.kind ?? "", "aria-current": row.id === model.get("current") ? "true" : null }, ...columns.map(column => cell(row, column))))));
    place.replaceChildren(table);
    if (!rows.length) place.append(element("p", { class: "aside" }, model.get("nothing")));
    if (focus) [...table.querySelectorAll("thead button")][columns.findIndex(column => column.key === focus)]?.focus();
  }
  const again = () => draw();
  const events = ["change:rows", "change:columns", "change:current", "change:caption", "change:nothing"];
  events.forEach(event => model.on(event, again));
  draw();
  return () => events.forEach(event => model.off(event, again));
}

export default { render };
