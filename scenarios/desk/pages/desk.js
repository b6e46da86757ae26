"use strict";
(() => {
  const news = document.getElementById("news");
  const ask = (address) => fetch(address, { credentials: "same-origin", headers: { Accept: "application/json" } })
    .then((answer) => (answer.ok ? answer.json() : null)).catch(() => null);

  const run = document.body.dataset.run;
  if (run) {
    const shown = document.getElementById("progress");
    const look = async () => {
      const told = await ask(run);
      if (told === null) {
        shown.textContent = "The desk does not answer: it may have been closed. What was done is kept.";
      } else if (told.state !== "running") {
        window.location.reload();
        return;
      } else {
        const left = told.left === null ? "" : `, about ${told.left} s left, as it took last time`;
        shown.textContent = `Working: ${told.phase} (${told.elapsed} s${left})`;
      }
      window.setTimeout(look, 1000);
    };
    window.setTimeout(look, 500);
  }

  const wait = document.body.dataset.wait;
  if (wait) {
    let before = null;
    const look = async () => {
      const told = await ask(wait);
      const now = told === null ? before : JSON.stringify(told);
      if (before !== null && now !== before) {
        if (document.querySelector("input[type=file]").files.length === 0) {
          window.location.reload();
          return;
        }
        news.textContent = "The file on the desk or an answer has changed.";
      }
      before = now;
      window.setTimeout(look, 1500);
    };
    look();
  }

  const known = document.body.dataset.known;
  if (known) {
    const before = Number(document.body.dataset.count);
    const look = async () => {
      const told = await ask(known);
      if (told !== null && (told.known.length !== before || told.state !== "running")) {
        window.location.reload();
        return;
      }
      window.setTimeout(look, 300);
    };
    window.setTimeout(look, 300);
  }

  for (const slider of document.querySelectorAll("input[type=range]")) {
    const shown = slider.parentElement.querySelector("output");
    slider.addEventListener("input", () => { shown.textContent = slider.value; });
    shown.textContent = slider.value;
  }

  const drop = document.querySelector("form.drop");
  if (drop) {
    const input = drop.querySelector("input[type=file]");
    for (const kind of ["dragover", "dragenter"]) {
      document.addEventListener(kind, (event) => { event.preventDefault(); drop.classList.add("over"); });
    }
    document.addEventListener("dragleave", () => drop.classList.remove("over"));
    document.addEventListener("drop", (event) => {
      event.preventDefault();
      drop.classList.remove("over");
      if (event.dataTransfer && event.dataTransfer.files.length > 0) {
        input.files = event.dataTransfer.files;
        drop.requestSubmit();
      }
    });
  }
})();
