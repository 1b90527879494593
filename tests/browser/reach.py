"""What of a screen could not be read at the size that it is shown: letters too small, or cut off beyond all scrolling."""

from __future__ import annotations

from typing import Any

LEAST_PX = 12.0
LOOK = """([root, least]) => {
  const found = [];
  const screen = [...document.querySelectorAll(root)].find((e) => e.offsetParent);
  const walker = document.createTreeWalker(screen, NodeFilter.SHOW_TEXT);
  const name = (e) => e.className.baseVal || String(e.className).slice(0, 60);
  const said = (n) => n.textContent.trim().slice(0, 50);
  for (let n = walker.nextNode(); n; n = walker.nextNode()) {
    const el = n.parentElement;
    if (!said(n) || el.closest('style, script, title, desc, [hidden]')) continue;
    const range = document.createRange();
    range.selectNodeContents(n);
    const box = range.getBoundingClientRect();
    if (!box.width || !box.height || getComputedStyle(el).visibility === 'hidden') continue;
    const svg = el.ownerSVGElement;
    const scale = svg ? svg.getBoundingClientRect().width / svg.viewBox.baseVal.width : 1;
    const px = parseFloat(getComputedStyle(el).fontSize) * scale;
    if (px < least - 0.05) found.push(`${px.toFixed(1)} px: ${said(n)}`);
    // up through the boxes around it: each either shows it, or scrolls to it
    let { left, right, top, bottom } = box;
    for (let up = el; up && up !== document.body; up = up.parentElement) {
      if (up instanceof SVGElement && !(up instanceof SVGSVGElement)) continue;
      const style = getComputedStyle(up);
      const at = up.getBoundingClientRect();
      const scrolls = (o) => ['auto', 'scroll'].includes(o);
      const cuts = (o) => ['hidden', 'clip'].includes(o);
      if (cuts(style.overflowX) && (left < at.left - 1 || right > at.right + 1)) found.push(`cut off at a side by ${name(up)}: ${said(n)}`);
      if (cuts(style.overflowY) && (top < at.top - 1 || bottom > at.bottom + 1)) found.push(`cut off above or below by ${name(up)}: ${said(n)}`);
      if (scrolls(style.overflowX)) {
        if (left < at.left - up.scrollLeft - 1 || right > at.left - up.scrollLeft + up.scrollWidth + 1) found.push(`no scrolling comes to: ${said(n)}`);
        left = Math.max(left, at.left); right = Math.min(right, at.right);
      }
      if (scrolls(style.overflowY)) { top = Math.max(top, at.top); bottom = Math.min(bottom, at.bottom); }
    }
  }
  return [...new Set(found)];
}"""


def unreadable(page: Any, root: str = ".fb-screen", least_px: float = LEAST_PX) -> list[str]:
    """Return what cannot be read, one line each; nothing where all can."""
    found: list[str] = page.evaluate(LOOK, [root, least_px])
    return found
