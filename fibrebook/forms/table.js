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
  const table = document.createElement("table");
  table.className = "fb-table";
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
    if (value && typeof value === "object") {
      if (value.back) {
        const box = document.createElement("span");
        box.className = "fb-swatch";
        box.setAttribute("aria-hidden", "true");
        box.style.background = value.back;
        td.append(box);
      }
      td.append(value.word);
    } else td.textContent = value;
    return td;
  }

  function pick(row) {
    model.set("picked", row);
    model.set("picks", model.get("picks") + 1);
    model.save_changes();
  }

  function paint() {
    const columns = model.get("columns");
    const rows = model.get("rows");
    const clickable = model.get("clickable");
    table.replaceChildren();
    if (model.get("caption")) table.createCaption().textContent = model.get("caption");
    const head = table.createTHead().insertRow();
    columns.forEach((c, i) => {
      const th = document.createElement("th");
      th.scope = "col";
      const [by, down] = model.get("order");
      th.setAttribute("aria-sort", by === i ? (down ? "descending" : "ascending") : "none");
      if (model.get("total") > 1 && model.get("sortable")) {
        const b = document.createElement("button");
        b.type = "button";
        b.className = "fb-sort";
        b.textContent = c.title + (by === i ? (down ? " ▼" : " ▲") : "");
        b.addEventListener("click", () => { model.set("order", [i, by === i ? !down : false]); model.save_changes(); });
        th.append(b);
      } else th.textContent = c.title;
      head.append(th);
    });
    const body = table.createTBody();
    rows.forEach((row, n) => {
      const tr = body.insertRow();
      row.forEach((v, i) => tr.append(cell(v, columns[i].numeric)));
      if (!clickable) return;
      const first = tr.cells[0];
      const b = document.createElement("button");
      b.type = "button";
      b.className = "fb-pick";
      b.append(...first.childNodes);
      if (!b.textContent) b.textContent = "choose";
      first.append(b);
      const number = model.get("numbers")[n];
      tr.classList.toggle("fb-picked", number === model.get("picked"));
      tr.addEventListener("click", () => pick(number));
      b.addEventListener("keydown", (e) => {
        const step = { ArrowDown: 1, ArrowUp: -1 }[e.key];
        const next = step && body.rows[n + step];
        if (next) { e.preventDefault(); next.querySelector(".fb-pick").focus(); }
      });
    });
    const pages = model.get("pages");
    const total = model.get("total");
    bar.hidden = pages < 2 && !find.value && total < 15;
    before.hidden = after.hidden = pages < 2;
    before.disabled = model.get("page") <= 0;
    after.disabled = model.get("page") >= pages - 1;
    where.textContent = total === 0 ? "No rows" : pages < 2 ? `${total} rows` : `Page ${model.get("page") + 1} of ${pages}, ${total} rows`;
  }

  function mark() {
    [...(table.tBodies[0] || { rows: [] }).rows].forEach((tr, n) => tr.classList.toggle("fb-picked", model.get("numbers")[n] === model.get("picked")));
  }

  find.addEventListener("input", () => { model.set("find", find.value); model.save_changes(); });
  ["keydown", "keypress", "keyup"].forEach((n) => el.addEventListener(n, (e) => e.stopPropagation()));
  model.on("change:painted", paint);
  model.on("change:picked", mark);
  paint();
}
export default { render };
