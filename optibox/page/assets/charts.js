// Pictures of money and time: cost over years, cost by timeout, the day, capacity.

const line = (points) => points.map(([x, y], n) => `${n ? "L" : "M"}${x.toFixed(1)} ${y.toFixed(1)}`).join("");
const words = (x, y, text, kind = "", anchor = "start") =>
  s("text", { x, y, class: kind || null, "text-anchor": anchor }, text);

/** Cost over the years: this machine against up to five others. */
function costOverYears(row) {
  const [width, height, left, right, top, bottom] = [760, 340, 64, 150, 16, 40];
  const most = Math.max(10, state.years + 2);
  const years = Array.from({ length: most + 1 }, (_, n) => n);
  const others = rivals(row);
  const lines = [row, ...others].map((machine) => ({
    machine, values: years.map((year) => costs(machine, year).total),
  }));
  const high = Math.max(...lines.flatMap((l) => l.values));
  const low = Math.min(...lines.map((l) => l.values[0]));
  const start = Math.max(0, low - (high - low) * 0.1);
  const px = (year) => left + (year / most) * (width - left - right);
  const py = (cost) => height - bottom - ((cost - start) / (high - start || 1)) * (height - bottom - top);
  const labels = spreadLabels(lines.map(({ machine, values }) => ({ machine, y: py(values[most]) })), 16);
  const crossings = others
    .map((other) => ({ other, year: crossing(row, other, most) }))
    .filter(({ year }) => year !== null)
    .sort((a, b) => a.year - b.year);
  const picture = s(
    "svg",
    { viewBox: `0 0 ${width} ${height}`, role: "img", class: "chart",
      "aria-label": "Cost over the years; crossings are told below" },
    ticks(start, high, 4).map((v) => [
      s("path", { d: `M${left} ${py(v)}H${width - right}`, class: "grid" }),
      words(left - 10, py(v) + 4, number(v), "", "end")]),
    years.filter((year) => year % 2 === 0).map((year) => words(px(year), height - 18, `${year}`, "", "middle")),
    words(width - right, height - 3, "years", "axis", "end"),
    words(left, top - 4, `[${page.currency}]`, "axis"),
    s("path", { d: `M${px(state.years)} ${top}V${height - bottom}`, class: "asked" }),
    words(px(state.years), top + 2, " as counted", "axis"),
    lines.toReversed().map(({ machine, values }) =>
      s("path", { d: line(values.map((v, year) => [px(year), py(v)])),
        class: machine === row ? "mine" : "other" })),
    labels.map(({ machine, y }) =>
      words(width - right + 8, y + 4, `no. ${machine.number}, ${number(costs(machine, most).total)}`, machine === row ? "strong" : "")),
    crossings.map(({ year }) =>
      s("circle", { cx: px(year), cy: py(costBetween(row, year)), r: 4.5, class: "cross" })),
  );
  const told = crossings.map(({ other, year }) => {
    const isOvertaken = costs(row, 0).total < costs(other, 0).total;
    const when = `year ${number(year, 1)}`;
    return h("li", {}, isOvertaken
      ? `From ${when} on no. ${other.number} has cost less.`
      : `Up to ${when} no. ${other.number} has cost less.`);
  });
  return [picture, others.length
    ? h("ul", { class: "told" }, told.length ? told : h("li", {}, `No other machine shown crosses it within ${most} years.`))
    : null];
}

function costBetween(row, year) {
  const [low, part] = [Math.floor(year), year % 1];
  const [a, b] = [costs(row, low).total, costs(row, low + 1).total];
  return a + (b - a) * part;
}

/** The others that come nearest in total, the plan among them. */
function rivals(row) {
  const total = (machine) => costs(machine).total;
  const near = page.rows
    .filter((other) => other !== row)
    .sort((a, b) => b.is_plan - a.is_plan || total(a) - total(b));
  return near.slice(0, 5);
}

/** Labels at least a line apart, in their order. */
function spreadLabels(labels, gap) {
  const sorted = labels.toSorted((a, b) => a.y - b.y);
  for (let n = 1; n < sorted.length; n += 1) {
    sorted[n].y = Math.max(sorted[n].y, sorted[n - 1].y + gap);
  }
  return sorted;
}

/** Energy and wear over the years for each timeout. */
function costByTimeout(row) {
  const ways = row.ways.filter((way) => way.setting === "timeout");
  const rows = ways.map((way) => {
    const cost = wayCosts(row, way);
    const wear = cost.parts.wear + cost.parts["cache wear"];
    return { way, energy: cost.parts.energy, wear, sum: cost.parts.energy + wear, fault: faultOf(row, way) };
  });
  const [width, height, left, right, top, bottom] = [760, 310, 64, 20, 44, 58];
  const fine = rows.filter((r) => !r.fault);
  const high = Math.max(...(fine.length ? fine : rows).map((r) => r.sum)) * 1.06;
  const step = (width - left - right) / rows.length;
  const py = (v) => height - bottom - (Math.min(v, high) / high) * (height - bottom - top);
  const bars = rows.map((r, n) => {
    const x = left + step * n + step * 0.18;
    const wide = step * 0.64;
    const split = py(r.energy);
    const end = py(r.sum);
    const isOver = r.sum > high;
    return s("g", { class: `bar${r.way.is_mine ? " mine" : ""}${r.fault ? " refused" : ""}` },
      s("rect", { x, y: split, width: wide, height: Math.max(0, height - bottom - split), class: "energy" }),
      s("rect", { x, y: end, width: wide, height: Math.max(0, split - end), class: "wear" }),
      words(x + wide / 2, end - 6, `${number(r.sum)}${isOver ? " \u2191" : ""}`, r.way.is_mine ? "strong" : "", "middle"),
      words(x + wide / 2, height - bottom + 18, r.way.words.replace(" min", ""), r.way.is_mine ? "strong" : "", "middle"),
      r.fault ? words(x + wide / 2, height - bottom + 33, "not allowed", "tiny", "middle") : null);
  });
  const picture = s("svg", { viewBox: `0 0 ${width} ${height}`, role: "img", class: "chart",
    "aria-label": "Energy and wear by timeout; in words below" },
    ticks(0, high, 4).map((v) => [
      s("path", { d: `M${left} ${py(v)}H${width - right}`, class: "grid" }),
      words(left - 10, py(v) + 4, number(v), "", "end")]),
    words(left - 54, 14, `[${page.currency} over ${counted(state.years, "year")}]`, "axis"),
    words(width - right, height - 4, "minutes until drives stop", "axis", "end"),
    bars);
  return [picture, key([["energy", "energy"], ["wear", "wear of drives and cache"]]),
    h("ul", { class: "told" }, row.ways.filter((way) => !way.is_mine && isNear(row, way)).map((way) =>
      h("li", { "data-way": way.words }, `${way.words}: ${wayWords(row, way)}`)))];
}

/** The neighbours of a machine's own timeout, never, and the other write mode. */
function isNear(row, way) {
  if (way.setting !== "timeout" || way.minutes === null) return true;
  const minutes = row.ways.filter((w) => w.setting === "timeout" && w.minutes !== null).map((w) => w.minutes);
  const mine = row.timeout_min;
  if (mine === null) return way.minutes === Math.max(...minutes);
  const shorter = Math.max(...minutes.filter((m) => m < mine));
  const longer = Math.min(...minutes.filter((m) => m > mine));
  return way.minutes === shorter || way.minutes === longer;
}

function faultOf(row, way) {
  const worn = wornDrives(row, way.wakes).filter(([name]) => !wornDrives(row).some(([other]) => other === name));
  if (worn.length) return `wears ${worn[0][0]} beyond its budget`;
  return way.fault;
}

function wayWords(row, way) {
  const fault = faultOf(row, way);
  if (fault) return `not allowed: ${fault}`;
  const difference = wayCosts(row, way).total - costs(row).total;
  const isMode = way.setting === "write mode";
  const start = isMode ? `${rate(way.write_mb_s)}, ` : "";
  if (Math.abs(difference) < 0.005) return `${start}the same cost`;
  return `${start}${money(Math.abs(difference))} ${difference > 0 ? "dearer" : "cheaper"}`;
}

const key = (rows) =>
  h("p", { class: "key" }, rows.map(([kind, text]) =>
    h("span", {}, s("svg", { viewBox: "0 0 14 14", "aria-hidden": "true" }, s("rect", { width: 14, height: 14, rx: 3, class: kind })), text)));

/** Mean watts through the day by state, under the price of each hour. */
function dayRibbon(row) {
  const [width, height, left, right, top, bottom] = [760, 240, 64, 20, 52, 34];
  const prices = hourPrices(state.tariff);
  const sums = prices.map((_, hour) => row.day.reduce((sum, d) => sum + d.watts[hour], 0));
  const high = Math.max(...sums) * 1.08;
  const step = (width - left - right) / 24;
  const py = (v) => height - bottom - (v / high) * (height - bottom - top);
  const [cheap, dear] = [Math.min(...prices), Math.max(...prices)];
  const columns = prices.map((price, hour) => {
    let base = 0;
    const x = left + step * hour;
    const level = dear > cheap ? (price - cheap) / (dear - cheap) : 0.5;
    const isNew = (hour === 0 || prices[hour - 1] !== price) && prices[hour + 1] === price;
    return s("g", {},
      s("rect", { x, y: 22, width: step, height: 14, class: "price", "fill-opacity": (0.2 + 0.65 * level).toFixed(2) }),
      isNew ? words(x + 2, 16, number(price, 3), "tiny") : null,
      row.day.map((d) => {
        const y = py(base + d.watts[hour]);
        const rect = s("rect", { x: x + 0.5, y, width: step - 1, height: Math.max(0, py(base) - y), class: `state ${d.state}` });
        base += d.watts[hour];
        return rect;
      }),
      hour % 3 === 0 ? words(x, height - 14, `${String(hour).padStart(2, "0")}:00`, "", "middle") : null);
  });
  return [s("svg", { viewBox: `0 0 ${width} ${height}`, role: "img", class: "chart",
    "aria-label": `Mean watts at the wall by hour of day, from ${watts(Math.min(...sums))} to ${watts(Math.max(...sums))}` },
    ticks(0, high, 3).map((v) => [
      s("path", { d: `M${left} ${py(v)}H${width - right}`, class: "grid" }),
      words(left - 10, py(v) + 4, `${number(v)} W`, "", "end")]),
    words(left - 10, 33, "price", "axis", "end"), columns),
    key(row.day.map((d) => [`state ${d.state}`, STATE_WORDS[d.state] ?? d.state]))];
}

const STATE_WORDS = {
  asleep: "at rest", spinning: "spinning, no work", reading: "reading", ingesting: "taking in",
  flushing: "flushing the cache", checking: "checking",
};

/** From the print on the drives to what files may fill. */
function capacityLadder(row) {
  const most = row.ladder[0].tb;
  const need = page.needs.usable_tb;
  const wide = (tb) => `${((tb / most) * 100).toFixed(2)}%`;
  return h("ol", { class: "ladder" }, row.ladder.map((step, n) => {
    const bar = s("svg", { class: "rung", "aria-hidden": "true" },
      s("rect", { width: "100%", height: "100%", class: "room" }),
      s("rect", { width: wide(step.tb), height: "100%", class: n === row.ladder.length - 1 ? "usable" : "held" }),
      s("rect", { x: wide(need), width: 2, height: "100%", class: "need" }));
    return h("li", {}, h("span", { class: "name" }, step.label), bar, h("span", { class: "amount", "data-capacity": step.label }, capacity(step.tb)));
  }), h("li", { class: "note" }, `The line stands for the ${capacity(need)} asked for.`));
}
