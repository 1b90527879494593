// Scrolls to the widget that follows this one, unless its top stands in the upper part of the page already.
const AGAIN_MS = 250; // what was asked for is drawn a moment after it is called for

function render({ model, el }) {
  el.style.display = "none";

  function look() {
    const next = el.nextElementSibling;
    if (!next) return;
    next.tabIndex = -1;
    next.style.outline = "none";
    if (!next.contains(document.activeElement)) next.focus({ preventScroll: true });
    const { top } = next.getBoundingClientRect();
    const pane = el.closest(".jp-WindowedPanel-outer, .jp-Notebook") || document.documentElement;
    const frame = pane.getBoundingClientRect();
    if (top < frame.top || top > frame.top + frame.height * 0.6) next.scrollIntoView({ block: "start" });
  }

  // Whoever has gone on by keyboard in the meantime is not called back.
  function lookAgain() {
    const on = document.activeElement;
    if (!on || on === document.body || on === el.nextElementSibling) look();
  }

  model.on("change:calls", () => { look(); setTimeout(lookAgain, AGAIN_MS); });
}
export default { render };
