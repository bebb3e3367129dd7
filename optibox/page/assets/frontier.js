// The frontier: a scatter in which each point is a machine, and its table.

const PLOT = { width: 640, height: 430, left: 66, right: 22, top: 18, bottom: 52 };

const axisOf = (key) => page.axes.find((axis) => axis.key === key);
const axisUnit = (axis) => (axis.is_money ? `${page.currency}${axis.unit}` : axis.unit);
const axisTitle = (axis) => `${axis.label} [${axisUnit(axis)}]`;

function axisText(axis, value) {
  if (axis.key === "usable_tb") return capacity(value);
  const digits = axis.is_money ? 0 : axis.decimals;
  return `${number(value, digits)} ${axisUnit(axis)}`;
}

/** Round steps that cover a range: the step is 1, 2 or 5 times a power of ten. */
function ticks(low, high, about = 6) {
  const raw = (high - low || Math.abs(high) || 1) / about;
  const power = 10 ** Math.floor(Math.log10(raw));
  const step = [1, 2, 5, 10].map((n) => n * power).find((n) => n >= raw);
  const first = Math.ceil(low / step - 1e-9);
  const last = Math.floor(high / step + 1e-9);
  return Array.from({ length: last - first + 1 }, (_, n) => (first + n) * step);
}

function scale(values, from, to) {
  const low = Math.min(...values);
  const high = Math.max(...values);
  const room = (high - low || Math.abs(high) || 1) * 0.09;
  const start = low >= 0 ? Math.max(0, low - room) : low - room;
  const end = high + room;
  const place = (value) => from + ((value - start) / (end - start)) * (to - from);
  return Object.assign(place, { start, end });
}

const shown = () => page.rows.filter(isKept);

/** Whether a machine passes the filters. */
function isKept(row) {
  const words = state.words.toLowerCase();
  const text = `no. ${row.number} ${row.title} ${row.order.map((o) => o.label).join(" ")}`;
  if (words && !text.toLowerCase().includes(words)) return false;
  const { most } = state;
  return most === null || figure(row, "purchase_price") <= most;
}

/** Machines that nothing shown beats on the two axes, as a staircase. */
function best(rows, x, y) {
  const sign = (axis) => (axis.is_maximised ? -1 : 1);
  const at2 = (row) => [sign(x) * figure(row, x.key), sign(y) * figure(row, y.key)];
  return rows.filter((row) => {
    const [a, b] = at2(row);
    return !rows.some((other) => {
      const [c, d] = at2(other);
      return c <= a && d <= b && (c < a || d < b);
    });
  });
}

const MARKS = {
  independent: (x, y) => s("circle", { cx: x, cy: y, r: 8 }),
  striped: (x, y) => s("rect", { x: x - 7.5, y: y - 7.5, width: 15, height: 15, rx: 2 }),
  pairs: (x, y) => s("path", { d: `M${x} ${y - 10}L${x + 10} ${y}L${x} ${y + 10}L${x - 10} ${y}Z` }),
  "striped pairs": (x, y) => s("path", { d: `M${x} ${y - 10}L${x + 10} ${y + 8}L${x - 10} ${y + 8}Z` }),
};

function drawScatter() {
  const rows = shown();
  const [x, y] = [axisOf(state.x), axisOf(state.y)];
  if (!rows.length) {
    put("scatter", h("p", { class: "soft" }, "No machine passes the filters."));
    return;
  }
  const { width, height, left, right, top, bottom } = PLOT;
  const px = scale(rows.map((row) => figure(row, x.key)), left, width - right);
  const py = scale(rows.map((row) => figure(row, y.key)), height - bottom, top);
  const picture = s(
    "svg",
    { viewBox: `0 0 ${width} ${height}`, class: rows.length > 24 ? "scatter many" : "scatter", role: "radiogroup",
      "aria-label": `Machines by ${axisTitle(x)} and ${axisTitle(y)}`,
      onclick: (event) => nearest(event, (row) => choose(row.number)),
      onmousemove: (event) => nearest(event, peek), onmouseleave: () => peek(null) },
    scatterAxes(x, y, px, py),
    staircase(best(rows, x, y), x, y, px, py),
    points(rows, x, y, px, py),
  );
  put("scatter", picture, legend(rows));
}

function scatterAxes(x, y, px, py) {
  const { width, height, left, right, top, bottom } = PLOT;
  const base = height - bottom;
  const better = (axis) => (axis.is_maximised ? "more is better" : "less is better");
  const digits = (list) => (list.length > 1 && list[1] - list[0] < 1 ? 1 : 0);
  const [tx, ty] = [ticks(px.start, px.end), ticks(py.start, py.end, 5)];
  return s(
    "g",
    { class: "axes", "aria-hidden": "true" },
    ty.map((v) => s("path", { d: `M${left} ${py(v)}H${width - right}`, class: "grid" })),
    tx.map((v) => s("text", { x: px(v), y: base + 18, "text-anchor": "middle" }, number(v, digits(tx)))),
    ty.map((v) => s("text", { x: left - 10, y: py(v) + 4, "text-anchor": "end" }, number(v, digits(ty)))),
    s("path", { d: `M${left} ${base}H${width - right}`, class: "base" }),
    s("text", { x: width - right, y: height - 10, "text-anchor": "end", class: "axis" },
      `${axisTitle(x)}, ${better(x)}`),
    s("text", { x: left, y: top - 4, class: "axis" }, `${axisTitle(y)}, ${better(y)}`),
  );
}

function staircase(rows, x, y, px, py) {
  const points = rows
    .map((row) => [px(figure(row, x.key)), py(figure(row, y.key))])
    .sort((a, b) => a[0] - b[0]);
  if (points.length < 2) return null;
  const isFirst = x.is_maximised === false;
  const path = points
    .map(([a, b], n) => (n === 0 ? `M${a} ${b}` : isFirst ? `H${a}V${b}` : `V${b}H${a}`))
    .join("");
  return s("path", { d: path, class: "stairs", "aria-hidden": "true" });
}

const brief = (row) =>
  `No. ${row.number}: ${row.title}. Buy ${money(figure(row, "purchase_price"))}, ` +
  `${money(figure(row, "total_price"))} over ${counted(state.years, "year")}, ` +
  `${watts(row.figures.asleep_w)} asleep, takes in ${rate(row.figures.ingest_mb_s)}, ` +
  `reads ${rate(row.figures.read_mb_s)}.`;

/** All marks, the chosen one on top; numbers where they do not run into each other. */
function points(rows, x, y, px, py) {
  const rank = (row) => (row.number === state.chosen ? 2 : row.is_plan ? 1 : 0);
  const placed = rows
    .map((row) => ({ row, cx: px(figure(row, x.key)), cy: py(figure(row, y.key)) }))
    .sort((a, b) => rank(a.row) - rank(b.row));
  const told = [];
  for (const one of placed.toReversed()) {
    one.isTold = !told.some((t) => Math.abs(t.cx - one.cx) < 22 && Math.abs(t.cy - one.cy) < 17);
    if (one.isTold) told.push(one);
  }
  return placed.map(point);
}

function point({ row, cx, cy, isTold }) {
  const isChosen = row.number === state.chosen;
  const kinds = ["point", isChosen && "chosen", row.is_plan && "plan", !isTold && "crowded"].filter(Boolean);
  return s(
    "g",
    { class: kinds.join(" "), role: "radio", "aria-checked": String(isChosen),
      "aria-label": brief(row), tabindex: isChosen ? "0" : "-1", "data-number": row.number,
      onfocus: () => peek(row), onblur: () => peek(null),
      onkeydown: (event) => walk(event, row) },
    s("circle", { cx, cy, r: 17, class: "reach" }),
    MARKS[row.layout](cx, cy),
    s("text", { x: cx, y: cy - 14, "text-anchor": "middle", class: "label" }, row.number),
  );
}

/** The machine next to the pointer: marks may overlap, and fingers are broad. */
function nearest(event, use) {
  const within = 30;
  const found = [...document.querySelectorAll("#scatter .point .reach")]
    .map((reach) => {
      const { left, right, top, bottom } = reach.getBoundingClientRect();
      const away = Math.hypot((left + right) / 2 - event.clientX, (top + bottom) / 2 - event.clientY);
      return { away, number: Number(reach.parentNode.dataset.number) };
    })
    .sort((a, b) => a.away - b.away)[0];
  const row = found && found.away <= within ? page.rows.find((r) => r.number === found.number) : null;
  for (const node of document.querySelectorAll("#scatter .point")) {
    node.classList.toggle("near", Boolean(row) && Number(node.dataset.number) === row.number);
  }
  if (row || use === peek) use(row);
}

/** Arrow keys go from point to point in the order of the picture; space or enter chooses. */
function walk(event, row) {
  if (event.key === "Enter" || event.key === " ") {
    event.preventDefault();
    choose(row.number);
    return;
  }
  const step = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 }[event.key];
  if (!step) return;
  event.preventDefault();
  const order = shown().toSorted((a, b) => figure(a, state.x) - figure(b, state.x));
  const place = order.findIndex((other) => other.number === row.number);
  const next = order[(place + step + order.length) % order.length];
  document.querySelector(`.point[data-number="${next.number}"]`).focus();
}

/** Shows a machine in the line below the picture while it is pointed at. */
function peek(row) {
  const chosen = page.rows.find((r) => r.number === state.chosen);
  at("peek").textContent = brief(row ?? chosen);
  at("peek").classList.toggle("peeking", Boolean(row) && row !== chosen);
}

const LAYOUT_WORDS = {
  independent: "independent drives", striped: "stripe", pairs: "pairs",
  "striped pairs": "stripe over pairs",
};

function legend(rows) {
  const kinds = [...new Set(rows.map((row) => row.layout))];
  return h(
    "p",
    { class: "legend" },
    kinds.map((kind) =>
      h("span", {}, s("svg", { viewBox: "0 0 24 24", "aria-hidden": "true" }, MARKS[kind](12, 12)), LAYOUT_WORDS[kind])),
    h("span", {}, s("svg", { viewBox: "0 0 24 24", "aria-hidden": "true" },
      s("path", { d: "M2 6H12V18H22", class: "stairs" })), "nothing shown is better in both"),
  );
}

const COLUMNS = [
  ["number", "No.", "", (row) => row.number],
  ["purchase_price", "Buy", "", (row) => number(figure(row, "purchase_price"))],
  ["running_price_per_year", "Run", "a year", (row) => number(figure(row, "running_price_per_year"))],
  ["total_price", "In all", "", (row) => number(figure(row, "total_price"))],
  ["asleep_w", "Asleep", "W", (row) => number(row.figures.asleep_w, 1)],
  ["ingest_mb_s", "In", "MB/s", (row) => number(row.figures.ingest_mb_s)],
  ["read_mb_s", "Read", "MB/s", (row) => number(row.figures.read_mb_s)],
  ["usable_tb", "Holds", "", (row) => capacity(row.figures.usable_tb)],
];
const sortValue = (row) => (state.sort === "number" ? row.number : figure(row, state.sort));

function drawTable() {
  const rows = shown().toSorted((a, b) => (sortValue(a) - sortValue(b)) * state.direction);
  const heads = COLUMNS.map(([key, label, unit]) => {
    const isSorted = key === state.sort;
    const way = state.direction > 0 ? "ascending" : "descending";
    return h("th", { scope: "col", "aria-sort": isSorted ? way : null },
      h("button", { type: "button", "data-sort": key, onclick: () => sortBy(key) }, label,
        h("span", { "aria-hidden": "true" }, isSorted ? (state.direction > 0 ? " \u2191" : " \u2193") : ""),
        h("small", {}, unit || "\u00a0")));
  });
  put("rows", h("table", { class: "machines" },
    h("caption", { class: "unseen" }, `Machines; money in ${page.currency}`),
    h("thead", {}, h("tr", {}, heads)),
    h("tbody", {}, rows.map(machineRow))));
  showChosenRow();
  const hidden = page.rows.length - rows.length;
  at("hidden").textContent = hidden ? `${hidden} of ${page.rows.length} left out by the filters` : "";
}

/** Scrolls the table, and nothing else, so that the chosen machine can be seen. */
function showChosenRow() {
  const list = at("rows");
  const row = list.querySelector("tr.chosen");
  if (!row) return;
  const head = list.querySelector("thead").offsetHeight;
  const [top, bottom] = [row.offsetTop - head, row.offsetTop + row.offsetHeight];
  if (top < list.scrollTop) list.scrollTop = top;
  else if (bottom > list.scrollTop + list.clientHeight) list.scrollTop = bottom - list.clientHeight;
}

function machineRow(row) {
  const isChosen = row.number === state.chosen;
  const button = h("button", { type: "button", "data-choose": row.number,
    "aria-pressed": String(isChosen), onclick: () => choose(row.number),
    onfocus: () => peek(row), onblur: () => peek(null) }, row.number);
  return h("tr", { class: isChosen ? "chosen" : null, onmouseenter: () => peek(row),
    onmouseleave: () => peek(null), onclick: () => choose(row.number) },
    COLUMNS.map(([key, , , text]) =>
      key === "number"
        ? h("th", { scope: "row" }, button, row.is_plan ? h("span", { class: "star", title: "the plan" }, " plan") : null)
        : h("td", {}, text(row))));
}

function sortBy(key) {
  state.direction = state.sort === key ? -state.direction : 1;
  state.sort = key;
  keepingFocus(drawTable);
}

function pickers() {
  const pick = (name, label) => {
    const list = h("select", { id: `pick-${name}`, onchange: (event) => {
      state[name] = event.target.value;
      drawScatter();
    } }, page.axes.map((axis) => h("option", { value: axis.key, selected: axis.key === state[name] }, axisTitle(axis))));
    return h("label", {}, label, list);
  };
  put("pickers", pick("x", "Across"), pick("y", "Upwards"),
    h("label", {}, "Find", h("input", { type: "search", id: "find", value: state.words,
      oninput: (event) => { state.words = event.target.value; drawFrontier(); } })),
    h("label", {}, `Buy for at most [${page.currency}]`, h("input", { type: "number", id: "most", min: 0, inputmode: "decimal",
      oninput: (event) => {
        state.most = event.target.value === "" ? null : Number(event.target.value);
        drawFrontier();
      } })));
}

function drawFrontier() {
  drawScatter();
  drawTable();
  peek(null);
}
