"use strict";
// Everything stands on the page without this; here is only the search, and the opening of what a link leads into.
(() => {
  const MOST = 30;
  const box = document.querySelector(".find"), input = document.getElementById("q");
  const hits = document.getElementById("hits"), told = document.getElementById("told");
  const COLOURS = new Set(JSON.parse(document.getElementById("colours").textContent));
  const fold = (text) => text.toLowerCase().normalize("NFKD").replace(/[\u0300-\u036f]/g, "");
  const words = (text) => fold(text).split(/[\s/,;:()→–-]+/).filter(Boolean);

  // One entry a thing that has a place on the page: its label, its words, and what sort it is.
  let entries = null;
  function read() {
    const all = [];
    for (const row of document.querySelectorAll("ul.rows > li[id], details")) {
      const inside = row.tagName === "DETAILS";
      const core = row.dataset.k;
      const label = core ? `core ${row.closest("details").dataset.l.replace(/^cable /, "")}/${core}` : row.dataset.l || "";
      const text = inside ? row.querySelector("summary").textContent : row.textContent;
      const id = inside ? row.querySelector("div[id]").id : row.id;
      all.push({ id, label, core: core || "", place: row.dataset.t || "", own: ` ${words(label).join(" ")} `, text: ` ${words(`${label} ${text}`).join(" ")} `, line: text });
    }
    return all;
  }

  function find(typed) {
    const asked = words(typed);
    const coloured = asked.some((w) => COLOURS.has(w));
    const found = [];
    for (const e of entries) {
      let rank = 0, all = true;
      for (const w of asked) {
        if (e.own.includes(` ${w} `)) continue;
        if (e.core && w === e.core) rank -= 5; // by its number along the cable
        else if (coloured && e.core && w === e.place && asked.some((c) => e.text.includes(` ${c} tube `))) rank -= 10; // or in its tube
        else if (/^\d+$/.test(w) ? e.text.includes(` ${w} `) : e.text.includes(` ${w}`)) rank += 1;
        else { all = false; break; }
      }
      if (!all) continue;
      if (coloured && e.core) rank -= 100; // a colour is asked for by who has the core in hand
      found.push([rank, found.length, e]);
    }
    found.sort((a, b) => a[0] - b[0] || a[1] - b[1]);
    return found.map((f) => f[2]);
  }

  function show() {
    entries = entries || read();
    hits.replaceChildren();
    const typed = input.value.trim();
    if (!typed) { told.textContent = ""; return; }
    const found = find(typed);
    told.textContent = found.length
      ? `${found.length} found${found.length > MOST ? `, the first ${MOST} shown` : ""}`
      : `Nothing on this page has “${typed}”. Try fewer words, a cable's label, or a colour and a number.`;
    for (const e of found.slice(0, MOST)) {
      const item = document.createElement("li"), link = document.createElement("a"), more = document.createElement("small");
      link.href = `#${e.id}`;
      link.textContent = e.label;
      more.textContent = e.line.replace(/\s+/g, " ").trim().slice(0, 120);
      link.append(more);
      item.append(link);
      hits.append(item);
    }
  }

  function open() {
    const there = location.hash.length > 1 && document.getElementById(decodeURIComponent(location.hash.slice(1)));
    if (!there) return;
    for (let at = there.closest("details"); at; at = at.parentElement.closest("details")) at.open = true;
    document.querySelectorAll("li.found").forEach((li) => li.classList.remove("found"));
    if (there.tagName === "LI") there.classList.add("found");
    hits.replaceChildren();
    there.scrollIntoView({ block: "center" });
  }

  let waiting = 0;
  input.addEventListener("input", () => { clearTimeout(waiting); waiting = setTimeout(show, 60); });
  hits.addEventListener("click", () => setTimeout(open, 0)); // a second time to where the address stands already
  addEventListener("hashchange", open);
  addEventListener("beforeprint", () => document.querySelectorAll("details").forEach((d) => { d.open = true; }));
  box.hidden = false;
  open();
})();
