// State, controls, and what happens when a machine is chosen.

/** Data with every pointer replaced by what it points at. */
function unpacked({ value, pool }) {
  const done = [];
  const open = (item) => {
    if (Array.isArray(item)) return item.map(open);
    if (item === null || typeof item !== "object") return item;
    if ("$" in item) return (done[item.$] ??= open(pool[item.$]));
    return Object.fromEntries(Object.entries(item).map(([name, inner]) => [name, open(inner)]));
  };
  return open(value);
}

const page = unpacked(JSON.parse(at("data").textContent));
const plan = page.rows.find((row) => row.is_plan) ?? page.rows[0];
const own = {
  chosen: plan.number,
  tariff: page.tariff.tariff_per_kwh ?? 0,
  years: page.tariff.years,
  unit: page.needs.in_tib ? "TiB" : "TB",
};
const state = {
  ...own, x: page.view[0], y: page.view[1], sort: "number", direction: 1,
  words: "", most: null,
};

const isChanged = () => state.tariff !== own.tariff || state.years !== own.years;

function choose(chosen) {
  state.chosen = chosen;
  draw();
  at("said").textContent = `Machine ${chosen} is shown below`;
}

/** The page's settings in its address, so that a reload or a friend sees the same. */
function keepAddress() {
  const parts = ["chosen", "tariff", "years", "unit"]
    .filter((name) => state[name] !== own[name])
    .map((name) => `${name}=${encodeURIComponent(state[name])}`);
  history.replaceState(null, "", `#${parts.join("&")}`);
}

function readAddress() {
  const given = new URLSearchParams(location.hash.slice(1));
  const numeric = (name) => (given.has(name) && Number.isFinite(Number(given.get(name))) ? Number(given.get(name)) : own[name]);
  const chosen = numeric("chosen");
  state.chosen = page.rows.some((row) => row.number === chosen) ? chosen : own.chosen;
  state.tariff = page.tariff.tariff_per_kwh === null ? own.tariff : Math.min(10, Math.max(0, numeric("tariff")));
  state.years = Math.min(30, Math.max(1, Math.round(numeric("years"))));
  state.unit = given.get("unit") === "TiB" ? "TiB" : given.get("unit") === "TB" ? "TB" : own.unit;
}

function drawControls() {
  at("tariff").value = page.tariff.tariff_per_kwh === null ? "" : state.tariff;
  at("years").value = state.years;
  for (const unit of ["TB", "TiB"]) at(`unit-${unit}`).checked = state.unit === unit;
  at("as-asked").hidden = !isChanged();
  const sets = [];
  if (state.tariff !== own.tariff) sets.push(`--set money.tariff_per_kwh=${state.tariff}`);
  if (state.years !== own.years) sets.push(`--set money.years=${state.years}`);
  const command = [page.command, ...sets, "-o page.html"].join(" ");
  put("resolve", sets.length
    ? [h("p", {}, "Money is counted anew for the machines on this page, each run as it is. Which machines are the best at these settings needs a new search:"), h("pre", {}, h("code", {}, command)),
       isExact(state.tariff) ? null : h("p", { class: "warn" }, "At this tariff hours of two prices become one; the last digit of energy may differ from the command's.")]
    : null);
}

/** Draws anew and gives the focus back to what stands in the place of its old holder. */
function keepingFocus(redraw) {
  const { dataset } = document.activeElement ?? {};
  const name = ["choose", "sort", "number"].find((key) => dataset?.[key] !== undefined);
  const place = name && `[data-${name}="${dataset[name]}"]`;
  redraw();
  if (place) document.querySelector(place)?.focus({ preventScroll: true });
}

function draw() {
  keepAddress();
  drawControls();
  if (page.rows.length > 1) keepingFocus(drawFrontier);
  drawMachine();
}

function listen() {
  const settle = (name, low, high) => (event) => {
    const value = Number(event.target.value);
    if (event.target.value === "" || !(value >= low && value <= high)) return;
    state[name] = value;
    draw();
  };
  at("tariff").addEventListener("input", settle("tariff", 0, 10));
  at("years").addEventListener("input", settle("years", 1, 30));
  for (const unit of ["TB", "TiB"]) {
    at(`unit-${unit}`).addEventListener("change", () => { state.unit = unit; draw(); });
  }
  at("as-asked").addEventListener("click", () => {
    Object.assign(state, { tariff: own.tariff, years: own.years });
    draw();
    at("tariff").focus();
  });
  at("open-bench").addEventListener("click", openBench);
  at("print").addEventListener("click", () => window.print());
  at("bench-back").addEventListener("click", () => go(bench.step - 1));
  at("bench-next").addEventListener("click", () => go(bench.step + 1));
  at("bench-close").addEventListener("click", () => at("bench").close());
  const step = (by) => {
    const place = page.rows.findIndex((row) => row.number === state.chosen);
    choose(page.rows[(place + by + page.rows.length) % page.rows.length].number);
  };
  at("before").addEventListener("click", () => step(-1));
  at("after").addEventListener("click", () => step(1));
  window.addEventListener("hashchange", () => { readAddress(); draw(); });
}

document.documentElement.classList.add("alive");
readAddress();
if (page.rows.length > 1) pickers();
listen();
draw();
