"""One control's JavaScript by itself: on a bare page, with a plain object in the place of its model, and no kernel.

The object has what a control may ask of its model (get, set, save_changes, send, on, off) and the fields that the Python
class declares, with their defaults: asking for another one is an error. What Python would do is done by `python` and
`message`; what reached Python stands in `saved` and `sent`.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from playwright.sync_api import Browser, Locator, expect

MODEL = """() => {
  window.models = {};
  window.happened = []; // what reached Python from all controls, in order
  window.fakeModel = (name, fields, manager) => {
    const listeners = new Map();
    const values = structuredClone(fields);
    let unsaved = {};
    const known = (field) => { if (!(field in values)) throw new Error(`${name} has no field ${field}`); };
    const same = (a, b) => JSON.stringify(a) === JSON.stringify(b);
    const tell = (what, ...more) => [...(listeners.get(what) || [])].forEach((f) => f(...more));
    const changed = (field, value) => {
      known(field);
      if (same(values[field], value)) return false;
      values[field] = structuredClone(value);
      return true;
    };
    return {
      saved: [], sent: [], widget_manager: manager,
      get(field) { known(field); return values[field]; },
      set(field, value) {
        if (!changed(field, value)) return;
        unsaved[field] = value;
        tell(`change:${field}`);
      },
      save_changes() {
        if (!Object.keys(unsaved).length) return;
        this.saved.push(structuredClone(unsaved));
        window.happened.push([name, structuredClone(unsaved)]);
        unsaved = {};
      },
      send(content) {
        this.sent.push(structuredClone(content));
        window.happened.push([name, structuredClone(content)]);
      },
      on(names, act) { names.split(" ").forEach((n) => listeners.set(n, [...(listeners.get(n) || []), act])); },
      off(names, act) { names.split(" ").forEach((n) => listeners.set(n, (listeners.get(n) || []).filter((f) => f !== act))); },
      // as the widgets' own models do: all of a message's fields are set before anybody is told of one
      python(news) { Object.keys(news).filter((f) => changed(f, news[f])).forEach((f) => tell(`change:${f}`)); },
      message(content) { tell("msg:custom", content, []); },
    };
  };
}"""
PUT = """async ([name, script, css, fields, where]) => {
  const style = document.createElement("style");
  style.textContent = css;
  document.head.append(style);
  const address = URL.createObjectURL(new Blob([script], { type: "text/javascript" }));
  const { default: control } = await import(address);
  URL.revokeObjectURL(address);
  const el = document.createElement("div");
  el.id = name;
  document.querySelector(where).append(el);
  window.models[name] = window.fakeModel(name, fields, window.manager);
  control.render({ model: window.models[name], el });
}"""
READ = """script => {
  try { new Function(script.replace(/^export default .*$/m, "")); } catch (fault) { return String(fault); }
  return "";
}"""
PAGE = """<!doctype html><html lang="en"><title>Alone</title><body>
<button id="before">before</button><main class="fb-screen"></main><button id="after">after</button></body></html>"""


class Control:
    """One control on the page, and what it and Python said to each other.

    Attributes
    ----------
    at : its element
    """

    def __init__(self, alone: Alone, name: str) -> None:
        self._page, self._name = alone.page, name
        self.at: Locator = alone.page.locator(f"#{name}")

    def _ask(self, what: str, given: Any = None) -> Any:
        return self._page.evaluate(f"([name, given]) => window.models[name].{what}", [self._name, given])

    def see(self, selector: str) -> Locator:
        """Return what of it matches."""
        return self.at.locator(selector)

    def get(self, field: str) -> Any:
        """Return what a field holds now."""
        return self._ask("get(given)", field)

    def python(self, **news: Any) -> None:
        """Change fields as Python does: in one message."""
        self._ask("python(given)", news)

    def message(self, content: Any) -> None:
        """Send what Python sends beside its fields."""
        self._ask("message(given)", content)

    @property
    def saved(self) -> list[dict[str, Any]]:
        """The changes that reached Python, in order."""
        return list(self._ask("saved"))

    @property
    def sent(self) -> list[Any]:
        """The messages that reached Python, in order."""
        return list(self._ask("sent"))

    def comes(self, what: str) -> None:
        """Wait until something is true of its model, said in JavaScript: "m.sent.length === 1"."""
        self._page.wait_for_function(f"name => {{ const m = window.models[name]; return {what}; }}", arg=self._name)


class Alone:
    """A bare page with controls on it.

    Parameters
    ----------
    broken : by control's class name, a piece of its script and what is put in its place
    patience_ms : how long something may take to come
    """

    def __init__(
        self, browser: Browser, broken: Mapping[str, tuple[str, str]] | None = None, patience_ms: int = 5000
    ) -> None:
        self.page = browser.new_page(viewport={"width": 900, "height": 600})
        self.page.set_default_timeout(patience_ms)
        expect.set_options(timeout=patience_ms)
        self._broken = dict(broken or {})
        self.errors: list[str] = []
        self.page.on("pageerror", lambda error: self.errors.append(str(error)))
        self.page.set_content(PAGE, timeout=15_000)
        self.page.evaluate(MODEL)

    def put(self, kind: Any, name: str, where: str = "main", **fields: Any) -> Control:
        """Put a control of a widget's class on the page; `fields` are what Python gives it."""
        declared = {n: trait.default() for n, trait in kind.class_own_traits(sync=True).items() if n[0] != "_"}
        if strange := fields.keys() - declared.keys():
            raise ValueError(f"{kind.__name__} has no {strange}")
        script, css = str(kind._esm), str(getattr(kind, "_css", ""))
        if kind.__name__ in self._broken:
            stands, instead = self._broken[kind.__name__]
            if script.count(stands) != 1:
                raise ValueError(f"{kind.__name__}: {stands!r} does not stand there once")
            script = script.replace(stands, instead)
            if fault := self.page.evaluate(READ, script):
                raise ValueError(f"{kind.__name__}: with {instead!r} it cannot be read: {fault}")
        self.page.evaluate(PUT, [name, script, css, declared | fields, where])
        return Control(self, name)

    def happened(self) -> list[list[Any]]:
        """What reached Python from all controls, in order: name, and what."""
        return list(self.page.evaluate("window.happened"))

    def keys(self, *names: str) -> None:
        """Press keys one after another."""
        for name in names:
            self.page.keyboard.press(name)

    def type(self, words: str) -> None:
        """Type into what has the keyboard."""
        self.page.keyboard.type(words)

    def on(self, selector: str) -> bool:
        """Tell whether the keyboard is on what matches."""
        return bool(self.page.evaluate("s => document.activeElement.matches(s)", selector))

    def stop_the_clock(self) -> None:
        """Let the page's clock go only when it is told to; without workers, whose clocks go by themselves."""
        self.page.evaluate("() => { delete window.Worker; }")
        self.page.clock.install(time=0)
        self.page.clock.pause_at(1000)

    def close(self) -> None:
        """Close the page."""
        expect.set_options(timeout=5000)
        self.page.close()
