"use strict";
(() => {
  const words = new Intl.Collator("en", { numeric: true });
  const number = text => text === "" ? NaN : Number(text.replace(/[,%]/g, ""));

  // Blanks come last in either direction; rows that are alike keep their first order.
  const compare = (a, b, down) => {
    if (a === "" || b === "") return (a === "") - (b === "");
    const x = number(a), y = number(b);
    const order = isNaN(x) || isNaN(y) ? isNaN(x) - isNaN(y) || words.compare(a, b) : x - y;
    return down ? -order : order;
  };

  const sort = (table, rows, column) => {
    const heads = [...table.tHead.rows[0].cells];
    const down = heads[column].getAttribute("aria-sort") === "ascending";
    heads.forEach(head => head.removeAttribute("aria-sort"));
    heads[column].setAttribute("aria-sort", down ? "descending" : "ascending");
    const text = row => row.cells[column].textContent;
    table.tBodies[0].append(...[...rows].sort((a, b) => compare(text(a), text(b), down)));
    document.getElementById("sorted").textContent =
      `Sorted by ${heads[column].textContent}, ${down ? "descending" : "ascending"}`;
  };

  for (const table of document.querySelectorAll("table.sorts")) {
    const rows = [...table.tBodies[0].rows];
    [...table.tHead.rows[0].cells].forEach((head, column) => {
      const button = document.createElement("button");
      button.type = "button";
      button.append(...head.childNodes);
      button.addEventListener("click", () => sort(table, rows, column));
      head.append(button);
    });
  }

  const near = (marks, from, key) => {
    const place = mark => [Number(mark.dataset.x), Number(mark.dataset.y)];
    const [x, y] = place(from);
    const inRow = marks.filter(mark => place(mark)[1] === y);
    const inColumn = marks.filter(mark => place(mark)[0] === x);
    switch (key) {
      case "ArrowRight": return inRow.find(mark => place(mark)[0] > x);
      case "ArrowLeft": return inRow.findLast(mark => place(mark)[0] < x);
      case "ArrowUp": return inColumn.find(mark => place(mark)[1] > y);
      case "ArrowDown": return inColumn.findLast(mark => place(mark)[1] < y);
      case "Home": return inRow[0];
      case "End": return inRow.at(-1);
    }
  };

  for (const figure of document.querySelectorAll("figure")) {
    const told = figure.querySelector(".told");
    const marks = [...figure.querySelectorAll("[data-x]")];
    const tell = event => { told.textContent = event.target.getAttribute("aria-label"); };
    for (const mark of marks) {
      mark.addEventListener("mouseenter", tell);
      mark.addEventListener("focus", tell);
      mark.addEventListener("keydown", event => {
        if (!["ArrowRight", "ArrowLeft", "ArrowUp", "ArrowDown", "Home", "End"].includes(event.key)) return;
        event.preventDefault();
        const next = near(marks, mark, event.key);
        if (!next || next === mark) return;
        mark.setAttribute("tabindex", "-1");
        next.setAttribute("tabindex", "0");
        next.focus();
      });
    }
  }
})();
