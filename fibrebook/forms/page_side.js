// A screen's own side in the page: see page_side.py.
const QUIET = "data-lm-suppress-shortcuts";
const LONGEST_MS = 10000;

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

function render({ model, el }) {
  el.style.display = "none";
  let screen = null;
  let open = false;

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
  }

  function ready() {
    if (open) return;
    open = true;
    if (screen) screen.inert = false;
    model.send("drawn");
  }

  attach(250);
  setTimeout(ready, LONGEST_MS);
  oneLine(model.widget_manager).catch((why) => console.warn("fibrebook:", why)).then(ready);
}
export default { render };
