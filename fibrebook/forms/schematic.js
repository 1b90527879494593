// A picture made in Python, shown as it is; its parts marked data-kind can be clicked, or reached by Tab and Enter.
function render({ model, el }) {
  el.classList.add("fb-schematic");
  const bar = document.createElement("div");
  bar.className = "fb-schematic-bar";
  const size = button("Full size", () => { model.set("full", !model.get("full")); model.save_changes(); });
  const print = button("Print the picture", printOut);
  bar.append(size, print);
  const frame = document.createElement("div");
  frame.className = "fb-schematic-frame";
  frame.tabIndex = 0;
  frame.setAttribute("role", "region");
  el.append(bar, frame);

  function button(text, act) {
    const b = document.createElement("button");
    b.type = "button";
    b.className = "fb-button";
    b.textContent = text;
    b.addEventListener("click", act);
    return b;
  }

  function paint() {
    frame.innerHTML = model.get("svg");
    frame.setAttribute("aria-label", model.get("label"));
    fit();
    mark();
  }

  function fit() {
    const svg = frame.querySelector("svg");
    if (svg) svg.style.maxWidth = model.get("full") ? "none" : "100%";
    size.textContent = model.get("full") ? "Fit to the page" : "Full size";
  }

  function mark() {
    const [kind, label] = model.get("picked");
    frame.querySelectorAll(".fb-part").forEach((p) => {
      const on = p.dataset.kind === kind && p.dataset.label === label;
      p.setAttribute("aria-pressed", on ? "true" : "false");
      p.style.strokeWidth = on ? "4" : "";
    });
  }

  function pick(part) {
    model.set("picked", [part.dataset.kind, part.dataset.label]);
    model.set("picks", model.get("picks") + 1);
    model.save_changes();
  }

  function printOut() {
    const page = document.createElement("iframe");
    page.style.display = "none";
    document.body.append(page);
    const style = "@page{size:landscape;margin:10mm} svg{width:100%!important;height:auto!important;max-height:180mm}";
    page.contentDocument.write(`<!doctype html><style>${style}</style>${model.get("svg")}`);
    page.contentDocument.title = model.get("label");
    page.contentDocument.close();
    page.contentWindow.addEventListener("afterprint", () => page.remove());
    page.contentWindow.focus();
    page.contentWindow.print();
  }

  frame.addEventListener("click", (e) => { const p = e.target.closest("[data-kind]"); if (p) pick(p); });
  frame.addEventListener("keydown", (e) => {
    const p = e.target.closest && e.target.closest("[data-kind]");
    if (p && (e.key === "Enter" || e.key === " ")) { e.preventDefault(); pick(p); }
    e.stopPropagation();
  });
  model.on("change:svg change:label", paint);
  model.on("change:full", fit);
  model.on("change:picked", mark);
  paint();
}
export default { render };
