"""Drive notebooks in one loaded JupyterLab page: open, run all, read, close."""

from __future__ import annotations

import os
import shutil
from pathlib import Path
from typing import Any

from playwright.sync_api import Browser, Locator, Page, Playwright

FLAGS = [
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--lang=en-GB", "--disable-component-update", "--disable-sync",
]  # fmt: skip
# a script in the page has no limit of its own: what never comes must fail a test, not hold it
WITHIN = """const within = (s, what, promise) => Promise.race([
  promise, new Promise((_, no) => setTimeout(() => no(new Error(`${what}: not in ${s} s`)), s * 1000))]);
"""
OPEN = f"""async (path) => {{
  {WITHIN}
  const app = window.jupyterapp;
  const opened = app.commands.execute('docmanager:open', {{ path, factory: 'Notebook' }});
  const widget = await within(60, 'notebook', opened);
  await within(60, 'file', widget.context.ready);
  await within(60, 'session', widget.context.sessionContext.ready);
  await within(60, 'kernel', widget.context.sessionContext.session.kernel.info);
}}"""
RUN = f"""async () => {{
  {WITHIN}
  await within(120, 'cells', window.jupyterapp.commands.execute('notebook:run-all-cells'));
}}"""
CLOSE = f"""async () => {{
  {WITHIN}
  const app = window.jupyterapp;
  await within(30, 'end of the kernels', app.serviceManager.sessions.shutdownAll());
  // not saved: a file that changed meanwhile would raise a question that nobody answers
  for (const w of Array.from(app.shell.widgets('main'))) {{ if (w.context) {{ w.context.model.dirty = false; }} w.dispose(); }}
}}"""
SETTLE = """async () => { const app = window.jupyterapp; await app.restored; await app.serviceManager.ready; }"""
KILL = f"""async () => {{
  {WITHIN}
  const session = window.jupyterapp.shell.currentWidget.context.sessionContext.session;
  await within(60, 'restart', session.kernel.restart());
  await within(60, 'kernel', session.kernel.info);
}}"""


def chromium(playwright: Playwright) -> Browser:
    """Launch Debian's Chromium (or the one that CHROMIUM names)."""
    path = os.environ.get("CHROMIUM") or shutil.which("chromium") or shutil.which("chromium-browser")
    if not path:
        raise RuntimeError("Chromium is missing: apt-get install chromium, or set CHROMIUM to its path")
    return playwright.chromium.launch(executable_path=path, args=FLAGS)


class Lab:
    """One JupyterLab page.

    Attributes
    ----------
    root : folder of the notebooks; page : the Playwright page; errors : what the page's console complained of
    """

    def __init__(self, base: str, root: Path, page: Page) -> None:
        self.base, self.root, self.page = base, root, page
        self.errors: list[str] = []
        self.seen = root  # where its kernels keep what they saw of registers
        page.on("pageerror", lambda e: self.errors.append(str(e)[:300]))
        page.set_default_timeout(15_000)
        page.goto(f"{base}/lab?reset", wait_until="domcontentloaded")
        page.wait_for_selector("#jupyterlab-splash", state="detached", timeout=90_000)
        page.wait_for_function("() => window.jupyterapp && window.jupyterapp.restored", timeout=90_000)
        page.evaluate(SETTLE)
        page.evaluate("() => window.jupyterapp.shell.collapseLeft()")

    def write(self, name: str, *cells: str) -> str:
        """Write a notebook of code cells into the served folder; return its name."""
        import nbformat
        from nbformat.v4 import new_code_cell, new_notebook

        notebook = new_notebook(cells=[new_code_cell(c, metadata={"jupyter": {"source_hidden": True}}) for c in cells])
        notebook.metadata.kernelspec = {"name": "python3", "display_name": "Python 3", "language": "python"}
        nbformat.write(notebook, self.root / name)
        return name

    def copy(self, source: Path) -> str:
        """Copy a notebook into the served folder; return its name."""
        shutil.copy(source, self.root / source.name)
        return source.name

    def open(self, name: str, run: bool = True) -> None:
        """Open a notebook, wait for its kernel, run all its cells and fail if one of them failed."""
        self.page.evaluate(OPEN, name)
        if run:
            self.run()

    def run(self) -> None:
        """Run all cells of the notebook in front."""
        self.page.evaluate(RUN)
        self.no_cell_failed()

    def no_cell_failed(self) -> None:
        """Fail where a cell shows an error; a failed cell does not fail the page by itself."""
        bad = self.page.locator(".jp-OutputArea-output[data-mime-type='application/vnd.jupyter.error']")
        assert bad.count() == 0, bad.first.inner_text()[:2000]

    def front(self, name: str) -> None:
        """Bring an open notebook to the front."""
        self.page.evaluate(OPEN, name)

    def restart_kernel(self) -> None:
        """Kill and start the kernel of the notebook in front, as a crash or a restart does."""
        self.page.evaluate(KILL)

    def shown(self, selector: str) -> Locator:
        """Return what of the front notebook matches."""
        return self.page.locator(f".jp-NotebookPanel:not(.lm-mod-hidden) {selector}")

    def close(self) -> None:
        """Close all notebooks and shut their kernels down."""
        self.page.evaluate(CLOSE)


def axe_violations(page: Page, axe: Path, selector: str = ".fb-screen") -> list[dict[str, Any]]:
    """Return the serious and critical faults that axe-core finds inside our screens."""
    if not page.evaluate("() => !!window.axe"):
        page.add_script_tag(content=axe.read_text(encoding="utf-8"))
    found = page.evaluate("s => window.axe.run({include: [[s]]}, {resultTypes: ['violations']})", selector)
    return [
        {"id": v["id"], "help": v["help"], "where": [n["html"][:200] + " :: " + n["failureSummary"][:300] for n in v["nodes"]][:5]}
        for v in found["violations"]
        if v["impact"] in ("serious", "critical")
    ]  # fmt: skip
