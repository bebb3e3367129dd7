// Rates: every stage of an operation, and the one that sets it.

/** One operation as a waterfall: each stage with what it could do and what gets through. */
function waterfall(chain) {
  const most = Math.min(Math.max(...chain.stages.map((x) => x.rate_mb_s)), chain.rate_mb_s * 4) || 1;
  const [width, left, right, high] = [520, 190, 64, 30];
  const px = (v) => left + (Math.min(v, most) / most) * (width - left - right);
  const height = chain.stages.length * high + 8;
  const end = px(chain.rate_mb_s);
  const rows = chain.stages.map((stage, n) => {
    const y = n * high + 4;
    const sets = stage.rate_mb_s <= chain.rate_mb_s * (1 + 1e-9);
    const isOver = stage.rate_mb_s > most * 1.001;
    const label = stage.name.length > 29 ? `${stage.name.slice(0, 28)}\u2026` : stage.name;
    return s("g", { class: sets ? "stage sets" : "stage" }, s("title", {}, stage.name),
      words(left - 10, y + 17, label, "", "end"),
      s("rect", { x: left, y: y + 4, width: Math.max(2, px(stage.rate_mb_s) - left), height: high - 10, rx: 3, class: "could" }),
      s("rect", { x: left, y: y + 4, width: Math.max(2, end - left), height: high - 10, rx: 3, class: "through" }),
      words(px(stage.rate_mb_s) + 8, y + 18, `${number(stage.rate_mb_s)}${isOver ? " \u2192" : ""}`, sets ? "strong" : ""));
  });
  const setting = chain.stages.filter((x) => x.rate_mb_s <= chain.rate_mb_s * (1 + 1e-9)).map((x) => x.name);
  return h("figure", { class: "waterfall" },
    h("figcaption", {}, h("strong", {}, chain.title), h("span", { "data-rate": chain.operation }, rate(chain.rate_mb_s))),
    s("svg", { viewBox: `0 0 ${width} ${height}`, role: "img",
      "aria-label": `${chain.title}: ${chain.stages.map((x) => `${x.name} ${number(x.rate_mb_s)}`).join(", ")}` },
      s("path", { d: `M${end} 0V${height}`, class: "limit" }), rows),
    h("p", {}, `Set by ${setting.join(" and ")}.`));
}

const chainFigures = (row) => h("div", { class: "waterfalls" }, row.chains.map(waterfall));
