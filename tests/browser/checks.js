// Questions to a page. Each gives a list of sentences about what is wrong, empty where all is well.
// A sentence names the element by what a person would search for.

const seen = element => {
  const style = getComputedStyle(element);
  return element.getClientRects().length > 0 && style.visibility !== "hidden" && Number(style.opacity) > 0;
};

const named = element => {
  const id = element.id ? "#" + element.id : "";
  const kind = element.getAttribute("class") ? "." + element.getAttribute("class").trim().replace(/\s+/g, ".") : "";
  const text = (element.textContent || "").trim().replace(/\s+/g, " ").slice(0, 50);
  return `<${element.tagName.toLowerCase()}${id}${kind}> "${text}"`;
};

// One h1, and no level left out on the way down.
const headings = () => {
  const wrong = [];
  const all = [...document.querySelectorAll("h1, h2, h3, h4, h5, h6")].filter(seen);
  const ones = all.filter(heading => heading.tagName === "H1").length;
  if (ones !== 1) wrong.push(`${ones} headings h1, expected one`);
  let before = 0;
  for (const heading of all) {
    const level = Number(heading.tagName[1]);
    if (level > before + 1) wrong.push(`${named(heading)} follows a heading of level ${before}`);
    if (!heading.textContent.trim()) wrong.push(`${named(heading)} says nothing`);
    before = level;
  }
  return wrong;
};

// Nothing runs, nothing is fetched. Links go within the page (`#top` is its beginning), or to a JSON file beside it.
const selfContained = () => {
  const wrong = [];
  for (const element of document.querySelectorAll("script, link, iframe, object, embed, base")) {
    wrong.push(`${named(element)} is there`);
  }
  const inside = value => value.startsWith("#") || value.startsWith("data:");
  for (const element of document.querySelectorAll("*")) {
    for (const { name, value } of element.attributes) {
      if (name.startsWith("on")) wrong.push(`${named(element)} has ${name}`);
      if (["src", "srcset", "data", "poster", "action"].includes(name) && !inside(value)) {
        wrong.push(`${named(element)} has ${name}=${value}`);
      }
      const outward = name === "href" || name === "xlink:href";
      const beside = element.tagName === "A" && /^[^:?#]+\.json$/.test(value) && !value.startsWith("/");
      if (outward && !inside(value) && !beside) wrong.push(`${named(element)} leads to ${value}`);
      for (const [, target] of value.matchAll(/url\(\s*["']?([^"')]*)/g)) {
        if (!inside(target)) wrong.push(`${named(element)} has ${name} with url(${target})`);
      }
    }
  }
  for (const style of document.querySelectorAll("style")) {
    if (/@import/.test(style.textContent)) wrong.push("a style imports");
    for (const [, target] of style.textContent.matchAll(/url\(\s*["']?([^"')]*)/g)) {
      if (!inside(target)) wrong.push(`a style has url(${target})`);
    }
  }
  for (const link of document.querySelectorAll("a[href^='#']")) {
    const target = decodeURIComponent(link.getAttribute("href").slice(1));
    if (target && target !== "top" && !document.getElementById(target)) wrong.push(`${named(link)} leads to #${target}, which is not there`);
  }
  const known = new Set();
  for (const element of document.querySelectorAll("[id]")) {
    if (known.has(element.id)) wrong.push(`#${element.id} is there twice`);
    known.add(element.id);
  }
  return wrong;
};

const tables = () => {
  const wrong = [];
  for (const table of document.querySelectorAll("table")) {
    const caption = table.querySelector(":scope > caption");
    if (!caption || !caption.textContent.trim()) wrong.push(`${named(table)} has no caption`);
    const heads = [...table.querySelectorAll("th")];
    if (heads.length === 0) wrong.push(`${named(table)} has no th`);
    for (const head of heads) {
      if (!["col", "row", "colgroup", "rowgroup"].includes(head.getAttribute("scope"))) {
        wrong.push(`${named(head)} in ${named(table)} has no scope`);
      }
    }
  }
  return wrong;
};

// Every figure is told in words too, and one drawing of it is to be seen.
const figures = () => {
  const wrong = [];
  const all = [...document.querySelectorAll("figure")];
  if (all.length === 0) wrong.push("no figure");
  for (const figure of all) {
    const caption = figure.querySelector("figcaption");
    if (!caption || !caption.textContent.trim()) wrong.push(`${named(figure)} has no figcaption`);
    const drawings = [...figure.querySelectorAll("svg")];
    if (drawings.length === 0) wrong.push(`${named(figure)} has no svg`);
    for (const svg of drawings) {
      if (svg.getAttribute("role") !== "img") wrong.push(`an svg of ${named(figure)} has not role img`);
      for (const part of ["title", "desc"]) {
        const words = svg.querySelector(`:scope > ${part}`);
        if (!words || !words.textContent.trim()) wrong.push(`an svg of ${named(figure)} has no ${part}`);
      }
    }
    const visible = drawings.filter(seen).length;
    if (drawings.length > 0 && visible !== 1) {
      wrong.push(`${visible} of ${drawings.length} svg of ${named(figure)} to be seen, expected one`);
    }
  }
  return wrong;
};

// Wider than the window: the page scrolls sideways, and which elements stick out.
const wide = () => {
  const page = document.scrollingElement;
  if (page.scrollWidth <= innerWidth) return [];
  const out = [...document.querySelectorAll("body *")].filter(element => {
    const right = element.getBoundingClientRect().right + scrollX;
    return seen(element) && right > innerWidth + 0.5;
  });
  return [`the page is ${page.scrollWidth} px wide in a window of ${innerWidth}`,
    ...out.slice(0, 5).map(element => `${named(element)} sticks out`)];
};

// Ink of a text as a box on the screen, turned as the text is. Its line box is higher than any letter of
// it; where the text is one line, what the letters really take is asked of a canvas.
const paper = document.createElement("canvas").getContext("2d");
const ink = text => {
  const box = text.getBBox();
  let [top, bottom] = [box.y, box.y + box.height];
  if (text.querySelector("tspan") === null && text.getNumberOfChars() > 0) {
    const style = getComputedStyle(text);
    paper.font = `${style.fontStyle} ${style.fontWeight} ${style.fontSize} ${style.fontFamily}`;
    const letters = paper.measureText(text.textContent);
    const base = text.getStartPositionOfChar(0).y;
    top = base - letters.actualBoundingBoxAscent;
    bottom = base + letters.actualBoundingBoxDescent;
  }
  const turn = text.getScreenCTM();
  const corners = [[box.x, top], [box.x + box.width, top], [box.x + box.width, bottom], [box.x, bottom]];
  return corners.map(([x, y]) => new DOMPoint(x, y).matrixTransform(turn));
};

// How far two turned boxes reach into each other, px: the least over the directions of their sides.
const overlap = (a, b) => {
  let least = Infinity;
  for (const box of [a, b]) {
    for (const [from, to] of [[0, 1], [1, 2]]) {
      const [x, y] = [box[to].x - box[from].x, box[to].y - box[from].y];
      const length = Math.hypot(x, y);
      if (length === 0) return 0;
      const along = corner => (corner.x * x + corner.y * y) / length;
      const [p, q] = [a.map(along), b.map(along)];
      least = Math.min(least, Math.max(...p) - Math.min(...q), Math.max(...q) - Math.min(...p));
    }
  }
  return least;
};

// Words of a drawing stand beside each other and within it, to 1 px.
const words = () => {
  const wrong = [];
  for (const svg of [...document.querySelectorAll("svg")].filter(seen)) {
    const about = svg.querySelector(":scope > title") || svg;
    const frame = svg.getBoundingClientRect();
    const texts = [...svg.querySelectorAll("text")].filter(text => seen(text) && text.textContent.trim());
    const boxes = texts.map(ink);
    boxes.forEach((box, k) => {
      const name = `"${texts[k].textContent}" in the drawing ${named(about)}`;
      const out = Math.max(...box.map(corner => Math.max(
        frame.left - corner.x, corner.x - frame.right, frame.top - corner.y, corner.y - frame.bottom)));
      if (!(out <= 1)) wrong.push(`${name} sticks out by ${out.toFixed(1)} px`);
      for (let other = 0; other < k; other += 1) {
        const deep = overlap(box, boxes[other]);
        if (!(deep <= 1)) wrong.push(`${name} lies on "${texts[other].textContent}" by ${deep.toFixed(1)} px`);
      }
    });
  }
  return wrong;
};

// Margins of the paper as the page wants them, mm: top, right, bottom, left.
const margins = () => {
  const mm = { mm: 1, cm: 10, in: 25.4, px: 25.4 / 96, pt: 25.4 / 72 };
  for (const sheet of document.styleSheets) {
    for (const rule of sheet.cssRules) {
      if (!(rule instanceof CSSPageRule)) continue;
      return ["top", "right", "bottom", "left"].map(side => {
        const [, number, unit] = rule.style.getPropertyValue(`margin-${side}`).match(/^([\d.]+)([a-z]*)$/);
        return Number(number) * (mm[unit] ?? 1);
      });
    }
  }
  return [10, 10, 10, 10];
};

// Figures higher than what is left of the paper, px.
const tall = height => [...document.querySelectorAll("figure")].filter(seen).flatMap(figure => {
  const high = figure.getBoundingClientRect().height;
  const broken = getComputedStyle(figure).breakInside !== "avoid";
  return [
    ...(high > height ? [`${named(figure)} is ${high.toFixed(0)} px high on paper of ${height.toFixed(0)}`] : []),
    ...(broken ? [`${named(figure)} may be cut by the end of a page`] : []),
  ];
});
