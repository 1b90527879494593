// A text box with a list below it: type, choose with arrows and Enter, or click. ARIA combobox with listbox.
let count = 0;

function fold(text) {
  return text.normalize("NFD").replace(/[\u0300-\u036f]/g, "").toLowerCase();
}

function render({ model, el }) {
  const id = `fb-picker-${++count}-${Math.floor(Math.random() * 1e9)}`;
  el.classList.add("fb-picker");
  const label = document.createElement("label");
  label.htmlFor = id;
  label.className = "fb-picker-label";
  const input = document.createElement("input");
  Object.assign(input, { id, type: "text", autocomplete: "off", spellcheck: false });
  input.setAttribute("role", "combobox");
  input.setAttribute("aria-autocomplete", "list");
  input.setAttribute("aria-expanded", "false");
  input.setAttribute("aria-controls", `${id}-list`);
  const list = document.createElement("ul");
  list.id = `${id}-list`;
  list.className = "fb-picker-list";
  list.setAttribute("role", "listbox");
  list.hidden = true;
  const note = document.createElement("div"); // what is typed matches nothing: it stays, and that is said
  note.id = `${id}-note`;
  note.className = "fb-picker-note";
  note.setAttribute("role", "status");
  note.hidden = true;
  el.append(label, input, list, note);
  let shown = [];
  let at = -1;
  let settled = null; // text of the option just chosen: the list stays shut until something else is typed
  let waiting = false; // Enter was pressed before Python had answered what is typed

  // A press that comes next waits for the choice: see page_side.js.
  function wait(on) {
    waiting = on;
    if (on) el.dataset.fbWaits = "true";
    else delete el.dataset.fbWaits;
  }

  function current() {
    return !model.get("searching") || model.get("answered") === input.value;
  }

  const plain = (text) => fold(String(text)).replace(/\s+/g, "");

  function exactly(text) {
    const typed = plain(text);
    if (!typed) return undefined;
    const whole = model.get("options").find((o) => plain(o[1]) === typed || plain(o[0]) === typed);
    if (whole || !model.get("searching")) return whole;
    // what is searched for is shown with its kind, "port P1/18/A": its label alone will do where one only has it
    const named = model.get("options").filter((o) => plain(o[1].replace(/^\S+\s/, "")) === typed);
    return named.length === 1 ? named[0] : undefined;
  }

  function textOfValue() {
    const value = model.get("value");
    const found = model.get("options").find((o) => o[0] === value);
    return found ? found[1] : value;
  }

  // Called when the box is left: what stands in it is one of the options, or is said to be none.
  function judge() {
    if (model.get("free")) return;
    const typed = input.value.trim();
    if (typed === textOfValue() || (model.get("value") && typed === settled)) return said("");
    const exact = exactly(typed);
    if (exact && (!model.get("searching") || current())) return choose(exact);
    model.set("query", input.value);
    model.set("unmatched", typed); // before the value: what is typed is not to be wiped
    if (!model.get("searching")) model.set("value", "");
    said(typed);
  }

  function said(typed) {
    model.set("unmatched", typed);
    model.save_changes();
    paintNote();
  }

  function paintNote() {
    const typed = model.get("unmatched");
    note.hidden = !typed;
    const found = model.get("searching") && (!current() || model.get("options").length);
    note.textContent = !typed ? "" : found
      ? `\u201c${typed}\u201d is not chosen yet: choose from the list`
      : `Nothing here matches \u201c${typed}\u201d`;
    if (typed) {
      input.setAttribute("aria-invalid", "true");
      input.setAttribute("aria-describedby", note.id);
    } else {
      input.removeAttribute("aria-invalid");
      input.removeAttribute("aria-describedby");
    }
  }

  function match() {
    const options = model.get("options");
    const typed = fold(input.value.trim());
    if (model.get("searching")) return options.slice(0, 60);
    if (!typed) return options.slice(0, 60);
    const words = typed.split(/\s+/);
    const rank = (o) => {
      const text = fold(o[1]);
      if (text === typed) return 0;
      if (text.startsWith(typed)) return 1;
      if (words.every((w) => text.split(/[^\p{L}\p{N}]+/u).some((p) => p.startsWith(w)))) return 2;
      return words.every((w) => fold(`${o[1]} ${o[2] || ""}`).includes(w)) ? 3 : 9;
    };
    return options
      .map((o, i) => [rank(o), i, o])
      .filter((r) => r[0] < 9)
      .sort((a, b) => a[0] - b[0] || a[1] - b[1])
      .slice(0, 60)
      .map((r) => r[2]);
  }

  function mark(index) {
    at = index;
    [...list.children].forEach((li, i) => li.setAttribute("aria-selected", i === at ? "true" : "false"));
    const li = list.children[at];
    if (li && shown.length) {
      input.setAttribute("aria-activedescendant", li.id);
      li.scrollIntoView({ block: "nearest" });
    } else input.removeAttribute("aria-activedescendant");
  }

  function open() {
    shown = match();
    list.replaceChildren();
    shown.forEach((o, i) => {
      const li = document.createElement("li");
      li.id = `${id}-${i}`;
      li.setAttribute("role", "option");
      li.className = "fb-picker-option";
      const strong = document.createElement("span");
      strong.textContent = o[1];
      li.append(strong);
      if (o[2]) {
        const hint = document.createElement("span");
        hint.className = "fb-picker-hint";
        hint.textContent = ` – ${o[2]}`;
        li.append(hint);
      }
      li.addEventListener("mousedown", (e) => { e.preventDefault(); choose(o); });
      list.append(li);
    });
    const visible = shown.length > 0 && document.activeElement === input;
    list.hidden = !visible;
    input.setAttribute("aria-expanded", visible ? "true" : "false");
    mark(shown.length && (input.value.trim() || model.get("searching")) ? 0 : -1);
  }

  function close() {
    list.hidden = true;
    input.setAttribute("aria-expanded", "false");
    input.removeAttribute("aria-activedescendant");
  }

  function choose(o) {
    wait(false);
    settled = o[1];
    input.value = o[1];
    close();
    model.set("query", o[1]);
    model.set("value", o[0]);
    said("");
  }

  function paintValue() {
    const value = model.get("value");
    const found = model.get("options").find((o) => o[0] === value);
    if (model.get("unmatched") && !value) input.value = model.get("unmatched");
    else if (found) input.value = found[1];
    else if (value || document.activeElement !== input || settled === input.value) input.value = value; // not over typing
  }

  function paint() {
    label.textContent = model.get("label");
    input.placeholder = model.get("placeholder");
    input.disabled = model.get("disabled");
    list.setAttribute("aria-label", model.get("label"));
  }

  input.addEventListener("input", () => {
    settled = null;
    wait(false);
    model.set("query", input.value);
    if (model.get("free")) model.set("value", input.value.trim());
    said("");
    open();
  });
  input.addEventListener("focus", () => { input.select(); open(); });
  input.addEventListener("blur", () => {
    close();
    judge();
  });
  input.addEventListener("keydown", (e) => {
    if (e.key === "ArrowDown" || e.key === "ArrowUp") {
      e.preventDefault();
      if (list.hidden) open();
      const step = e.key === "ArrowDown" ? 1 : -1;
      if (shown.length) mark((at + step + shown.length) % shown.length);
    } else if (e.key === "Enter") {
      e.preventDefault();
      if (!current()) wait(settled === null);
      else if (!list.hidden && at >= 0) choose(shown[at]);
      else if (model.get("free")) close();
    } else if (e.key === "Escape") {
      e.stopPropagation();
      close();
    }
  });
  // JupyterLab must not take letters typed here for its own shortcuts.
  ["keydown", "keypress", "keyup"].forEach((n) => input.addEventListener(n, (e) => e.stopPropagation()));
  function answer() {
    if (settled !== null && settled === input.value) return;
    if (waiting && current()) { // Enter was pressed, wherever the focus is by now
      wait(false);
      if (match().length) return choose(match()[0]);
    }
    if (list.hidden && document.activeElement !== input) {
      if (model.get("unmatched")) judge(); // what was typed too early may be among them now
      else paintValue();
      return;
    }
    open();
  }
  model.on("change:options change:answered", answer);
  model.on("change:value", () => { if (model.get("value") !== input.value) paintValue(); });
  model.on("change:unmatched", () => {
    if (!model.get("unmatched") && !model.get("value") && document.activeElement !== input) input.value = "";
    paintNote();
  });
  model.on("change:label change:placeholder change:disabled", paint);
  paint();
  paintValue();
  paintNote();
}
export default { render };
