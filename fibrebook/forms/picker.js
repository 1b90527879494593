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
  el.append(label, input, list);
  let shown = [];
  let at = -1;
  let settled = null; // text of the option just chosen: the list stays shut until something else is typed
  let waiting = false; // Enter was pressed before Python had answered what is typed

  function current() {
    return !model.get("searching") || model.get("answered") === input.value;
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
    waiting = false;
    settled = o[1];
    input.value = o[1];
    close();
    model.set("query", o[1]);
    model.set("value", o[0]);
    model.save_changes();
  }

  function paintValue() {
    const value = model.get("value");
    const found = model.get("options").find((o) => o[0] === value);
    if (found) input.value = found[1];
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
    waiting = false;
    model.set("query", input.value);
    if (model.get("free")) model.set("value", input.value.trim());
    model.save_changes();
    open();
  });
  input.addEventListener("focus", () => { input.select(); open(); });
  input.addEventListener("blur", () => {
    close();
    const typed = fold(input.value.trim());
    const exact = model.get("options").find((o) => fold(o[1]) === typed || fold(String(o[0])) === typed);
    if (exact && exact[0] !== model.get("value")) choose(exact);
    else if (!model.get("free") && !model.get("searching") && !exact) paintValue();
  });
  input.addEventListener("keydown", (e) => {
    if (e.key === "ArrowDown" || e.key === "ArrowUp") {
      e.preventDefault();
      if (list.hidden) open();
      const step = e.key === "ArrowDown" ? 1 : -1;
      if (shown.length) mark((at + step + shown.length) % shown.length);
    } else if (e.key === "Enter") {
      e.preventDefault();
      if (!current()) waiting = settled === null;
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
    if (list.hidden && document.activeElement !== input) { paintValue(); return; }
    open();
    if (waiting && current() && shown.length) choose(shown[0]);
  }
  model.on("change:options change:answered", answer);
  model.on("change:value", () => { if (model.get("value") !== input.value) paintValue(); });
  model.on("change:label change:placeholder change:disabled", paint);
  paint();
  paintValue();
}
export default { render };
