/* The search of this site: reads a question, and ranks what the index has. Loaded when a reader opens it. */

// what people write for a unit, and how many of the unit that the tables print it is
const UNITS = {
  a: ["A", 1], amp: ["A", 1], ampere: ["A", 1], ma: ["A", 0.001],
  v: ["V", 1], volt: ["V", 1], mv: ["V", 0.001],
  w: ["W", 1], watt: ["W", 1],
  ah: ["Ah", 1], mah: ["Ah", 0.001],
  ohm: ["Ω", 1], mohm: ["Ω", 0.001], milliohm: ["Ω", 0.001],
  c: ["°C", 1], celsius: ["°C", 1], "%": ["%", 1], percent: ["%", 1],
  awg: ["AWG", 1], gauge: ["AWG", 1], ga: ["AWG", 1],
  second: ["s", 1], sec: ["s", 1], s: ["s", 1],
  cell: ["cells", 1], battery: ["cells", 1], batterie: ["cells", 1],
};
const COUNTS = { one: 1, single: 1, two: 2, dual: 2, double: 2, three: 3, triple: 3, four: 4, quad: 4 };
// how much it counts that everyday words name an entry, or that a table has a number as a row, between two
// rows, as a column, as a row without its unit, beyond its rows, or prints its unit
const TOLD = 60, EXACT = 40, BETWEEN = 30, LABEL = 22, BARE = 18, OUTSIDE = 6, PRINTED = 6;
const SHOWN = 8;

// "charge", "charged" and "charging" are one word here, and so are "battery" and "batteries"
export const stem = (word) => {
  if (/\d/.test(word)) return word;
  const short = word.replace(/(?:ies|ings?|edly|ed|es|s|al|e|y)$/, "");
  return short.length >= 3 ? short : word;
};

const layoutOf = (text) => {
  const [, series, parallel] = /^(\d+)s(?:(\d+)p)?$/.exec(text) ?? [];
  if (series) return { series: +series, parallel: parallel && +parallel };
  const alone = /^(\d+)p$/.exec(text);
  return alone && { parallel: +alone[1] };
};

// "25 A" is a number with a unit, "2S2P" and "two in parallel" are layouts, "dual" is a count of cells
const NUMBER = /^(\d+(?:\.\d+)?)$/;
// a number that ends in a letter of no unit is the name of a cell: "30z" says nothing of 30 A
const PART = /\d+[befgi-lnoqrtuyz](?![a-z\d])|\d+s\d+p|\d+[sp](?![a-z\d])|\d+(?:\.\d+)?|[a-z][a-z0-9]*|%/g;

const unitOf = (word = "") => UNITS[word] ?? UNITS[word.replace(/s$/, "")];

/** Return the words and the numbers of a question. */
export const read = (question) => {
  const parts = question
    .toLowerCase()
    .replace(/[’']/g, "")
    .replace(/mω/g, " mohm ").replace(/ω/g, " ohm ").replace(/°/g, " ")
    .replace(/(\d),(?=\d)/g, "$1.")
    .replace(/(^|[^\d])\.(?=\d)/g, "$10.")
    .match(PART) ?? [];
  const words = [], numbers = [];
  while (parts.length) {
    const part = parts.shift();
    const count = COUNTS[part], layout = layoutOf(part);
    if (layout) {
      numbers.push({ layout });
    } else if (count || NUMBER.test(part)) {
      const [unit, factor] = unitOf(parts[0]) ?? [];
      if (unit && (!count || unit === "cells")) parts.shift();
      if (!count && unit !== "cells") {
        numbers.push({ value: Number((part * (factor ?? 1)).toPrecision(9)), unit, said: part });
        continue;
      }
      const value = count ?? Number(part);
      const at = parts[0] === "in" ? 1 : 0;
      if (parts[at] === "series" || parts[at] === "parallel") {
        numbers.push({ layout: { [parts[at]]: value } });
        parts.splice(0, at + 1);
      } else {
        numbers.push({ value, unit: "cells" });
      }
    } else {
      words.push(part);
    }
  }
  return { words, numbers };
};

const near = (one, other) => Math.abs(one - other) <= 1e-9 * Math.max(1, Math.abs(one));

// whether a row or a column is what a number asks for
const holds = (unit, value, number) => {
  if (unit === "layout") {
    const [, series, parallel] = /(\d+)S(\d+)P/.exec(value).map(Number);
    if (number.unit === "cells") return series * parallel === number.value;
    const { series: s = 1, parallel: p = 1 } = number.layout ?? {};
    return Boolean(number.layout) && s === series && p === parallel;
  }
  if (number.layout) return false;
  if (typeof value === "string") return value === number.said;
  return near(value, number.value) && (number.unit ?? unit) === unit;
};

// the row beside a number that is not printed, on the side that is careful for the reader
const beside = ({ values, careful }, wanted) => {
  const lower = careful === "lower";
  const left = values.filter((value) => (lower ? value < wanted : value > wanted));
  return values.indexOf(lower ? Math.max(...left) : Math.min(...left));
};

export class Search {
  constructor(index) {
    this.index = index;
    this.stop = new Set(index.stop);
    this.stems = new Map();
    this.known = new Map();
    for (const word of Object.keys(index.words)) {
      const short = stem(word);
      if (!this.stems.has(short)) this.stems.set(short, []);
      this.stems.get(short).push(word);
    }
    // sizes such as 18650: read as numbers, told like words
    this.told = new Map(index.said.map(([said, , entries]) => [said, entries]));
    const stems = (text) => this.stemsOf(read(text).words);
    this.said = index.said
      .map(([said, names, entries]) => ({ said: stems(said), names: names.map(stems), entries }))
      .filter(({ said }) => said.length);
  }

  stemsOf(words) {
    return words.filter((word) => !this.stop.has(word)).map(stem);
  }

  /** Return how well each entry fits a word: by the word itself, or by one that it begins. */
  ofWord(word) {
    if (!this.known.has(word)) this.known.set(word, this.lookUp(word));
    return this.known.get(word);
  }

  lookUp(word) {
    const scores = new Map();
    const own = this.stems.get(word) ?? [];
    const longer = word.length < 3 ? [] : [...this.stems.keys()]
      .filter((one) => one !== word && one.startsWith(word))
      .flatMap((one) => this.stems.get(one));
    const put = (words, factor) => {
      for (const one of words) {
        const steps = this.index.words[one];
        for (let i = 0, entry = 0; i < steps.length; i += 2) {
          entry += steps[i];
          scores.set(entry, Math.max(scores.get(entry) ?? 0, steps[i + 1] * factor));
        }
      }
    };
    put(own, 1);
    put(longer, 0.4);
    const rare = Math.log(1 + this.index.entries.length / (1 + scores.size));
    for (const [entry, score] of scores) scores.set(entry, score * rare);
    return scores;
  }

  /** Return how well each table fits a number: a row of it, a column, or the unit of its figures. */
  ofNumber(number) {
    const scores = new Map();
    const known = number.unit || number.layout;
    for (const table of this.index.tables) {
      const { entry, rows, columns, prints } = table;
      let score = prints.includes(number.unit) ? PRINTED : 0, row;
      const at = rows.values.findIndex((value) => holds(rows.unit, value, number));
      if (at >= 0) {
        score = known ? EXACT : BARE;
        // several layouts have as many cells
        if (number.unit !== "cells" || rows.unit === "cells") row = { table, at };
      } else if (number.unit && rows.unit === number.unit) {
        const within = Math.min(...rows.values) < number.value && number.value < Math.max(...rows.values);
        score = within ? BETWEEN : OUTSIDE;
        if (within && rows.careful) row = { table, at: beside(rows, number.value), beside: true };
      }
      if (columns.some(({ unit, values }) => values.some((value) => holds(unit, value, number)))) {
        score = Math.max(score, known ? LABEL : BARE / 2);
      }
      if (score) scores.set(entry, { score, row });
    }
    const { series = 1, parallel = 1 } = number.layout ?? {};
    const word = number.layout ? `${series}s${parallel}p` : number.unit ? "" : number.said;
    for (const [entry, score] of this.ofWord(word)) {
      if (score > (scores.get(entry)?.score ?? 0)) scores.set(entry, { score });
    }
    for (const entry of (!number.unit && this.told.get(number.said)) || []) scores.set(entry, { score: TOLD });
    return scores;
  }

  /** Return the best of what fits words as they stand, and what the proper words for them lead to. */
  ofPhrase(stems, known) {
    const scores = new Map();
    const put = (entry, score) => scores.set(entry, Math.max(scores.get(entry) ?? 0, score));
    for (const phrase of [stems, ...known.flatMap(({ names }) => names)]) {
      const found = phrase.map((word) => this.ofWord(word));
      for (const entry of found[0]?.keys() ?? []) {
        if (found.every((one) => one.has(entry))) {
          put(entry, found.reduce((sum, one) => sum + one.get(entry), 0) / found.length);
        }
      }
    }
    for (const { entries } of known) for (const entry of entries) put(entry, TOLD);
    return new Map([...scores].map(([entry, score]) => [entry, { score }]));
  }

  /** Return for each part of a question the entries that fit it. */
  parts({ words, numbers }) {
    const parts = numbers.map((number) => this.ofNumber(number));
    const stems = this.stemsOf(words);
    while (stems.length) {
      const known = this.said.filter(({ said }) => said.every((word, i) => stems[i] === word));
      const length = Math.max(1, ...known.map(({ said }) => said.length));
      const longest = known.filter(({ said }) => said.length === length);
      parts.push(this.ofPhrase(stems.splice(0, length), longest));
    }
    return parts;
  }

  /** Return the best results, one per page. */
  find(question) {
    const asked = read(question);
    const parts = this.parts(asked);
    const totals = new Map();
    for (const part of parts) {
      for (const [entry, { score, row }] of part) {
        const total = totals.get(entry) ?? { entry, score: 0, parts: 0 };
        total.score += score;
        total.parts += 1;
        total.row ??= row;
        totals.set(entry, total);
      }
    }
    const pages = new Map();
    for (const total of totals.values()) {
      const [title, url, context, boost] = this.index.entries[total.entry];
      const score = total.score * boost * (total.parts / parts.length) ** 2;
      const page = url.split("#")[0];
      if (score > (pages.get(page)?.score ?? 0)) pages.set(page, { title, url, context, score, ...rowOf(total.row, asked.numbers) });
    }
    return [...pages.values()].sort((one, other) => other.score - one.score).slice(0, SHOWN);
  }
}

/** Return the page of a row; and of one entry of it, if the question fixes its column. */
const rowOf = (row, numbers) => {
  if (!row) return {};
  const { rows, columns, pages } = row.table;
  const label = rows.labels[row.at], folder = `${rows.anchors[row.at]}/`;
  const places = columns.map(({ unit, values }) =>
    values.flatMap((value, i) => (numbers.some((number) => holds(unit, value, number)) ? [i] : [])));
  const known = places.every((found) => found.length === 1);
  const column = known ? places.reduce((at, [i], axis) => at * columns[axis].values.length + i, 0) : -1;
  const [anchor, name] = pages[column] ?? [];
  const said = name ? `Row ${label}, ${name}` : `Row ${label}`;
  return {
    folder: anchor ? `${folder}${anchor}/` : folder,
    row: row.beside ? `${said}: the nearest row on the careful side` : said,
  };
};

const HINT = "Type a number with its unit, a layout, or a word: 25 A, 80 W, 0.15 ohm, 2S2P, sag.";
let loading;

const element = (name, properties, ...children) => {
  const made = Object.assign(document.createElement(name), properties);
  made.append(...children);
  return made;
};

const item = ({ title, url, folder = "", context, row }, index) =>
  element("li", {}, element("a", { href: new URL(url + folder, new URL(".", index)).href },
    element("b", { textContent: title }),
    ...(row ? [element("span", { className: "pc-search__row", textContent: row })] : []),
    element("span", { textContent: context }),
  ));

const wire = (dialog, index, search) => {
  const input = dialog.querySelector("input"), list = dialog.querySelector("ol");
  const status = dialog.querySelector("[role=status]");
  const show = () => {
    const found = search.find(input.value);
    list.replaceChildren(...found.map((one) => item(one, index)));
    status.textContent = found.length ? `${found.length === 1 ? "1 page" : `${found.length} pages`}, the best first`
      : input.value.trim() ? `Nothing found for “${input.value.trim()}”. ${HINT}` : HINT;
  };
  input.addEventListener("input", show);
  dialog.querySelector("form").addEventListener("submit", (event) => {
    event.preventDefault();
    list.querySelector("a")?.click();
  });
  dialog.querySelector("button").addEventListener("click", () => dialog.close());
  dialog.addEventListener("click", (event) => {
    // the ground around the dialog, or a result, which may be on this very page
    if (event.target === dialog || event.target.closest("ol a")) dialog.close();
  });
  dialog.addEventListener("keydown", (event) => {
    const by = { ArrowDown: 1, ArrowUp: -1 }[event.key];
    if (!by) return;
    event.preventDefault();
    const stops = [input, ...list.querySelectorAll("a")];
    stops[stops.indexOf(document.activeElement) + by]?.focus();
  });
  show();
};

/** Make the dialog search, once the index is there; what was typed before is searched for then. */
export const start = (dialog) => {
  const index = new URL(dialog.dataset.index, document.baseURI);
  loading ??= fetch(index).then((answer) => answer.json()).then((found) => wire(dialog, index, new Search(found)))
    .catch((fault) => { loading = undefined; throw fault; });
  return loading;
};
