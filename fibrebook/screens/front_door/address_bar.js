// What the browser's address says, and what it is to say: see address_bar.py.
const AGAIN_MS = 1500;
const SOON_MS = 20;
function render({ model, el }) {
  el.style.display = "none";
  // a notebook's page has an address of its own, which is not ours to change
  const own = document.body.dataset.voila !== undefined;
  let first = true;
  let home = null;
  let seeking = true;

  const here = () => decodeURI(window.location.hash.replace(/^#/, ""));

  // Where somebody wants to go is asked once the page takes something in, and again until the page has gone there: a
  // message that comes while the kernel or the page's line to it begins may reach nobody. Until then what is shown answers
  // an earlier question, and is not written over the address.
  const view = Math.random().toString(36).slice(2);
  let asks = 0;
  let wanted = null;
  let last = window.location.hash; // as it was written here or heard of; another one will be heard of in a moment
  let timer = 0;

  function ask(address) {
    asks += 1;
    wanted = { ask: `${view} ${asks}`, address };
    send();
  }

  function send() {
    clearTimeout(timer);
    if (!wanted) return;
    const ready = home ? home.dataset.takesIn !== undefined : !seeking;
    const kernel = model.widget_manager && model.widget_manager.kernel;
    if (ready && !(wanted.sent && kernel && kernel.status === "busy")) {
      wanted.sent = true;
      model.send({ ask: wanted.ask, address: wanted.address });
    }
    timer = setTimeout(send, ready ? AGAIN_MS : SOON_MS);
  }

  function gone(content) {
    if (!wanted || !content || content.gone !== wanted.ask) return;
    const typed = here() === wanted.address; // an address that is told otherwise is no step of its own
    wanted = null;
    show(typed);
  }

  function show(instead) {
    const shown = model.get("shown");
    if (!own || !shown || wanted || window.location.hash !== last) return;
    if (model.get("title")) document.title = model.get("title");
    if (window.location.hash === `#${shown}`) { first = false; return; }
    const bare = !window.location.hash && (shown === "/" || first);
    history[bare || instead ? "replaceState" : "pushState"](null, "", `#${shown}`);
    last = window.location.hash;
    first = false;
  }

  const changed = () => show(false);

  // Links within the page: the same in a notebook's cell, whose page does not follow them itself.
  function follow(e) {
    const link = e.target.closest && e.target.closest("a[href^='#/']");
    if (!link || e.ctrlKey || e.metaKey || e.shiftKey || e.button) return;
    e.preventDefault();
    e.stopPropagation();
    ask(link.getAttribute("href").slice(1));
  }

  function moved() {
    last = window.location.hash;
    if (window.location.hash.startsWith("#/") || !window.location.hash) ask(here() || "/");
  }

  function keys(e) {
    const inBox = e.target.closest && e.target.closest("input, textarea, select, [contenteditable]");
    if (e.key !== "/" || inBox || e.ctrlKey || e.metaKey || e.altKey) return;
    const box = home && home.querySelector(".fb-find-box input");
    if (box) { e.preventDefault(); box.focus(); }
  }

  function attach(tries) {
    home = el.closest(".fb-home");
    seeking = !home && tries > 0;
    if (home) home.addEventListener("click", follow, true);
    else if (tries) setTimeout(() => attach(tries - 1), SOON_MS);
  }
  attach(250);
  model.on("msg:custom", gone);
  model.on("change:shown change:title", changed);
  if (own) {
    const address = new URL(window.location.href);
    if (address.searchParams.has("token")) { // the cookie is set by now: a bookmark is to hold no secret
      address.searchParams.delete("token");
      history.replaceState(null, "", address.href);
    }
    window.addEventListener("hashchange", moved);
    document.addEventListener("keydown", keys);
    if (window.location.hash.startsWith("#/")) ask(here());
    else show(false);
  } else show(false);
  return () => {
    clearTimeout(timer);
    model.off("msg:custom", gone);
    model.off("change:shown change:title", changed);
    window.removeEventListener("hashchange", moved);
    document.removeEventListener("keydown", keys);
    if (home) home.removeEventListener("click", follow, true);
  };
}
export default { render };
