// The scans of the edition as cards in order of printing. One of them is under the eye; arrows go through them.

function render({ model, el }) {
  const list = document.createElement("div");
  list.className = "pk-drawer";
  list.setAttribute("role", "listbox");
  list.setAttribute("aria-label", "Proof drawer: sheets in order of printing");
  list.setAttribute("data-lm-suppress-shortcuts", "true");
  list.tabIndex = 0;
  el.append(list);

  function piece(tag, name, text) { const made = document.createElement(tag); made.className = name; made.textContent = text; return made; }
  function card(sheet) {
    const made = document.createElement("div");
    made.className = "pk-card " + sheet.kind;
    made.setAttribute("role", "option");
    made.id = `pk-card-${model.model_id ?? ""}-${sheet.pull}`.replace(/[^\w-]/g, "_");
    made.dataset.pull = sheet.pull;
    made.setAttribute("aria-label", [`pull ${sheet.pull}`, sheet.designation, sheet.verdict, sheet.causes, sheet.decided, sheet.fault].filter(Boolean).join(", "));
    const frame = document.createElement("div");
    frame.className = "pk-frame";
    if (sheet.picture) { const picture = document.createElement("img"); picture.src = sheet.picture; picture.alt = ""; picture.draggable = false; frame.append(picture); }
    const words = document.createElement("div");
    words.className = "pk-words";
    words.append(piece("span", "pk-pull", sheet.pull), piece("span", "pk-verdict", sheet.verdict));
    made.append(frame, words);
    if (sheet.causes) made.append(piece("div", "pk-causes", sheet.causes));
    if (sheet.decided) made.append(piece("div", "pk-decided", sheet.decided));
    if (sheet.fault) { const fault = piece("div", "pk-fault", sheet.fault); fault.title = sheet.fault; made.append(fault); }
    made.onclick = () => choose(sheet.pull);
    return made;
  }
  function choose(pull) { model.set("current", pull); model.save_changes(); }
  function mark(scroll) {
    const current = model.get("current");
    for (const made of list.children) {
      const chosen = made.dataset.pull === current;
      made.setAttribute("aria-selected", String(chosen));
      if (!chosen) continue;
      list.setAttribute("aria-activedescendant", made.id);
      const [top, bottom] = [made.offsetTop - list.offsetTop, made.offsetTop - list.offsetTop + made.offsetHeight];
      if (scroll && (top < list.scrollTop || bottom > list.scrollTop + list.clientHeight)) list.scrollTop = top - 8;
    }
  }
  function draw() { list.replaceChildren(...model.get("sheets").map(card)); mark(true); }
  list.addEventListener("keydown", event => {
    const pulls = model.get("sheets").map(sheet => sheet.pull), at = pulls.indexOf(model.get("current"));
    const to = { ArrowDown: at + 1, ArrowRight: at + 1, ArrowUp: at - 1, ArrowLeft: at - 1, Home: 0, End: pulls.length - 1 }[event.key];
    if (to === undefined) return;
    event.preventDefault(); event.stopPropagation();
    if (pulls[to] !== undefined) choose(pulls[to]);
  });
  const current = () => mark(true);
  model.on("change:sheets", draw); model.on("change:current", current);
  draw();
  return () => { model.off("change:sheets", draw); model.off("change:current", current); };
}

export default { render };
