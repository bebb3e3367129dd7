// Rates: every stage of an operation, and the one that sets it.

const sets = (chain, stage) => stage.rate_mb_s <= chain.rate_mb_s * (1 + 1e-9);

/** One operation as a waterfall: what each stage could do, and what gets through all. */
function waterfall(chain) {
  const most = Math.min(Math.max(...chain.stages.map((x) => x.rate_mb_s)), chain.rate_mb_s * 4) || 1;
  const part = (value) => `${((Math.min(value, most) / most) * 100).toFixed(2)}%`;
  const stages = chain.stages.map((stage) =>
    h("li", { class: sets(chain, stage) ? "sets" : null },
      h("span", { class: "name" }, stage.name),
      s("svg", { "aria-hidden": "true" },
        s("rect", { width: part(stage.rate_mb_s), height: "100%", rx: 3, class: "could" }),
        s("rect", { width: part(chain.rate_mb_s), height: "100%", rx: 3, class: "through" })),
      h("span", { class: "amount" }, `${number(stage.rate_mb_s)}${stage.rate_mb_s > most * 1.001 ? " \u2192" : ""}`)));
  const setting = chain.stages.filter((stage) => sets(chain, stage)).map((stage) => stage.name);
  return h("figure", { class: "waterfall" },
    h("figcaption", {}, h("strong", {}, chain.title), h("span", { "data-rate": chain.operation }, rate(chain.rate_mb_s))),
    h("ol", {}, stages),
    h("p", {}, `Set by ${setting.join(" and ")}.`));
}

const chainFigures = (row) => h("div", { class: "waterfalls" }, row.chains.map(waterfall));
