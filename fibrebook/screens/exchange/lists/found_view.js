// A sheet as it was found, in plain DOM. One stop of Tab: arrows go from cell to cell, Enter or a press chooses.
const FATES = { "left out": "left out", question: "a question" };

function render({ model, el }) {
  el.classList.add("fb-found");
  const bar = document.createElement("div");
  bar.className = "fb-table-bar";
  const before = button("Rows before", () => turn(-1));
  const after = button("Rows after", () => turn(1));
  const where = document.createElement("span");
  where.setAttribute("role", "status");
  bar.append(before, after, where);
  const scroll = document.createElement("div");
  scroll.className = "fb-scroll";
  const table = document.createElement("table");
  table.className = "fb-table fb-sheet";
  table.setAttribute("role", "grid");
  const head = table.createTHead().insertRow();
  const body = table.createTBody();
  scroll.append(table);
  el.append(scroll, bar);
  let stop = [0, 1]; // the cell at which Tab stops: row number (0 = heads) and column

  function button(text, act) {
    const b = document.createElement("button");
    b.type = "button";
    b.className = "fb-button";
    b.textContent = text;
    b.addEventListener("click", act);
    return b;
  }

  function turn(step) {
    const window_ = model.get("window");
    const last = Math.max(1, model.get("total") - window_ + 1);
    model.set("first", Math.min(last, Math.max(1, model.get("first") + step * (window_ - 2))));
    model.save_changes();
  }

  function choose(td) {
    stop = [+td.dataset.row, +td.dataset.column];
    model.set("chosen", stop);
    model.set("picks", model.get("picks") + 1);
    model.save_changes();
    marks();
    // on a phone what was pointed at is told below the sheet
    const told = window.innerWidth < 700 && el.closest(".fb-screen")?.querySelector(".fb-pointing");
    if (told) told.scrollIntoView({ block: "nearest" });
  }

  function at(row, column) {
    return table.querySelector(`[data-row="${row}"][data-column="${column}"]`);
  }

  function go(row, column) {
    const next = at(row, column);
    if (!next) return false;
    stop = [row, column];
    marks();
    next.focus();
    return true;
  }

  table.addEventListener("click", (e) => {
    const td = e.target.closest("[data-row]");
    if (td) choose(td);
  });
  table.addEventListener("keydown", (e) => {
    const td = e.target.closest("[data-row]");
    if (!td) return;
    const [row, column] = [+td.dataset.row, +td.dataset.column];
    const numbers = [0, ...model.get("rows").map((r) => r.number)];
    const n = numbers.indexOf(row);
    const to = {
      ArrowDown: [numbers[n + 1], column], ArrowUp: [numbers[n - 1], column], ArrowRight: [row, column + 1],
      ArrowLeft: [row, column - 1], Home: [row, row ? 0 : 1], End: [row, model.get("heads").length],
    }[e.key];
    if (e.key === "Enter" || e.key === " ") { e.preventDefault(); choose(td); }
    else if (e.key === "PageDown" || e.key === "PageUp") { e.preventDefault(); turn(e.key === "PageDown" ? 1 : -1); }
    else if (to) { e.preventDefault(); go(...to); }
  });
  ["keydown", "keypress", "keyup"].forEach((n) => el.addEventListener(n, (e) => e.stopPropagation()));

  function put(td, row, column, text, more) {
    td.dataset.row = row;
    td.dataset.column = column;
    const drawn = JSON.stringify([text, more]);
    if (td.fbDrawn === drawn) return;
    td.fbDrawn = drawn;
    td.replaceChildren();
    for (const [name, words] of text) {
      const span = document.createElement("span");
      span.className = name;
      span.textContent = words;
      td.append(span);
    }
    td.className = more.css;
    td.style.boxShadow = "";
    if (more.fill) {
      const swatch = document.createElement("span");
      swatch.className = "fb-swatch fb-sheet-fill";
      swatch.style.background = more.fill;
      swatch.setAttribute("role", "img");
      swatch.setAttribute("aria-label", `filled ${more.fill}`);
      td.prepend(swatch);
    }
    td.title = more.title || "";
    if (more.label) td.setAttribute("aria-label", more.label);
    else td.removeAttribute("aria-label");
  }

  function paint() {
    const heads = model.get("heads");
    const rows = model.get("rows");
    if (model.get("caption")) table.createCaption().textContent = model.get("caption");
    else table.deleteCaption();
    if (!head.cells.length) {
      const corner = document.createElement("th");
      corner.scope = "col";
      corner.textContent = "Row";
      head.append(corner);
    }
    while (head.cells.length > heads.length + 1) head.deleteCell(-1);
    heads.forEach((h, i) => {
      let th = head.cells[i + 1];
      if (!th) {
        th = document.createElement("th");
        th.scope = "col";
        head.append(th);
      }
      put(th, 0, i + 1, [["fb-sheet-letter", h.letter], ["fb-sheet-means", h.means]], { css: "fb-sheet-head" });
    });
    while (body.rows.length > rows.length) body.deleteRow(-1);
    rows.forEach((r, n) => {
      const tr = body.rows[n] || body.insertRow();
      if (!tr.cells.length) {
        const th = document.createElement("th");
        th.scope = "row";
        tr.append(th);
      }
      while (tr.cells.length > heads.length + 1) tr.deleteCell(-1);
      put(tr.cells[0], r.number, 0, [["fb-sheet-letter", r.number], ["fb-sheet-means", r.means || ""]], { css: "fb-sheet-head" });
      heads.forEach((_, i) => {
        const td = tr.cells[i + 1] || tr.insertCell();
        const c = r.cells[i] || { text: "", fate: "" };
        const said = FATES[c.fate];
        const css = ["fb-fate-" + (c.fate || "blank").replace(" ", "-"), c.bold ? "fb-bold" : "", c.struck ? "fb-struck" : ""].join(" ").trim();
        const text = [["fb-sheet-text", c.text]];
        if (c.fate === "question") text.push(["fb-sheet-sign", " ?"]);
        put(td, r.number, i + 1, text, { css, fill: c.fill, title: c.why, label: said ? `${c.text}, ${said}` : "" });
      });
    });
    const first = model.get("first");
    const last = rows.length ? rows[rows.length - 1].number : 0;
    const total = model.get("total");
    before.hidden = after.hidden = rows.length >= total;
    before.disabled = first <= 1;
    after.disabled = last >= total;
    where.textContent = total ? `Rows ${first} to ${last} of ${total}` : "";
    marks();
  }

  function marks() {
    const marked = new Set(model.get("marked"));
    const [row, column] = model.get("chosen");
    if (!at(...stop)) stop = [0, 1];
    table.querySelectorAll("[data-row]").forEach((td) => {
      const [r, c] = [+td.dataset.row, +td.dataset.column];
      const on = r === row && c === column;
      td.classList.toggle("fb-sheet-chosen", on);
      td.classList.toggle("fb-sheet-marked", marked.has(`${r}:${c}`));
      td.setAttribute("aria-selected", on ? "true" : "false");
      td.tabIndex = r === stop[0] && c === stop[1] ? 0 : -1;
      if (r && c) td.setAttribute("role", "gridcell");
    });
  }

  model.on("change:painted", paint);
  model.on("change:marked", marks);
  model.on("change:chosen", marks);
  paint();
}
export default { render };
