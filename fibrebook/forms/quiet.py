"""Keys pressed inside a screen belong to the screen: the notebook must not take arrows and letters for its own."""

from __future__ import annotations

import anywidget

ESM = """
function render({ el }) {
  el.style.display = "none";
  // The notebook's command registry (Lumino) passes over keys whose own target bears this attribute; targets come and
  // go, so each is marked when it gets the focus.
  const name = "data-lm-suppress-shortcuts";
  const mark = (tries) => {
    const screen = el.closest(".fb-screen");
    if (screen) screen.addEventListener("focusin", (e) => e.target.setAttribute(name, "true"));
    else if (tries) setTimeout(() => mark(tries - 1), 50);
  };
  mark(40);
}
export default { render };
"""


class Quiet(anywidget.AnyWidget):
    """Shows nothing; keeps the notebook's shortcuts out of the screen that it stands in."""

    _esm = ESM
