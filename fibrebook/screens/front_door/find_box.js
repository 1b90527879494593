// One box over the whole firm: see find_box.py. ARIA combobox whose list has groups.
let count = 0;

function render({ model, el }) {
  const id = `fb-find-${++count}-${Math.floor(Math.random() * 1e9)}`;
  el.classList.add("fb-find-box");
  const make = (tag, name, where) => {
    const made = document.createElement(tag);
    if (name) made.className = name;
    if (where) where.append(made);
    return made;
  };
  const input = make("input", "", el);
  Object.assign(input, { id, type: "text", autocomplete: "off", spellcheck: false, enterKeyHint: "search" });
  for (const [name, value] of [["role", "combobox"], ["aria-autocomplete", "list"], ["aria-expanded", "false"], ["aria-controls", `${id}-list`]]) {
    input.setAttribute(name, value);
  }
  const below = make("div", "fb-find-below", el);
  below.hidden = true;
  const words = make("div", "fb-find-words", below);
  words.setAttribute("role", "status");
  const list = make("div", "fb-find-list", below);
  list.id = `${id}-list`;
  list.setAttribute("role", "listbox");
  let shown = [];
  let at = -1;
  let waiting = false;
  const current = () => model.get("answered") === input.value;

  function mark(index) {
    at = index;
    shown.forEach((s, i) => s.row.setAttribute("aria-selected", i === at ? "true" : "false"));
    if (at >= 0) {
      input.setAttribute("aria-activedescendant", shown[at].row.id);
      shown[at].row.scrollIntoView({ block: "nearest" });
    } else input.removeAttribute("aria-activedescendant");
  }

  function close() {
    below.hidden = true;
    input.setAttribute("aria-expanded", "false");
    input.removeAttribute("aria-activedescendant");
  }

  function go(link) {
    waiting = false;
    close();
    input.select(); // the next letter begins another question
    model.set("went", link);
    model.set("goes", model.get("goes") + 1);
    model.save_changes();
  }

  function paint() {
    shown = [];
    list.replaceChildren();
    for (const group of model.get("found")) {
      const box = make("div", "fb-find-group", list);
      box.setAttribute("role", "group");
      const head = make("div", "fb-find-group-title", box);
      head.id = `${id}-g${shown.length}`;
      head.textContent = group.title;
      box.setAttribute("aria-labelledby", head.id);
      for (const item of group.items) {
        const row = make("div", "fb-find-item", box);
        row.setAttribute("role", "option");
        row.setAttribute("aria-selected", "false");
        row.id = `${id}-${shown.length}`;
        make("span", "fb-find-name", row).textContent = item.label;
        if (item.hint) make("span", "fb-find-hint", row).textContent = item.hint;
        row.addEventListener("mousedown", (e) => { e.preventDefault(); go(item.link); });
        shown.push({ row, link: item.link });
      }
    }
    words.textContent = model.get("words");
    words.hidden = !model.get("words");
    const open = document.activeElement === input && input.value.trim() && (shown.length || model.get("words"));
    below.hidden = !open;
    list.hidden = !shown.length;
    input.setAttribute("aria-expanded", open && shown.length ? "true" : "false");
    mark(shown.length ? 0 : -1);
  }

  function ask() {
    model.set("query", input.value);
    model.save_changes();
    if (!input.value.trim()) close();
  }

  input.addEventListener("input", () => { waiting = false; ask(); });
  input.addEventListener("focus", () => { input.select(); if (current() && input.value.trim()) paint(); });
  input.addEventListener("blur", close);
  input.addEventListener("keydown", (e) => {
    if (e.key === "ArrowDown" || e.key === "ArrowUp") {
      e.preventDefault();
      if (below.hidden) paint();
      const step = e.key === "ArrowDown" ? 1 : -1;
      if (shown.length) mark((at + step + shown.length) % shown.length);
    } else if (e.key === "Enter") {
      e.preventDefault();
      if (!input.value.trim()) return;
      if (!current()) { waiting = true; ask(); }
      else if (below.hidden) paint();
      else if (at >= 0) go(shown[at].link);
    } else if (e.key === "Escape") {
      e.stopPropagation();
      if (below.hidden) input.select(); else close();
    }
  });
  // letters typed here are no shortcuts of the page around
  ["keydown", "keypress", "keyup"].forEach((n) => input.addEventListener(n, (e) => e.stopPropagation()));

  function answered() {
    if (!current()) return;
    paint();
    if (waiting && shown.length) go(shown[0].link);
    waiting = false;
  }
  model.on("change:answered", answered);
  function names() {
    input.setAttribute("aria-label", model.get("label"));
    input.placeholder = model.get("placeholder");
    list.setAttribute("aria-label", model.get("label"));
  }
  model.on("change:label change:placeholder", names);
  names();
  // On a page of its own the box takes keys at once; in a notebook it does not take them away from the cells.
  const own = document.body.dataset.voila !== undefined;
  let tries = own ? 400 : 0;
  (function focus() {
    const other = document.activeElement && document.activeElement !== document.body && document.activeElement !== input;
    if (!tries-- || other || document.activeElement === input) return;
    if (el.isConnected && !el.closest("[inert]") && el.offsetParent && !window.location.hash.slice(2)) input.focus({ preventScroll: true });
    setTimeout(focus, 25);
  })();
}
export default { render };
