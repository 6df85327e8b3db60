"use strict";
(() => {
  const make = (tag, props = {}, ...kids) => {
    const node = Object.assign(document.createElement(tag), props);
    node.append(...kids);
    return node;
  };

  // Formulas are open in the file, so that it is complete without scripts.
  const folds = [...document.querySelectorAll("details")];
  folds.forEach((fold) => { fold.open = false; });
  let shut = [];
  addEventListener("beforeprint", () => {
    shut = folds.filter((fold) => !fold.open);
    shut.forEach((fold) => { fold.open = true; });
  });
  addEventListener("afterprint", () => shut.forEach((fold) => { fold.open = false; }));

  const valueOf = (row, index) => {
    const cell = row.cells[index];
    const given = cell.dataset.sort;
    const number = given === undefined ? NaN : Number(given === "inf" ? Infinity : given);
    return Number.isNaN(number) ? (given ?? cell.textContent).toLowerCase() : number;
  };
  const compare = (a, b) => (typeof a === "number" && typeof b === "number"
    ? (a > b) - (a < b) : String(a).localeCompare(String(b), undefined, { numeric: true }));

  const sortable = (table) => {
    const body = table.tBodies[0];
    const heads = [...table.tHead.rows[0].cells];
    heads.forEach((head, index) => {
      // Not a button element: browsers leave those out of heads that paper repeats.
      const label = head.querySelector("span");
      label.setAttribute("role", "button");
      label.tabIndex = 0;
      label.className = "sorter";
      label.addEventListener("keydown", (event) => {
        if (event.key === "Enter" || event.key === " ") { event.preventDefault(); label.click(); }
      });
      label.addEventListener("click", () => {
        const down = head.getAttribute("aria-sort") === "ascending";
        heads.forEach((other) => other.removeAttribute("aria-sort"));
        head.setAttribute("aria-sort", down ? "descending" : "ascending");
        const sign = down ? -1 : 1;
        [...body.rows].filter((row) => !row.classList.contains("total"))
          .map((row) => [valueOf(row, index), row])
          .sort((x, y) => sign * compare(x[0], y[0]))
          .forEach(([, row]) => body.append(row));
        [...body.querySelectorAll("tr.total")].forEach((row) => body.append(row));
      });
    });
  };

  const filterable = (table) => {
    const rows = [...table.tBodies[0].rows];
    if (rows.length < 8) return;
    const input = make("input", { type: "search", id: `${table.id}-filter`, autocomplete: "off" });
    const told = make("output", {});
    told.setAttribute("for", input.id);
    const label = make("label", { htmlFor: input.id }, `Show rows with`);
    input.addEventListener("input", () => {
      const wanted = input.value.trim().toLowerCase();
      let shown = 0;
      rows.forEach((row) => {
        row.hidden = !row.textContent.toLowerCase().includes(wanted);
        shown += row.hidden ? 0 : 1;
      });
      told.textContent = wanted ? `${shown} of ${rows.length} rows` : "";
    });
    table.closest(".scroll").before(make("div", { className: "filter" }, label, input, told));
  };
  document.querySelectorAll("table.tools").forEach((table) => { sortable(table); filterable(table); });

  // A link to a row that a filter or a fold hides shows it again.
  const reveal = () => {
    const target = document.getElementById(decodeURIComponent(location.hash.slice(1)));
    const fold = target?.closest("details:not([open])");
    if (fold) { fold.open = true; target.scrollIntoView(); }
    if (target?.hidden && target.tagName === "TR") {
      const box = target.closest(".scroll").previousElementSibling?.querySelector("input");
      if (box) { box.value = ""; box.dispatchEvent(new Event("input")); }
      target.scrollIntoView();
    }
  };
  addEventListener("hashchange", reveal);

  document.querySelectorAll(".panels").forEach((group) => {
    const panels = [...group.querySelectorAll(":scope > .panel")];
    const select = make("select", { id: `${group.id}-choice` });
    panels.forEach((panel) => select.append(make("option", {
      value: panel.id, textContent: panel.querySelector("h3").textContent })));
    const show = (id) => {
      if (!panels.some((panel) => panel.id === id)) return false;
      select.value = id;
      panels.forEach((panel) => { panel.hidden = panel.id !== id; });
      document.querySelectorAll(".point").forEach((point) => {
        const chosen = point.hash === `#${id}`;
        point.classList.toggle("chosen", chosen);
        if (chosen) point.setAttribute("aria-current", "true"); else point.removeAttribute("aria-current");
      });
      return true;
    };
    const label = make("label", { htmlFor: select.id }, `${group.dataset.legend} `);
    group.before(make("p", { className: "chooser" }, label, select));
    select.addEventListener("change", () => show(select.value));
    const first = panels.find((panel) => panel.dataset.picked) ?? panels[0];
    const wanted = location.hash.slice(1);
    if (!show(wanted)) show(first?.id);
    document.addEventListener("click", (event) => {
      const link = event.target.closest?.("a[href^='#']");
      if (link && show(link.hash.slice(1)) && link.classList.contains("point")) {
        event.preventDefault();
        history.replaceState(null, "", link.hash);
      }
    });
    addEventListener("hashchange", () => show(location.hash.slice(1)));
  });
})();
