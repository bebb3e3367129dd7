// The bench: one step at a time, in large type, with ticks that are remembered.

const bench = { step: 0 };

function steps() {
  return page.rows.find((r) => r.number === state.chosen).bench;
}

function openBench() {
  const row = page.rows.find((r) => r.number === state.chosen);
  const kept = Number(memory.getItem(tickName(row, "step")));
  bench.step = Math.min(kept || 0, steps().length - 1);
  at("bench").showModal();
  drawBench();
}

function drawBench() {
  const row = page.rows.find((r) => r.number === state.chosen);
  const all = steps();
  const step = all[bench.step];
  const phases = [...new Set(all.map((x) => x.phase))];
  memory.setItem(tickName(row, "step"), String(bench.step));
  put("bench-phases", phases.map((phase) =>
    h("li", { "aria-current": phase === step.phase ? "step" : null },
      h("button", { type: "button", onclick: () => go(all.findIndex((x) => x.phase === phase)) }, phase))));
  put("bench-count", `Step ${bench.step + 1} of ${all.length}`);
  put("bench-title", step.title);
  put("bench-lines", step.lines.map((text, n) =>
    h("li", {}, h("label", {}, tickBox(tickName(row, `bench ${step.phase} ${step.title} ${n}`)), h("span", {}, text)))));
  put("bench-cautions", step.cautions.map((name) => h("li", {}, page.cautions[name])));
  at("bench-note").textContent = memory.isLost ? "This browser does not let the page remember ticks." : "";
  at("bench-back").disabled = bench.step === 0;
  at("bench-next").textContent = bench.step === all.length - 1 ? "Done" : "Next";
}

function go(step) {
  if (step >= steps().length) {
    at("bench").close();
    return;
  }
  bench.step = Math.max(0, step);
  drawBench();
  at("bench-title").focus();
}

/** What is printed: order list, wiring map, measuring order and cautions. */
function drawSheets(row) {
  const box = () => h("span", { class: "tick", "aria-hidden": "true" });
  const head = (title) => h("header", {}, h("h2", {}, title), h("p", {}, `${page.name}, no. ${row.number}: ${row.title}`));
  put("sheet-order", head("Order list"),
    h("p", { class: "answer" }, answerText(row)),
    row.settle_first.length ? [h("h3", {}, "Settle first"), h("ul", {}, row.settle_first.map((t) => h("li", {}, box(), t)))] : null,
    table("Order list", ["", "", "Part", "Look for", page.currency], row.order.map((order) =>
      h("tr", {}, h("td", {}, box()), h("td", {}, order.count), h("td", {}, order.label),
        h("td", {}, (order.look_for ?? []).join(", ")),
        h("td", {}, priceOf(order) || (order.state === "owned" ? "owned" : "boxed"))))),
    h("p", { class: "sum" }, h("span", {}, postageWords(row)), h("strong", {}, `${exactMoney(figure(row, "purchase_price"))} ${page.currency}`)),
    h("p", { class: "small" }, page.stamp));
  put("sheet-wiring", head("Wiring map"), grown(row.drawing),
    table("Wiring", ["", "Bay", "Drive", "Cable", "Port", "Power"], row.wiring.map(([bay, drive, , way]) =>
      h("tr", {}, h("td", {}, box()), h("td", { class: "bay" }, bay || "-"), h("td", { class: "drive" }, drive), way.map((text) => h("td", {}, text))))),
    row.cards.length ? h("ul", {}, row.cards.map((text) => h("li", {}, box(), text))) : null,
    h("ul", { class: "cautions two" }, ["cable ends", "moulded adapters", "modular cables"].map((name) => h("li", {}, page.cautions[name]))),
    row.moving ? [h("h3", {}, "Moving the data"), h("p", {}, row.moving.summary),
      h("ol", { class: "moves" }, row.moving.steps.map(([text, after]) => h("li", {}, box(), `${text} [${after}]`))),
      row.moving.left_over.map((text) => h("p", {}, text))] : null);
  const blank = () => h("span", { class: "blank" });
  const lines = (rows) => rows.map(([what, expected]) =>
    h("tr", {}, h("td", {}, box()), h("td", {}, what), h("td", {}, expected), h("td", {}, blank())));
  const { before, readings, rates, transfers } = row.measuring;
  put("sheet-safety", head("Measuring order and cautions"),
    h("ul", { class: "cautions two" }, Object.values(page.cautions).map((text) => h("li", {}, text))),
    h("h3", {}, "Before measuring"), h("ul", { class: "two" }, before.map((text) => h("li", {}, box(), text))),
    h("h3", {}, "At the wall"), table("Readings", ["", "Do", "Expected", "Read"], lines(readings)),
    h("h3", {}, "Rates"), h("p", {}, rates[0]), table("Transfers", ["", "Do", "Expected", "Read"], lines(transfers)));
}
