// Numbers as text, digit for digit as the command line shows them.

const CENTS_BELOW = 20;
const BYTES_PER_TB = 1e12;
const BYTES_PER_TIB = 2 ** 40;

/** Rounded to decimals, ties to the even digit; toFixed alone takes the larger one. */
function fixed(value, digits) {
  const size = Math.abs(value);
  let text = size.toFixed(digits);
  const [, tail = ""] = size.toFixed(Math.min(100, digits + 60)).split(".");
  const rest = tail.slice(digits);
  const isTie = /^50*$/.test(rest);
  if (isTie && Number(text.at(-1)) % 2 === 1) {
    const below = size.toFixed(Math.min(100, digits + 60));
    text = digits ? below.slice(0, below.indexOf(".") + 1 + digits) : below.split(".")[0];
  }
  return value < 0 && Number(text) !== 0 ? `-${text}` : text;
}

function number(value, digits = 0) {
  if (value === null || value === undefined || Number.isNaN(value)) return "unknown";
  if (!Number.isFinite(value)) return value > 0 ? "unlimited" : "none";
  const text = fixed(value, digits);
  if (Math.abs(value) < 10000) return text;
  const [whole, part] = text.split(".");
  const grouped = whole.replace(/\B(?=(\d{3})+$)/g, " ");
  return part ? `${grouped}.${part}` : grouped;
}

function money(value) {
  const cents = Math.abs(value) < CENTS_BELOW && Number(fixed(value * 100, 0)) % 100 !== 0;
  return `${number(value, cents ? 2 : 0)} ${page.currency}`.trimEnd();
}

const exactMoney = (value) => number(value, 2);
const watts = (value) => `${number(value, 1)} W`;
const rate = (value) => `${number(value)} MB/s`;
const share = (fraction) => {
  const percent = fraction * 100;
  return `${number(percent, Math.abs(percent) > 0 && Math.abs(percent) < 9.95 ? 1 : 0)} %`;
};
const counted = (n, word) => (n === 1 ? `${n} ${word}` : `${n} ${word}s`);
const inTib = (tb) => (tb * BYTES_PER_TB) / BYTES_PER_TIB;
const places = (value) => (Math.abs(value) >= 99.95 ? 0 : Math.abs(value) >= 9.995 ? 1 : 2);

/** A capacity in the unit that the page is set to. */
function capacity(tb, unit = state.unit) {
  const value = unit === "TiB" ? inTib(tb) : tb;
  return `${number(value, places(value))} ${unit}`;
}
