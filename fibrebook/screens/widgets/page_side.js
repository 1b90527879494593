// A screen's own side in the page: see page_side.py.
const QUIET = "data-lm-suppress-shortcuts";
const LONGEST_MS = 10000;
const EVERY_MS = 1000;
const NO_ANSWER_MS = 4000; // from a kernel that is not at work on anything
const LOST = ["dead", "terminating", "restarting", "autorestarting", "unknown"];

// JupyterLab can let a kernel handle widgets' messages in a thread of their own (a subshell) beside that of the cells, and a
// kernel may answer in either: what is done later could then be handled earlier, or at the same time. A form cannot live
// with that, so this notebook's widgets speak with the cells' thread alone; until they do, the screen takes nothing in.
async function oneLine(manager) {
  const kernel = manager && manager.kernel;
  if (!kernel || !kernel.createComm) return;
  await kernel.info;
  if (!kernel.supportsSubshells || kernel.commsOverSubshells === "disabled") return;
  const comm = kernel.createComm("jupyter.widget"); // the target that all widgets share; it is never opened
  await comm.subshellStarted; // in the middle of its start a subshell cannot be left
  comm.dispose();
  await new Promise((go) => setTimeout(go, 0)); // the widgets' own comms wait for the same promise
  kernel.commsOverSubshells = "disabled";
}

// A page that is not in front has its clocks slowed down to a beat a minute; those of a worker go on.
function everySecond(tick) {
  try {
    const address = URL.createObjectURL(new Blob([`setInterval(() => postMessage(0), ${EVERY_MS})`]));
    const worker = new Worker(address);
    worker.onmessage = tick;
    return () => { worker.terminate(); URL.revokeObjectURL(address); };
  } catch {
    const timer = setInterval(tick, EVERY_MS);
    return () => clearInterval(timer);
  }
}

// What lies over a screen that nobody answers for: why, what is kept, and the way on.
function overlay(again) {
  const box = document.createElement("div");
  box.className = "fb-message fb-wrong fb-cut-off";
  box.setAttribute("role", "alert");
  const words = document.createElement("div");
  const button = document.createElement("button");
  button.type = "button";
  button.className = "jupyter-button widget-button fb-begin-again";
  button.textContent = "Begin again";
  button.addEventListener("click", again);
  box.append(words, button);
  return { box, tell: (text) => { words.textContent = text; } };
}

// ipywidgets holds back what is typed into a box while an earlier change of that box is under way, but sends a press at
// once: it would overtake what was typed before it. So a press waits until nothing is held back, and is made anew then.
// Every screen loads this module for itself, and screens may stand within one another: hence the common symbols.
const ANEW = Symbol.for("fibrebook: a press made anew");
const WATCHED = Symbol.for("fibrebook: presses are watched");
const PRESSED = ".fb-screen :is(button, a[href], summary)";
const SAME_PLACE_PX = 8;

function pressesInOrder(screen, manager, kernelOf) {
  let models = [];
  let before = new Map(); // what was held back at the last beat, by model
  let line = Promise.resolve();
  let inLine = 0;

  function learn() { // the manager gives its models as promises only
    Promise.allSettled(Object.values((manager && manager._models) || {})).then((all) => {
      models = all.map((one) => one.value).filter(Boolean);
    });
  }

  const held = () => models.filter((m) => m._msg_buffer && Object.keys(m._msg_buffer).length);
  const waits = () => held().length > 0 || screen.querySelector("[data-fb-waits]") !== null;

  async function settled() {
    const latest = Date.now() + LONGEST_MS;
    while (waits() && Date.now() < latest) await new Promise((go) => setTimeout(go, 10));
  }

  function press(e) {
    if (e[ANEW] || e.defaultPrevented || !(inLine || waits())) return;
    e.preventDefault();
    e.stopImmediatePropagation();
    const again = new MouseEvent("click", e);
    again[ANEW] = true;
    const on = e.target;
    inLine += 1;
    line = line.then(settled).then(() => {
      inLine -= 1;
      on.dispatchEvent(again);
    });
  }

  // What is held back goes on its way when the kernel says that it is done with the change before. Where that word was
  // lost, and the kernel has been at rest from one beat to the next, nothing would ever go.
  function beat() {
    const kernel = kernelOf();
    if (kernel && kernel.status === "idle") {
      for (const m of held()) {
        if (before.get(m) !== m._msg_buffer) continue;
        m._pending_msgs = 1;
        m._handle_status({ content: { execution_state: "idle" } });
      }
    }
    before = new Map(held().map((m) => [m, m._msg_buffer]));
  }

  for (const what of ["input", "change", "focusin", "pointerdown"]) screen.addEventListener(what, learn, true);
  screen.addEventListener("click", press, true);
  learn();
  return beat;
}

// A box that is left may say something below itself, and the button under the finger moves away between press and
// release: the browser then knows no click. Whoever pressed it meant it.
function watchPresses() {
  if (window[WATCHED]) return;
  window[WATCHED] = true;
  let was = null;
  window.addEventListener("pointerdown", (e) => {
    const on = e.button === 0 && e.isPrimary && e.target.closest && e.target.closest(PRESSED);
    was = on ? { on, x: e.clientX, y: e.clientY } : null;
  }, true);
  window.addEventListener("pointerup", (e) => {
    const pressed = was;
    was = null;
    if (!pressed || pressed.on.contains(e.target) || !pressed.on.isConnected) return;
    if (Math.hypot(e.clientX - pressed.x, e.clientY - pressed.y) > SAME_PLACE_PX) return;
    setTimeout(() => pressed.on.click(), 0);
  }, true);
  window.addEventListener("pointercancel", () => { was = null; }, true);
}

function render({ model, el }) {
  el.style.display = "none";
  let screen = null;
  let open = false;
  let answered = 0; // when the kernel answered last
  let ticked = 0; // when it was asked last
  let idle = 0; // since when it is at work on nothing
  let lost = ""; // a kernel that was started anew knows nothing of this screen: that is for good
  let stop = () => {};
  let beat = () => {};
  const cut = overlay(beginAgain);

  function kernelOf() {
    return (model.widget_manager && model.widget_manager.kernel) || null;
  }

  // The notebook's command registry (Lumino) passes over keys whose own target bears this attribute; targets come and
  // go, so each is marked when it gets the focus.
  function attach(tries) {
    screen = el.closest(".fb-screen");
    if (!screen) {
      if (tries) setTimeout(() => attach(tries - 1), 20);
      return;
    }
    screen.addEventListener("focusin", (e) => e.target.setAttribute(QUIET, "true"));
    screen.inert = !open;
    if (open) screen.dataset.takesIn = "true";
    beat = pressesInOrder(screen, model.widget_manager, kernelOf);
    watchPresses();
  }

  function ready() {
    if (open) return;
    open = true;
    if (screen) {
      screen.inert = false;
      screen.dataset.takesIn = "true";
    }
    model.send("drawn");
    answered = ticked = idle = Date.now();
    stop = everySecond(tick);
    tick();
  }

  function tick() {
    const now = Date.now();
    if (now - ticked > 3 * EVERY_MS) answered = idle = now; // the machine slept: nothing was asked, so nothing answered
    ticked = now;
    beat();
    const kernel = kernelOf();
    if (kernel && LOST.includes(kernel.status)) lost = kernel.status;
    if (kernel && kernel.isDisposed) lost = "dead";
    if (!kernel || kernel.status === "busy") idle = now;
    const away = kernel && kernel.connectionStatus && kernel.connectionStatus !== "connected";
    if (lost) shut("The program behind this screen (its kernel) has ended or was started anew.");
    else if (now - answered > NO_ANSWER_MS && (away || now - idle > NO_ANSWER_MS / 2)) {
      shut(away ? "This screen has lost its connection." : "The program behind this screen (its kernel) does not answer.");
    }
    try {
      if (!kernel || !kernel.isDisposed) model.send("here");
    } catch { /* told above */ }
  }

  function shut(why) {
    const kept = model.get("kept");
    const rest = kept
      ? ` What was typed until ${kept} is kept on this machine and offered when you begin again.`
      : "";
    cut.tell(`${why} Nothing on it can be saved, and what it shows may be old.${rest}${how()}`);
    if (!screen || cut.box.isConnected) return;
    screen.prepend(cut.box);
    for (const part of screen.children) if (part !== cut.box) part.inert = true;
    screen.classList.add("fb-is-cut-off");
  }

  function back() {
    if (!cut.box.isConnected) return;
    cut.box.remove();
    for (const part of screen.children) part.inert = false;
    screen.classList.remove("fb-is-cut-off");
  }

  // In JupyterLab the notebook is run again from its own toolbar, which asks first; a page is loaded again.
  function notebook() {
    return el.closest(".jp-NotebookPanel") || (screen && screen.closest(".jp-NotebookPanel"));
  }

  function runAgain() {
    const panel = notebook();
    return panel && panel.querySelector("[data-command='notebook:restart-run-all']");
  }

  function how() {
    return notebook() && !runAgain() ? " To begin again: Run, Restart Kernel and Run All Cells." : "";
  }

  function beginAgain() {
    const command = runAgain();
    if (command) {
      for (const what of ["mousedown", "mouseup", "click"]) { // the toolbar heeds one of them
        command.dispatchEvent(new MouseEvent(what, { bubbles: true, composed: true, cancelable: true }));
      }
    }
    else if (!notebook()) window.location.reload();
  }

  function leave() {
    try { model.send("leaving"); } catch { /* nobody hears it */ }
  }

  model.on("msg:custom", (content) => {
    if (content !== "here" || lost) return;
    answered = Date.now();
    back();
  });
  window.addEventListener("pagehide", leave);
  attach(250);
  const latest = setTimeout(ready, LONGEST_MS);
  oneLine(model.widget_manager).catch((why) => console.warn("fibrebook:", why)).then(ready);
  return () => {
    open = true; // never begun any more
    clearTimeout(latest);
    stop();
    window.removeEventListener("pagehide", leave);
  };
}
export default { render };
