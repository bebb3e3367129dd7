// The chosen machine, section by section.

/** The answer in one sentence, every amount at the page's settings. */
function answerText(row) {
  const cost = costs(row);
  const standing = row.is_plan && !isChanged() ? `${row.standing}: ` : `No. ${row.number}: `;
  const buy = cost.parts.purchase > 0 ? `buy for ${money(cost.parts.purchase)}` : "nothing to buy";
  return (
    `${standing}${money(cost.total)} over ${counted(state.years, "year")}; ${buy}, draws ` +
    `${watts(row.figures.asleep_w)} asleep, costs ${money(cost.runningPerYear)} a year in energy and wear.`
  );
}

function drawAnswer(row) {
  put("answer-title", row.is_plan ? (isChanged() ? "The answer, counted anew" : "The answer") : "An alternative");
  put("answer", answerText(row));
  put("does", row.does);
  const settle = [...row.settle_first, ...liveFaults(row)];
  put("settle", settle.length
    ? [h("h3", {}, "Settle before ordering"), h("ol", {}, settle.map((text) => h("li", {}, text)))]
    : h("p", { class: "soft" }, "Nothing to settle before ordering."));
}

/** What the page's own settings break: wear over more years, a limit of cost. */
function liveFaults(row) {
  if (!isChanged()) return [];
  const faults = wornDrives(row).map(([name, role, starts, , , rating]) => {
    const total = starts + row.money.wakes[role] * state.years;
    return `${name}: ${number(total)} starts after ${counted(state.years, "year")}, ${number((total / rating) * 100)} % of its rating; ${number(page.tariff.wear_budget * 100)} % may be used`;
  });
  const limit = page.tariff.total_cost_limit;
  const { total } = costs(row);
  if (limit !== null && total > limit) faults.push(`total cost ${exactMoney(total)}, at most ${exactMoney(limit)}`);
  return faults;
}

const priceOf = (order) => (order.to_buy ? exactMoney(order.price) : "");

function drawOrder(row) {
  const groups = page.steps
    .map((step) => [step, row.order.filter((order) => order.step === step)])
    .filter(([, orders]) => orders.length);
  put("order", groups.map(([step, orders]) => [
    h("h4", {}, step),
    h("ul", { class: "order" }, orders.map((order) => orderLine(row, order))),
  ]), h("p", { class: "sum" }, h("span", {}, postageWords(row)), h("strong", { "data-figure": "purchase_price" }, `${exactMoney(figure(row, "purchase_price"))} ${page.currency}`)),
  row.unused_owned.length
    ? h("p", { class: "soft" }, `There already and not used: ${row.unused_owned.map((u) => `${u.count} x ${u.label}`).join(", ")}.`)
    : null);
}

function postageWords(row) {
  if (!row.postage.length) return "To pay now";
  return `To pay now, with postage from ${row.postage.map((p) => `${p.seller} ${exactMoney(p.price)}`).join(", ")}`;
}

function orderLine(row, order) {
  const name = tickName(row, `order ${order.id} ${order.state}`);
  const box = tickBox(name);
  const count = order.count;
  const more = [
    order.look_for?.join(", "),
    order.boxed_with ? `${order.boxed} in the box of ${order.boxed_with.join(", ")}` : null,
    order.packs && order.pack_size > 1 ? `${order.packs} x pack of ${order.pack_size} at ${exactMoney(order.pack_price)}` : null,
    [order.seller && `from ${order.seller}`, order.order_code].filter(Boolean).join(", "),
    order.note,
    walkAway(row, order),
  ].filter(Boolean);
  const state = { new: "", owned: "there already", "in a box": "in a box" }[order.state];
  return h("li", { "data-part": order.id },
    h("label", {}, box, h("span", { class: "count" }, count), h("span", { class: "what" },
      h("span", { class: "label" }, order.label),
      h("span", { class: "look" }, more.join("; ")))),
    h("span", { class: "price" }, priceOf(order) || h("em", {}, state)));
}

/** Up to which price a bought part of the plan stays in it, where that was searched. */
function walkAway(row, order) {
  const found = row.is_plan && order.to_buy ? page.thoughts.walk_away[order.id] : null;
  if (!found || isChanged()) return null;
  return found[0] === null ? "stays at any price" : `walk away above ${exactMoney(found[0])} a pack`;
}

/** A name under which a tick is remembered: the build itself, and the thing. */
const tickName = (row, thing) => `optibox ${row.key} ${thing}`;

function tickBox(name) {
  return h("input", { type: "checkbox", checked: memory.getItem(name) === "1", "data-tick": name,
    onchange: (event) => memory.setItem(name, event.target.checked ? "1" : "0") });
}

function drawWiring(row) {
  put("wiring", scroller("Wiring, drawn", grown(row.drawing)),
    h("p", { class: "soft" }, "A bar shows how much of a link its busiest operation uses. Beside each drive: its own rate, and what its port carries. Power leads below: the larger current of 12 and 5 V while drives start, of what each carries."),
    h("details", {}, h("summary", {}, "The same in words"), wiringTable(row)));
}

function wiringTable(row) {
  return [
    h("ul", { class: "ways" }, row.wiring.map(([, , lines]) =>
      h("li", {}, h("strong", {}, lines[0]), lines.slice(1).map((text) => h("span", {}, text))))),
    row.cards.length ? h("ul", { class: "ways" }, row.cards.map((text) => h("li", {}, text))) : null,
    row.power_sentence ? h("p", { class: "soft" }, `Power: ${row.power_sentence}.`) : null,
  ];
}

function drawRun(row) {
  const minutes = row.timeout_min;
  const stop = minutes === null ? "never" : `${number(minutes)} min`;
  const pairs = [...row.run, ["stop drives after", `${stop}: ${number(row.money.wakes.data)} wakes of a data drive a year`]];
  put("run", h("dl", { class: "pairs" }, pairs.map(([name, text]) => [h("dt", {}, name), h("dd", {}, text)])),
    h("h4", {}, "Cost by timeout"), scroller("Cost by timeout", costByTimeout(row)),
    row.sleeping.length && state.tariff === own.tariff
      ? [h("h4", {}, "From when on a sleep pays"), h("ul", { class: "told" }, row.sleeping.map((text) => h("li", {}, text)))] : null,
    h("h4", {}, "A mean day"), scroller("A mean day", dayRibbon(row)));
}

function drawPower(row) {
  const { states, rows, wall_w: wall, peak_w: peak } = row.power;
  const most = Math.max(...rows.flatMap((r) => r.watts));
  const cell = (value) => h("td", {}, number(value, 1), s("svg", { class: "ink", "aria-hidden": "true" },
    s("rect", { width: `${((Math.max(0, value) / most) * 100).toFixed(1)}%`, height: "100%" })));
  const body = rows.map((r) => h("tr", {}, h("th", { scope: "row" }, r.label), r.watts.map(cell)));
  body.push(h("tr", { class: "total" }, h("th", { scope: "row" }, "At the wall"),
    wall.map((value, n) => h("td", { "data-wall": states[n] }, number(value, 1)))));
  put("power", scroller("Watts by part and state", table("Watts by part and state", ["Watts", ...states], body, "power")),
    h("p", { class: "soft" }, `Parts in direct-current watts, the last line at the wall. At the worst instant, with drives starting: ${watts(peak)}.`));
}

function drawMoney(row) {
  const live = liveFigures(row);
  const terms = ["purchase", "energy", "wear", "cache wear", "replacements", "resale"];
  const rows = terms
    .filter((term) => page.tariff.terms.includes(term) || live[`${term.replace(" ", "_")}_price`][0])
    .map((term) => {
      const key = `${term.replace(" ", "_")}_price`;
      const counts = page.tariff.terms.includes(term) ? "" : " (not counted)";
      return h("tr", {}, h("th", { scope: "row" }, term + counts), h("td", { "data-figure": key }, exactMoney(live[key][0])));
    });
  rows.push(h("tr", { class: "total" }, h("th", { scope: "row" }, `over ${counted(state.years, "year")}`),
    h("td", { "data-figure": "total_price" }, exactMoney(live.total_price[0]))));
  put("money", h("div", { class: "beside" }, table("Cost", ["Cost", page.currency], rows, "sums"),
    h("div", {}, page.rows.length > 1 ? [h("h4", {}, "Against the others"), scroller("Cost over the years", costOverYears(row))] : scroller("Cost over the years", costOverYears(row)))),
  row.is_plan && page.thoughts.nearest && !isChanged() ? h("p", { class: "nearest" }, page.thoughts.nearest) : null);
}

function drawCapacity(row) {
  put("capacity", capacityLadder(row), h("h4", {}, "What is left"),
    h("ul", { class: "slack" }, row.slack.map(([text, left, isTight]) =>
      h("li", { class: isTight ? "tight" : null }, h("span", {}, text), h("span", {}, left)))));
}

const FINDING = { error: "Does not work", warning: "Mind", information: "Good to know" };
const findingList = (findings) =>
  h("ul", { class: "findings" }, findings.map(([kind, text]) =>
    h("li", { class: kind }, h("strong", {}, FINDING[kind]), " ", text)));

function drawFindings(row) {
  put("findings", isChanged() ? h("p", { class: "soft" }, "At the tariff and years asked:") : null,
    row.findings.length ? findingList(row.findings) : h("p", { class: "soft" }, "None."));
}

function drawMoving(row) {
  at("moving-part").hidden = !row.moving;
  if (!row.moving) return;
  put("moving", h("p", { class: row.moving.is_safe ? null : "warn" }, row.moving.summary),
    row.moving.findings.length ? findingList(row.moving.findings) : null,
    h("ol", { class: "moves" }, row.moving.steps.map(([text, after]) =>
      h("li", {}, h("span", {}, text), h("span", { class: "soft" }, after)))),
    row.moving.left_over.map((text) => h("p", {}, text)));
}

function drawSources(row) {
  const measured = row.sources.filter(([, , own]) => own.length);
  put("measured", measured.length
    ? h("ul", { class: "told" }, measured.map(([label, , own]) => h("li", {}, `${label}: ${own.join(", ")}, measured`)))
    : null);
  put("sources", row.sources.map(([label, text]) => [h("dt", {}, label), h("dd", {}, text)]));
}

function drawFigures(row) {
  const live = liveFigures(row);
  const years = (label) => label.replace(/after \d+ years?/, `after ${counted(state.years, "year")}`);
  const text = ([key, , plain]) => (live[key] ? live[key][1](live[key][0]) : plain);
  put("figures", row.groups.map(([title, figures]) => [
    h("h4", {}, title.replace(/over \d+ years?/, `over ${counted(state.years, "year")}`)),
    h("dl", { class: "figures" }, figures.map((f) => [
      h("dt", {}, years(f[1])), h("dd", { "data-key": f[0] }, text(f))])),
  ]));
}

const SECTIONS = [drawAnswer, drawOrder, drawWiring, drawRun, drawPower, drawMoney, drawCapacity, drawMoving, drawFindings, drawSources, drawFigures];

function drawMachine() {
  const row = page.rows.find((r) => r.number === state.chosen);
  put("bar-name", `No. ${row.number}`, row.is_plan ? h("span", { class: "star" }, " the plan") : null);
  put("bar-title", row.title);
  put("bar-figures", [
    [money(figure(row, "total_price")), `over ${counted(state.years, "year")}`],
    [watts(row.figures.asleep_w), "asleep"],
    [rate(row.figures.ingest_mb_s), "in"],
    [rate(row.figures.read_mb_s), "read"],
    [capacity(row.figures.usable_tb), "held"],
  ].map(([value, label]) => h("span", {}, h("strong", {}, value), ` ${label}`)));
  put("why", row.why.length ? h("ul", { class: "told" }, row.why.map((text) => h("li", {}, text))) : null);
  at("why-part").hidden = !row.why.length || page.rows.length < 2 || isChanged();
  for (const draw of SECTIONS) draw(row);
  put("rates", chainFigures(row));
  drawSheets(row);
}
