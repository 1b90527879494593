// A grid to fill by hand: plain inputs in a table. Enter and arrows move down and up, a pasted column or block fills down.
let count = 0;

function render({ model, el }) {
  const id = `fb-grid-${++count}-${Math.floor(Math.random() * 1e9)}`;
  el.classList.add("fb-grid");
  const scroll = document.createElement("div");
  scroll.className = "fb-scroll";
  const table = document.createElement("table");
  table.className = "fb-table fb-entry";
  scroll.append(table);
  const told = document.createElement("div");
  told.setAttribute("role", "status");
  told.className = "fb-grid-told";
  el.append(scroll, told);
  let inputs = []; // by row: name -> input
  let values = [];
  let labels = [];
  let subject = "";
  let timer = 0;
  let fresh = new Map(); // filled in and not sent yet: "label\ncolumn" -> [label, column, value]
  let sent = []; // sent and not heard yet
  let number = model.get("heard");

  const columns = () => model.get("columns");
  const open = (c) => c.kind !== "text" && c.kind !== "swatch";

  function send() {
    clearTimeout(timer);
    timer = 0;
    if (!fresh.size) return;
    const message = { subject, number: ++number, cells: [...fresh.values()] };
    fresh = new Map();
    sent = sent.filter((m) => m.number > model.get("heard"));
    sent.push(message);
    model.send(message);
  }

  function later() {
    clearTimeout(timer);
    timer = setTimeout(send, 120); // one message for a run of keystrokes
  }

  function note(r, name, value) {
    values[r][name] = value;
    fresh.set(`${labels[r]}\n${name}`, [labels[r], name, value]);
  }

  function put(r, name, value) {
    if (values[r][name] === value) return;
    note(r, name, value);
    write(r, name);
  }

  function write(r, name) {
    const input = inputs[r][name];
    if (!input) return;
    if (input.type === "checkbox") input.checked = !!values[r][name];
    else input.value = values[r][name] == null ? "" : values[r][name];
  }

  // What Python had not heard yet when it drew these rows: it stands in them all the same.
  function fillAgain() {
    sent = sent.filter((m) => m.number > model.get("heard") && m.subject === subject);
    const place = new Map(labels.map((label, r) => [label, r]));
    [...sent.flatMap((m) => m.cells), ...fresh.values()].forEach(([label, name, value]) => {
      const r = place.get(label);
      if (r !== undefined && inputs[r][name] && !inputs[r][name].disabled) {
        values[r][name] = value;
        write(r, name);
      }
    });
  }

  function ticks(r, because) {
    const name = model.get("ticked_by")[because];
    if (name && !model.get("rows")[r].locked.includes(name) && values[r][because] !== "") put(r, name, true);
  }

  function move(r, c, step) {
    for (let n = r + step; n >= 0 && n < inputs.length; n += step) {
      const input = inputs[n][columns()[c].name];
      if (input && !input.disabled) {
        input.focus();
        if (input.select) input.select();
        return true;
      }
    }
    return false;
  }

  function paste(event, r, c) {
    const text = (event.clipboardData || window.clipboardData).getData("text");
    if (!/[\n\t]/.test(text.replace(/[\r\n]+$/, ""))) return;
    event.preventDefault();
    const lines = text.replace(/\r/g, "").replace(/\n+$/, "").split("\n").map((l) => l.split("\t"));
    const cols = columns().slice(c).filter((x) => x.kind === "entry" || x.kind === "choice");
    let n = r;
    let filled = 0;
    let left = 0;
    for (const line of lines) {
      while (n < inputs.length && !(inputs[n][columns()[c].name] && !inputs[n][columns()[c].name].disabled)) n += 1;
      if (n >= inputs.length) { left += 1; continue; }
      line.forEach((value, k) => {
        const col = cols[k];
        if (!col || !inputs[n][col.name] || inputs[n][col.name].disabled) return;
        const typed = value.trim();
        put(n, col.name, col.kind === "choice" ? (col.options.find((o) => o.toLowerCase() === typed.toLowerCase()) || "") : typed);
        ticks(n, col.name);
      });
      filled += 1;
      n += 1;
    }
    told.textContent = left ? `${filled} rows filled; ${left} pasted lines had no row left` : `${filled} rows filled`;
    send();
  }

  function control(col, row, r, c) {
    let input;
    if (col.kind === "choice") {
      input = document.createElement("select");
      ["", ...col.options].forEach((o) => input.add(new Option(o, o)));
    } else {
      input = document.createElement("input");
      input.type = col.kind === "tick" ? "checkbox" : "text";
      if (col.kind === "entry") {
        input.autocomplete = "off";
        input.spellcheck = false;
        if (col.numeric) input.inputMode = "decimal";
        if (col.list) input.setAttribute("list", `${id}-${col.name}`);
        input.style.width = col.width || "6em";
      }
    }
    input.setAttribute("aria-label", `${col.title}, ${row.label}`);
    input.className = `fb-cell fb-cell-${col.name}`;
    input.dataset.row = r;
    input.dataset.column = col.name;
    const value = values[r][col.name];
    if (col.kind === "tick") input.checked = !!value;
    else input.value = value == null ? "" : value;
    input.disabled = row.locked.includes(col.name);
    const take = () => {
      if (inputs[r] === undefined || inputs[r][col.name] !== input) return; // it is leaving the page: all of it was heard
      note(r, col.name, col.kind === "tick" ? input.checked : input.value);
      ticks(r, col.name);
    };
    input.addEventListener("input", () => { take(); later(); });
    input.addEventListener("change", () => { take(); send(); });
    input.addEventListener("paste", (e) => paste(e, r, c));
    input.addEventListener("keydown", (e) => {
      const step = { Enter: 1, ArrowDown: 1, ArrowUp: -1 }[e.key];
      if (step && !(col.kind === "choice" && e.key !== "Enter")) {
        if (move(r, c, step) || e.key === "Enter") e.preventDefault();
      }
    });
    return input;
  }

  function head(col) {
    const th = document.createElement("th");
    th.scope = "col";
    th.append(col.title);
    if (col.kind === "tick") {
      const b = document.createElement("button");
      b.type = "button";
      b.className = "fb-button fb-all";
      b.textContent = "All";
      b.setAttribute("aria-label", `${col.title}: all rows, or none`);
      b.addEventListener("click", () => {
        const rows = values.map((v, r) => r).filter((r) => !model.get("rows")[r].locked.includes(col.name));
        const need = model.get("all_needs")[col.name];
        const ready = rows.filter((r) => !need || values[r][need]);
        const on = !ready.every((r) => values[r][col.name]);
        (on ? ready : rows).forEach((r) => put(r, col.name, on));
        const lacking = rows.length - ready.length;
        const title = need && columns().find((x) => x.name === need).title;
        told.textContent = on && lacking ? `${ready.length} rows ticked; ${lacking} left: nothing stands under ${title}` : "";
        send();
      });
      th.append(" ", b);
    }
    return th;
  }

  function paint() {
    const started = performance.now();
    const focus = document.activeElement && el.contains(document.activeElement) ? document.activeElement : null;
    const at = focus && inputs.findIndex((row) => Object.values(row).includes(focus));
    const was = focus && at >= 0 ? [labels[at], focus.dataset.column, focus.selectionStart, focus.selectionEnd] : null;
    if (model.get("subject") !== subject) send(); // of the rows before: Python tells what becomes of it
    const same = model.get("subject") === subject;
    subject = model.get("subject");
    const rows = model.get("rows");
    labels = rows.map((row) => row.label);
    values = model.get("values").map((v) => ({ ...v }));
    inputs = rows.map(() => ({}));
    const whole = document.createDocumentFragment();
    const caption = document.createElement("caption");
    caption.textContent = model.get("caption");
    whole.append(caption);
    const thead = document.createElement("thead");
    const top = document.createElement("tr");
    columns().forEach((c) => top.append(head(c)));
    thead.append(top);
    const body = document.createElement("tbody");
    rows.forEach((row, r) => {
      const tr = document.createElement("tr");
      columns().forEach((col, c) => {
        const td = document.createElement(c === model.get("row_head") ? "th" : "td");
        if (td.tagName === "TH") td.scope = "row";
        if (open(col)) {
          const input = control(col, row, r, c);
          inputs[r][col.name] = input;
          td.append(input);
          const words = document.createElement("div");
          words.className = "fb-fault";
          words.id = `${id}-${r}-${col.name}`;
          words.hidden = true;
          td.append(words);
        } else fillCell(td, row.cells[col.name]);
        tr.append(td);
      });
      body.append(tr);
    });
    whole.append(thead, body);
    columns().filter((c) => c.list).forEach((c) => {
      const list = document.createElement("datalist");
      list.id = `${id}-${c.name}`;
      c.list.forEach((o) => list.append(new Option(o, o)));
      whole.append(list);
    });
    table.replaceChildren(whole);
    if (!same) told.textContent = "";
    el.hidden = rows.length === 0;
    fillAgain();
    if (same && was) focusAgain(was);
    faults();
    el.dataset.paintMs = (performance.now() - started).toFixed(1);
  }

  function faults() {
    const found = model.get("faults");
    inputs.forEach((row, r) => Object.entries(row).forEach(([name, input]) => {
      const words = found[`${r}:${name}`] || "";
      const note = document.getElementById(`${id}-${r}-${name}`) || input.nextSibling;
      note.hidden = !words;
      note.textContent = words;
      input.toggleAttribute("aria-invalid", false);
      if (words) {
        input.setAttribute("aria-invalid", "true");
        input.setAttribute("aria-describedby", note.id);
      } else input.removeAttribute("aria-describedby");
    }));
  }

  function focusAgain([label, name, start, end]) {
    const r = labels.indexOf(label);
    const input = r >= 0 && inputs[r][name];
    if (!input || input.disabled) return;
    input.focus();
    if (start != null && input.setSelectionRange) input.setSelectionRange(start, end);
  }

  ["keydown", "keypress", "keyup", "paste"].forEach((n) => el.addEventListener(n, (e) => e.stopPropagation()));
  model.on("change:painted", paint);
  model.on("change:faults", faults);
  paint();
}
export default { render };
