// A table in plain DOM, one page at a time; sorting, finding and paging are asked of Python, which holds the rows.
let count = 0;

function render({ model, el }) {
  const id = `fb-table-${++count}-${Math.floor(Math.random() * 1e9)}`;
  el.classList.add("fb-tableview");
  const bar = document.createElement("div");
  bar.className = "fb-table-bar";
  const label = document.createElement("label");
  label.htmlFor = `${id}-find`;
  label.textContent = "Find in the table";
  const find = document.createElement("input");
  Object.assign(find, { id: `${id}-find`, type: "text", className: "fb-table-find" });
  const before = button("Previous page", () => go(-1));
  const after = button("Next page", () => go(1));
  const where = document.createElement("span");
  where.setAttribute("role", "status");
  where.className = "fb-table-where";
  bar.append(label, find, before, after, where);
  const scroll = document.createElement("div");
  scroll.className = "fb-scroll";
  scroll.tabIndex = 0; // what is wider than the page is reached by keyboard too
  const table = document.createElement("table");
  table.className = "fb-table";
  const head = table.createTHead().insertRow();
  const body = table.createTBody();
  scroll.append(table);
  el.append(bar, scroll);

  function button(text, act) {
    const b = document.createElement("button");
    b.type = "button";
    b.className = "fb-button";
    b.textContent = text;
    b.addEventListener("click", act);
    return b;
  }

  function go(step) {
    model.set("page", model.get("page") + step);
    model.save_changes();
  }

  function cell(value, numeric) {
    const td = document.createElement("td");
    if (numeric) td.className = "fb-number";
    fillCell(td, value);
    return td;
  }

  // What is drawn is changed in place, and not while the mouse or a finger is down on it: a click or a key meant for a
  // row finds it, and what has the keyboard keeps it.
  const gone = new AbortController();
  let held = false;
  let late = false;
  table.addEventListener("pointerdown", () => { held = true; });
  for (const name of ["pointerup", "pointercancel"]) {
    window.addEventListener(name, () => {
      if (!held) return;
      held = false;
      if (late) setTimeout(paint, 0); // after the click
    }, { signal: gone.signal });
  }

  // The row that looks as the one clicked did: if another is in its place by now, that one was not meant.
  function pick(tr) {
    const rows = model.get("rows").map((r) => JSON.stringify(r));
    const n = rows[tr.sectionRowIndex] === tr.fbLooks ? tr.sectionRowIndex : rows.indexOf(tr.fbLooks);
    if (n < 0) return;
    model.set("picked", model.get("numbers")[n]);
    model.set("picks", model.get("picks") + 1);
    model.save_changes();
  }

  function paintHead(columns) {
    const sortable = model.get("total") > 1 && model.get("sortable");
    const looks = JSON.stringify([columns, sortable]);
    if (head.fbLooks !== looks) {
      head.fbLooks = looks;
      head.replaceChildren();
      columns.forEach((c, i) => {
        const th = document.createElement("th");
        th.scope = "col";
        if (sortable) {
          const b = document.createElement("button");
          b.type = "button";
          b.className = "fb-sort";
          b.addEventListener("click", () => {
            const [by, down] = model.get("order");
            model.set("order", [i, by === i ? !down : false]);
            model.save_changes();
          });
          th.append(b);
        }
        head.append(th);
      });
    }
    const [by, down] = model.get("order");
    columns.forEach((c, i) => {
      const th = head.cells[i];
      th.setAttribute("aria-sort", by === i ? (down ? "descending" : "ascending") : "none");
      (th.firstElementChild || th).textContent = c.title + (sortable && by === i ? (down ? " ▼" : " ▲") : "");
    });
  }

  function paintRow(tr, row, columns, clickable) {
    const looks = JSON.stringify(row);
    const drawn = JSON.stringify([row, columns.map((c) => c.numeric), clickable]);
    tr.fbLooks = looks;
    if (tr.fbDrawn === drawn) return;
    tr.fbDrawn = drawn;
    const button = clickable ? tr.querySelector(".fb-pick") || pickButton(tr) : null;
    const cells = row.map((v, i) => cell(v, columns[i].numeric));
    if (button && cells.length) {
      const keyboard = document.activeElement === button;
      button.replaceChildren(...cells[0].childNodes);
      if (!button.textContent) button.textContent = "choose";
      const first = tr.cells[0] || tr.insertCell();
      first.className = cells[0].className;
      if (button.parentElement !== first || first.childNodes.length !== 1) first.replaceChildren(button);
      while (tr.cells.length > 1) tr.deleteCell(-1);
      tr.append(...cells.slice(1));
      if (keyboard && document.activeElement !== button) button.focus();
    } else tr.replaceChildren(...cells);
  }

  function pickButton(tr) {
    const b = document.createElement("button");
    b.type = "button";
    b.className = "fb-pick";
    b.addEventListener("keydown", (e) => {
      const step = { ArrowDown: 1, ArrowUp: -1 }[e.key];
      const next = step && body.rows[tr.sectionRowIndex + step];
      if (next) { e.preventDefault(); next.querySelector(".fb-pick").focus(); }
    });
    tr.addEventListener("click", () => pick(tr));
    return b;
  }

  function paint() {
    late = held;
    if (held) return;
    const columns = model.get("columns");
    const rows = model.get("rows");
    const clickable = model.get("clickable");
    if (model.get("caption")) table.createCaption().textContent = model.get("caption");
    else table.deleteCaption();
    paintHead(columns);
    while (body.rows.length > rows.length) body.deleteRow(-1);
    rows.forEach((row, n) => paintRow(body.rows[n] || body.insertRow(), row, columns, clickable));
    mark();
    const pages = model.get("pages");
    const total = model.get("total");
    bar.hidden = pages < 2 && !find.value && total < 15;
    before.hidden = after.hidden = pages < 2;
    before.disabled = model.get("page") <= 0;
    after.disabled = model.get("page") >= pages - 1;
    where.textContent = total === 0 ? "No rows" : pages < 2 ? `${total} rows` : `Page ${model.get("page") + 1} of ${pages}, ${total} rows`;
  }

  function mark() {
    [...body.rows].forEach((tr, n) => tr.classList.toggle("fb-picked", model.get("numbers")[n] === model.get("picked")));
  }

  find.addEventListener("input", () => { model.set("find", find.value); model.save_changes(); });
  ["keydown", "keypress", "keyup"].forEach((n) => el.addEventListener(n, (e) => e.stopPropagation()));
  model.on("change:painted", paint);
  model.on("change:picked", mark);
  paint();
  return () => gone.abort();
}
export default { render };
