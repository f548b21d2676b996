"use strict";
(function () {
  const table = document.getElementById("reports");
  const body = table.tBodies[0];
  const heads = Array.from(table.tHead.rows[0].cells);
  const UNTOLD = 2; // columns without a key: report and sketch

  function keyOf(row, at) {
    return row.cells[at].dataset.key || "";
  }

  function compare(first, second, asNumbers) {
    return asNumbers ? Number(first) - Number(second) : first.localeCompare(second);
  }

  // What is not known stays at the end, whichever way the others are sorted.
  function sortBy(at) {
    const head = heads[at];
    const down = head.getAttribute("aria-sort") === "ascending";
    const asNumbers = at === UNTOLD || head.hasAttribute("data-figures");
    const rows = Array.from(body.rows);
    const known = rows.filter((row) => keyOf(row, at) !== "");
    const unknown = rows.filter((row) => keyOf(row, at) === "");
    known.sort((a, b) => (down ? -1 : 1) * compare(keyOf(a, at), keyOf(b, at), asNumbers));
    heads.forEach((other) => other.removeAttribute("aria-sort"));
    head.setAttribute("aria-sort", down ? "descending" : "ascending");
    body.append(...known, ...unknown);
  }

  heads.forEach((head, at) => {
    if (at < UNTOLD) return;
    const button = document.createElement("button");
    button.type = "button";
    button.append(...head.childNodes);
    button.addEventListener("click", () => sortBy(at));
    head.append(button);
  });
})();
