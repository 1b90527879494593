// Stands before table.js and grid.js, see cell_script.py. Fills a cell: text, or a swatch with its word beside it.
function fillCell(td, value) {
  if (value && typeof value === "object") {
    if (value.back) {
      const box = document.createElement("span");
      box.className = "fb-swatch";
      box.setAttribute("aria-hidden", "true");
      box.style.background = value.back;
      td.append(box);
    }
    td.append(value.word);
  } else td.textContent = value == null ? "" : value;
}

