// Money at the page's tariff and years. The way of running each machine stays as it is.

/** What one unit a year is worth today, payments at the end of each year. */
function annuity(years, discount, growth = 0) {
  let total = 0;
  let payment = 1;
  let worth = 1;
  for (let year = 0; year < years; year += 1) {
    worth /= 1 + discount;
    total += payment * worth;
    payment *= 1 + growth;
  }
  return total;
}

/** Mean price of each group of hours over the week, at a base tariff. */
function groupPrices(tariff) {
  return page.tariff.groups.map(
    (days) => days.reduce((sum, price) => sum + (price === null ? tariff : price), 0) / 7,
  );
}

/** Price of each hour of day. */
function hourPrices(tariff) {
  const groups = groupPrices(tariff);
  return page.tariff.hour_groups.map((group) => groups[group]);
}

/** Which groups share a price: hours of rest are averaged over equal prices. */
function partition(prices) {
  return prices.map((price) => prices.indexOf(price)).join();
}

/** Whether the tariff splits the day as the scenario's own does; only then is it exact. */
function isExact(tariff) {
  const own = page.tariff.tariff_per_kwh ?? 0;
  return partition(groupPrices(tariff)) === partition(groupPrices(own));
}

function stateMoney(row, prices) {
  const [, wall, ...hours] = row;
  return (hours.reduce((sum, h, group) => sum + h * prices[group], 0) / 1000) * wall;
}

/** Every term over the years, from a machine's or a way's yearly amounts. */
function terms(yearly, purchase, years = state.years) {
  const { discount, tariff_growth: growth, resale_fraction: resale } = page.tariff;
  const plain = annuity(years, discount);
  const worth = (1 + discount) ** -years;
  return {
    purchase,
    energy: yearly.energy * annuity(years, discount, growth),
    wear: yearly.wear * plain,
    "cache wear": yearly.cacheWear * plain,
    replacements: yearly.replacements * plain,
    resale: -(resale * purchase * worth),
  };
}

const counting = (parts) =>
  page.tariff.terms.reduce((sum, term) => sum + parts[term], 0);

/** What a machine costs at the page's settings. */
function costs(row, years = state.years) {
  const table = row.money;
  const prices = groupPrices(state.tariff);
  const yearly = {
    energy: table.states.reduce((sum, s) => sum + stateMoney(s, prices), 0),
    wear: table.wear_per_year,
    cacheWear: table.cache_wear_per_year,
    replacements: table.replacements_per_year,
  };
  const parts = terms(yearly, table.purchase, years);
  const wear = yearly.wear + yearly.cacheWear;
  return {
    parts,
    total: counting(parts),
    energyPerYear: yearly.energy,
    wearPerYear: wear,
    runningPerYear: yearly.energy + wear,
  };
}

/** What a machine costs when it is run in another way. */
function wayCosts(row, way) {
  const prices = groupPrices(state.tariff);
  const yearly = {
    energy: way.kwh.reduce((sum, kwh, group) => sum + kwh * prices[group], 0),
    wear: way.wear_per_year,
    cacheWear: way.cache_wear_per_year,
    replacements: row.money.replacements_per_year,
  };
  const parts = terms(yearly, row.money.purchase);
  return { parts, total: counting(parts) };
}

/** Drives that would be started more often than the budget allows over the years. */
function wornDrives(row, wakes = row.money.wakes) {
  return row.money.drives.filter(([, role, starts, , , rating]) => {
    const wake = wakes[role];
    return wake > 0 && starts + wake * state.years > page.tariff.wear_budget * rating;
  });
}

/** Largest share of a rating that the drives of a role have used after the years. */
function ratingUsed(row, role, which) {
  const used = row.money.drives
    .filter((drive) => drive[1] === role)
    .map((drive) => (drive[2] + row.money.wakes[role] * state.years) / drive[which]);
  return Math.max(...used);
}

const remembered = new WeakMap();

/** Figures that depend on tariff or years: key, value, text as the command line has it. */
function liveFigures(row) {
  const settings = `${state.tariff} ${state.years}`;
  const known = remembered.get(row);
  if (known?.settings === settings) return known.found;
  const found = freshFigures(row);
  remembered.set(row, { settings, found });
  return found;
}

function freshFigures(row) {
  const cost = costs(row);
  const found = {
    energy_price_per_year: [cost.energyPerYear, money],
    wear_price_per_year: [cost.wearPerYear, money],
    running_price_per_year: [cost.runningPerYear, money],
    purchase_price: [cost.parts.purchase, exactMoney],
    energy_price: [cost.parts.energy, exactMoney],
    wear_price: [cost.parts.wear, exactMoney],
    cache_wear_price: [cost.parts["cache wear"], exactMoney],
    replacements_price: [cost.parts.replacements, exactMoney],
    resale_price: [cost.parts.resale, exactMoney],
    total_price: [cost.total, exactMoney],
  };
  for (const role of ["data", "parity"]) {
    if (!row.money.drives.some((drive) => drive[1] === role)) continue;
    found[`${role}_start_stop_used_fraction`] = [ratingUsed(row, role, 3), share];
    found[`${role}_load_unload_used_fraction`] = [ratingUsed(row, role, 4), share];
  }
  return found;
}

/** A figure of a machine at the page's settings. */
function figure(row, key) {
  const live = liveFigures(row)[key];
  return live ? live[0] : row.figures[key];
}

/** The year in which the other machine has become as cheap as this one, or null. */
function crossing(row, other, most) {
  const gap = (years) => costs(row, years).total - costs(other, years).total;
  let before = gap(0);
  for (let year = 1; year <= most; year += 1) {
    const now = gap(year);
    if (before * now < 0) return year - 1 + before / (before - now);
    before = now;
  }
  return null;
}
