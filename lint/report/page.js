"use strict";
(() => {
  const all = (selector, root) => Array.from((root || document).querySelectorAll(selector));
  const form = document.getElementById("filter");
  const shown = document.getElementById("shown");
  const entries = all(".entry");
  const rules = all(".matrix tbody").map((body) => ({
    body,
    head: body.querySelector(".rule").textContent.toLowerCase(),
    rows: all("tr[data-outcome]", body).map((row) => ({row, text: row.textContent.toLowerCase()})),
  }));
  const texts = new Map(entries.map((e) => [e, e.textContent.toLowerCase()]));
  const lines = rules.reduce((n, r) => n + r.rows.length, 0);
  const number = (n, one, many) => n + " " + (n === 1 ? one : many);

  // filter hides what was not asked for, and says how much is left.
  const filter = () => {
    const ticked = (name) => new Set(all("input[name=" + name + "]:checked", form).map((box) => box.value));
    const severities = ticked("severity");
    const outcomes = ticked("outcome");
    const subject = document.getElementById("filter-subject").value;
    const words = document.getElementById("filter-text").value.trim().toLowerCase();
    const about = (element) => severities.has(element.dataset.severity) &&
      (!subject || element.dataset.subject.split(" ").includes(subject));
    let found = 0;
    for (const entry of entries) {
      const keep = about(entry) && outcomes.has(entry.dataset.outcome) && texts.get(entry).includes(words);
      entry.parentElement.hidden = !keep;
      found += keep ? 1 : 0;
    }
    let left = 0;
    for (const rule of rules) {
      const meant = about(rule.body);
      const whole = rule.head.includes(words);
      let any = 0;
      for (const {row, text} of rule.rows) {
        const keep = meant && outcomes.has(row.dataset.outcome) && (whole || text.includes(words));
        row.hidden = !keep;
        any += keep ? 1 : 0;
      }
      rule.body.hidden = any === 0;
      left += any;
    }
    const whole = found === entries.length && left === lines;
    for (const part of all(".matrix .subject")) {
      part.hidden = !whole && !part.querySelector("tbody:not([hidden])");
      for (const list of all(".idle", part)) {
        list.hidden = !whole;
      }
    }
    document.body.classList.toggle("filtered", !whole);
    shown.textContent = found + " of " + number(entries.length, "finding", "findings") + " and " +
      left + " of " + number(lines, "line", "lines") + " of the matrix shown";
  };

  // reveal opens what a link leads to.
  const reveal = () => {
    let target = null;
    try {
      target = document.getElementById(decodeURIComponent(location.hash.slice(1)));
    } catch {
      return; // not an address of this page
    }
    if (!target) {
      return;
    }
    if (form && target.closest("[hidden]")) {
      form.reset();
      filter();
    }
    for (let d = target.closest("details"); d; d = d.parentElement.closest("details")) {
      d.open = true;
    }
    target.scrollIntoView({block: target.getBoundingClientRect().height < innerHeight ? "center" : "start"});
    target.focus({preventScroll: true});
  };

  if (form) {
    form.hidden = false;
    form.querySelector("details").open = matchMedia("(min-width:64rem)").matches;
    form.addEventListener("input", filter);
    form.addEventListener("reset", () => setTimeout(filter));
    form.addEventListener("submit", (event) => event.preventDefault());
    filter();
  }
  addEventListener("hashchange", reveal);
  reveal();

  // Paper shows everything.
  let closed = [];
  addEventListener("beforeprint", () => {
    closed = all("details:not([open])");
    closed.forEach((d) => { d.open = true; });
  });
  addEventListener("afterprint", () => {
    closed.forEach((d) => { d.open = false; });
    closed = [];
  });
})();
