// Building nodes. Text always stays text; nothing here reads markup.

const SVG = "http://www.w3.org/2000/svg";

function fill(node, attributes, children) {
  for (const [name, value] of Object.entries(attributes)) {
    if (value === null || value === undefined || value === false) continue;
    if (name.startsWith("on")) node.addEventListener(name.slice(2), value);
    else node.setAttribute(name, value === true ? "" : value);
  }
  for (const child of children.flat(Infinity)) {
    if (child !== null && child !== undefined && child !== false) node.append(child);
  }
  return node;
}

/** An HTML element. */
const h = (tag, attributes = {}, ...children) =>
  fill(document.createElement(tag), attributes, children);

/** An SVG element. */
const s = (tag, attributes = {}, ...children) =>
  fill(document.createElementNS(SVG, tag), attributes, children);

/** A tree of shapes as nodes. */
const grown = ([tag, attributes, ...children]) =>
  s(tag, attributes, ...children.map((c) => (typeof c === "string" ? c : grown(c))));

const at = (id) => document.getElementById(id);
const put = (id, ...children) =>
  at(id).replaceChildren(...children.flat(Infinity).filter((child) => child !== null && child !== undefined && child !== false));

/** A table with a caption for those who cannot see what it belongs to. */
function table(caption, heads, rows, kind = "") {
  return h(
    "table",
    { class: kind },
    h("caption", { class: "unseen" }, caption),
    h("thead", {}, h("tr", {}, heads.map((head) => h("th", { scope: "col" }, head)))),
    h("tbody", {}, rows),
  );
}

/** A picture that scrolls sideways where the screen is too narrow for it. */
const scroller = (label, ...children) =>
  h("div", { class: "scroller", tabindex: "0", role: "group", "aria-label": label }, ...children);

/** What a browser remembers, or a plain object where it may not. */
const memory = (() => {
  try {
    localStorage.setItem("optibox", "1");
    localStorage.removeItem("optibox");
    return localStorage;
  } catch {
    const kept = {};
    return {
      getItem: (key) => kept[key] ?? null,
      setItem: (key, value) => { kept[key] = value; },
      isLost: true,
    };
  }
})();
