// A picture made in Python, shown as it is; its parts marked data-kind can be clicked, or reached by Tab and Enter.
const LEAST_PX = 12; // the smallest letters on a page that is narrow, or zoomed
const PAPER =
  "@page{size:landscape;margin:10mm} body{margin:0;font-family:system-ui,sans-serif;color:#1a1a1a}" +
  " svg{display:block;width:100%!important;height:auto!important;max-width:none!important;max-height:170mm} p{margin:2mm 0 0 0;font-size:9pt}";

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

  // The keyboard stays on the part that it was on, if the new picture has it.
  function paint() {
    const on = frame.contains(document.activeElement) && document.activeElement.dataset;
    frame.innerHTML = model.get("svg");
    frame.setAttribute("aria-label", model.get("label"));
    const svg = frame.querySelector("svg");
    const letters = [...frame.querySelectorAll("[font-size]")].map((e) => parseFloat(e.getAttribute("font-size")));
    if (svg && letters.length) {
      frame.style.setProperty("--fb-least", `${Math.ceil((svg.viewBox.baseVal.width * LEAST_PX) / Math.min(...letters))}px`);
    }
    fit();
    mark();
    if (on && on.kind) [...frame.querySelectorAll(".fb-part")].find((p) => p.dataset.kind === on.kind && p.dataset.label === on.label)?.focus();
  }

  function fit() {
    frame.classList.toggle("fb-full", model.get("full"));
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

  // A page of its own beside the window's edge: some browsers print nothing of one that is not displayed.
  function printOut() {
    document.querySelectorAll("iframe.fb-print").forEach((old) => old.remove());
    const page = document.createElement("iframe");
    page.className = "fb-print";
    page.tabIndex = -1;
    page.setAttribute("aria-hidden", "true");
    page.style.cssText = "position:fixed;right:0;bottom:0;width:0;height:0;border:0";
    document.body.append(page);
    const paper = page.contentDocument;
    paper.write(`<!doctype html><meta charset="utf-8"><style>${PAPER}</style>${model.get("svg")}<p></p>`);
    const day = new Date();
    const printed = [day.getFullYear(), day.getMonth() + 1, day.getDate()].map((n) => String(n).padStart(2, "0")).join("-");
    paper.querySelector("p").textContent = `${model.get("stand")}. Printed ${printed}.`;
    paper.title = paper.querySelector("svg > title")?.textContent || "";
    paper.close();
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
