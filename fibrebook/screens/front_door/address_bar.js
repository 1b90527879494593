// What the browser's address says, and what it is to say: see address_bar.py.
function render({ model, el }) {
  el.style.display = "none";
  // a notebook's page has an address of its own, which is not ours to change
  const own = document.body.dataset.voila !== undefined;
  let first = true;

  const here = () => decodeURI(window.location.hash.replace(/^#/, ""));

  function ask(address) {
    model.set("asked", address);
    model.set("asks", model.get("asks") + 1);
    model.save_changes();
  }

  function show() {
    const shown = model.get("shown");
    if (model.get("title") && own) document.title = model.get("title");
    if (!own || !shown) return;
    if (window.location.hash === `#${shown}`) { first = false; return; }
    const bare = !window.location.hash && (shown === "/" || first);
    history[bare ? "replaceState" : "pushState"](null, "", `#${shown}`);
    first = false;
  }

  // Links within the page: the same in a notebook's cell, whose page does not follow them itself.
  function follow(e) {
    const link = e.target.closest && e.target.closest("a[href^='#/']");
    if (!link || e.ctrlKey || e.metaKey || e.shiftKey || e.button) return;
    e.preventDefault();
    e.stopPropagation();
    ask(link.getAttribute("href").slice(1));
  }

  function moved() {
    if (window.location.hash.startsWith("#/") || !window.location.hash) ask(here() || "/");
  }

  function keys(e) {
    const inBox = e.target.closest && e.target.closest("input, textarea, select, [contenteditable]");
    if (e.key !== "/" || inBox || e.ctrlKey || e.metaKey || e.altKey) return;
    const box = home && home.querySelector(".fb-find-box input");
    if (box) { e.preventDefault(); box.focus(); }
  }

  let home = null;
  function attach(tries) {
    home = el.closest(".fb-home");
    if (home) home.addEventListener("click", follow, true);
    else if (tries) setTimeout(() => attach(tries - 1), 20);
  }
  attach(250);
  model.on("change:shown change:title", show);
  if (own) {
    const address = new URL(window.location.href);
    if (address.searchParams.has("token")) { // the cookie is set by now: a bookmark is to hold no secret
      address.searchParams.delete("token");
      history.replaceState(null, "", address.href);
    }
    window.addEventListener("hashchange", moved);
    document.addEventListener("keydown", keys);
    if (window.location.hash.startsWith("#/")) ask(here());
    else show();
  } else show();
  return () => {
    window.removeEventListener("hashchange", moved);
    document.removeEventListener("keydown", keys);
    if (home) home.removeEventListener("click", follow, true);
  };
}
export default { render };
