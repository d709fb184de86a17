/* Tables: only the columns and marks that the reader chose, the linked row, a head that stays in view. */
(() => {
  "use strict";

  const regions = [...document.querySelectorAll(".pc-table")];
  if (!regions.length) return;
  const header = document.querySelector(".md-header");
  const narrow = matchMedia("(max-width: 44.984375em)");

  const made = (tag, attributes, ...children) => {
    const one = document.createElement(tag);
    for (const [name, value] of Object.entries(attributes)) one.setAttribute(name, value);
    one.append(...children);
    return one;
  };

  /* ---- a head that stays in view ---- */

  // A region that scrolls sideways holds on to its sticky head, so such a head is moved by hand.
  const follow = () => {
    const top = header.offsetHeight;
    for (const region of regions) {
      const grid = region.querySelector("table");
      const head = grid.tHead;
      const box = grid.getBoundingClientRect();
      const above = grid.caption?.offsetHeight ?? 0;
      const from = top - box.top - above;
      const room = box.height - above - 2 * head.offsetHeight;
      const by = region.classList.contains("pc-fits") ? 0 : Math.min(from, room);
      head.style.transform = by > 0 ? `translateY(${by}px)` : "";
    }
  };
  const fit = () => {
    for (const region of regions) {
      const grid = region.querySelector("table");
      region.classList.remove("pc-fits");
      const names = grid.tBodies[0].querySelector("th");
      if (names?.offsetWidth) region.style.setProperty("--pc-names", `${names.offsetWidth}px`);
      const fits = grid.offsetWidth <= region.clientWidth + 1;
      region.classList.toggle("pc-fits", fits);
      // nothing to scroll, nothing to reach by keyboard
      region.tabIndex = fits ? -1 : 0;
    }
    follow();
  };
  let waiting = false;
  addEventListener("scroll", () => {
    if (waiting) return;
    waiting = true;
    requestAnimationFrame(() => { waiting = false; follow(); });
  }, { passive: true });
  addEventListener("resize", fit);

  /* ---- the picker ---- */

  const form = document.querySelector(".pc-picker");
  const pick = form && (() => {
    const grid = document.getElementById(form.dataset.table);
    const columns = JSON.parse(form.dataset.columns);
    const prints = Number(form.dataset.prints);
    const ratings = JSON.parse(form.dataset.ratings ?? "[]");
    const picked = form.querySelector(".pc-picked");
    const selects = [...form.querySelectorAll("select[name]")];
    const figures = selects.find((select) => select.name === "figure");
    const axes = selects.filter((select) => select.dataset.level);
    const outer = axes.find((select) => select.name === form.dataset.outer);
    // on a phone these come first: no figure is shown for a pack that nobody chose
    const links = document.querySelector(".pc-only");
    const asks = Boolean(links?.matches(".pc-asks"));
    const byRating = selects.find((select) => select.name === "cell_rating_a");
    const byRow = form.querySelector("[data-rows]");
    const entries = form.dataset.entries?.split(" ") ?? [];
    let seen = [];
    let drawn = columns.flatMap(() => Array(prints).fill(true)).join();
    const legend = document.getElementById(`l-${grid.id.slice(2)}`);
    const conditions = grid.querySelector(".pc-conditions");
    // what a printed sheet says at its foot, and which side of the paper it needs
    const foot = document.querySelector(".pc-colophon__holds");
    const printedFrom = document.querySelector(".pc-colophon__address");
    const address = printedFrom?.textContent;
    const landscape = [...document.head.querySelectorAll("style")].find(
      (one) => one.textContent.includes("size: landscape"));
    // the example above the table, for each column: one of another layout would be taken for the reader's own
    const reading = document.querySelector(".pc-reading");
    const readings = JSON.parse(form.dataset.readings);
    const before = { legend: legend?.innerHTML, conditions: conditions?.textContent };

    // every cell as it was built: what is not chosen leaves the page, so it is neither printed nor read aloud
    const head = [...grid.tHead.rows].map((line, i) => {
      let at = 0;
      const cells = [...line.cells].slice(i ? 0 : 1).map((cell) => {
        const from = at;
        at += cell.colSpan;
        return { cell, from, to: at };
      });
      return { line, corner: i ? [] : [line.cells[0]], cells };
    });
    const rows = [...grid.tBodies[0].rows].map((row) => {
      const [name, ...cells] = row.cells;
      return { row, name, cells: cells.map((cell) => ({ cell, html: cell.innerHTML, look: cell.className })) };
    });

    // what the address asks for; a value that the table does not have is kept, and said
    const asked = () => {
      const query = new URLSearchParams(location.search);
      return Object.fromEntries(selects.map((select) => [select.name, query.get(select.name) ?? ""]));
    };
    // the part of an address that leads to what is shown now
    const asQuery = () => {
      const given = new URLSearchParams(Object.entries(asked()).filter(([, value]) => value));
      return given.size ? `?${given}` : "";
    };
    const optionOf = (select, value) => [...select.options].find(
      (option) => option.value && option.value.toLowerCase() === value.toLowerCase().trim());
    const labelOf = (select) => select.closest("label").firstChild.textContent.trim();

    // what the marks that are left say, where nothing else is judged
    const inView = () => {
      const said = new Map();
      for (const { cells } of rows) {
        for (const { cell } of cells) {
          const one = cell.querySelector(".pc-mark");
          if (!one) continue;
          const look = ["pc-over", "pc-little"].find((name) => cell.classList.contains(name)) ?? "";
          said.set(one.title, made("span", { class: look }, `${one.textContent} ${one.title}`));
        }
      }
      return [...said.values()].map((one) => one.outerHTML).join(". ") + ".";
    };

    let asBuilt = true;
    const marked = (rating) => {
      if (!rating && asBuilt) return;
      asBuilt = !rating;
      const chosen = ratings.find((one) => one.rating === rating);
      const replaces = form.dataset.replaces === "true";
      for (const { cells } of rows) {
        cells.forEach((one, i) => {
          one.cell.innerHTML = one.html;
          one.cell.className = one.look;
          if (!rating || i % prints !== Number(form.dataset.marked)) return;
          const { beyond } = one.cell.dataset;
          if (beyond && replaces) {
            // over a limit that no rating changes
            const kept = one.cell.querySelector(".pc-mark");
            kept.title = kept.ariaLabel = beyond;
            return;
          }
          if (!replaces && one.look.split(" ").includes("pc-over")) return;
          const figure = parseFloat(one.cell.firstChild?.data);
          if (Number.isNaN(figure)) return;
          one.cell.querySelector(".pc-mark")?.remove();
          one.cell.classList.remove("pc-over", "pc-little");
          const verdict = !chosen ? "not_judged"
            : figure <= chosen.within ? "within_limit"
            : figure <= chosen.little ? "little_headroom" : "over_limit";
          const [look, sign, words] = verdict === "not_judged"
            ? ["", "?", "not judged"] : chosen.marks[verdict] ?? [];
          if (!sign) return;
          if (look) one.cell.classList.add(look);
          one.cell.append(" ", made(
            "span", { class: "pc-mark", role: "img", "aria-label": words, title: words }, sign));
        });
      }
      const said = chosen?.conditions ?? (rating && form.dataset.replaces === "true"
        ? before.conditions?.replace(/cells rated [\d.]+ A/, "cells of a rating that is not in the list")
        : before.conditions);
      if (conditions) conditions.textContent = said;
      if (foot) foot.textContent = said;
      if (legend) legend.innerHTML = !rating ? before.legend : chosen?.legend ?? inView();
    };

    // what a phone shows until its reader chooses, and whether it waits for that with its figures
    let unchosen = "";
    let waiting = false;
    const draw = ({ all = false } = {}) => {
      const state = asked();
      const said = [];
      const unknown = [];
      let columnsShown = columns.map(() => true);
      let printsShown = Array(prints).fill(true);
      let waitsForChoice = "";
      unchosen = "";
      waiting = false;
      const choiceOf = (select) => {
        const wanted = state[select.name];
        const option = optionOf(select, wanted);
        if (wanted && wanted !== "all" && !option) {
          unknown.push(`This table has nothing for ${labelOf(select).toLowerCase()} ${wanted}.`);
        }
        return option ?? (wanted === "all" && "all");
      };
      // a table that is too wide opens on its most cautious part; one group of columns fits a desk
      const fitsDesk = Boolean(outer && state[outer.name]);
      const take = (select, choice, told, fitsPhone) => {
        const whole = all || (narrow.matches ? fitsPhone : fitsDesk);
        const opens = !choice && !whole && optionOf(select, select.dataset.opens ?? "");
        const option = choice === "all" ? null : choice || opens || null;
        select.value = option?.value ?? "";
        select.options[0].textContent = "all";
        if (option) said.push(opens ? told(option.label) : option.label);
        if (opens) waitsForChoice = "Choose “all” above to see the rest.";
        return option?.dataset.among.split(" ");
      };
      axes.forEach((select) => {
        const level = Number(select.dataset.level);
        const count = new Set(columns.map((column) => column[level])).size;
        const choice = choiceOf(select);
        let among = take(select, choice, (label) => `${label}, the most cautious of ${count}`, true);
        if (!choice && select === outer && narrow.matches && !all) {
          const [whole, first] = select.options;
          whole.textContent = "choose yours";
          if (asks) {
            waiting = true;
          } else {
            among = [first.dataset.among];
            said.push(`${first.label}, the most cautious of ${count}`);
            unchosen = first.label;
            waitsForChoice = `Choose yours above: ${labelOf(select).toLowerCase()}.`;
          }
        }
        if (among) columnsShown = columnsShown.map((shown, i) => shown && among.includes(columns[i][level]));
      });
      if (figures) {
        const among = take(figures, choiceOf(figures), (label) => `one of ${prints} figures (${label})`,
          Number(grid.style.getPropertyValue("--pc-group")) <= 4);
        if (among) printsShown = printsShown.map((_, i) => among.includes(String(i)));
      }
      if (links) links.hidden = !waiting;
      form.hidden = waiting && !unknown.length;
      const shown = columnsShown.flatMap((one) => printsShown.map((print) => one && print));
      // most readers choose nothing: the page is then as it was built
      if (shown.join() !== drawn) {
        drawn = shown.join();
        for (const { line, corner, cells } of head) {
          const left = cells.filter((one) => {
            one.cell.colSpan = shown.slice(one.from, one.to).filter(Boolean).length || 1;
            return shown.slice(one.from, one.to).some(Boolean);
          });
          line.replaceChildren(...corner, ...left.map((one) => one.cell));
        }
        for (const { row, name, cells } of rows) {
          row.replaceChildren(name, ...cells.filter((_, i) => shown[i]).map((one) => one.cell));
        }
      }
      seen = columns.flatMap((column, i) => columnsShown[i] ? [i] : []);
      const worked = Number(form.dataset.worked);
      // where nothing was chosen, only layouts can be taken for one another
      const asIs = seen.includes(worked) || unchosen && outer.name !== "layout";
      reading.innerHTML = `<strong>How to read it.</strong> ${readings[asIs ? worked : seen[0] ?? worked]}`;
      // its verdict is for the rating that the page was built with
      reading.hidden = waiting || Boolean(state.cell_rating_a) && form.dataset.replaces === "true";
      const few = shown.filter(Boolean).length <= 6;
      grid.parentElement.classList.toggle("pc-few", few);
      if (landscape) landscape.media = few ? "not all" : "print";
      if (byRating) {
        const rating = state.cell_rating_a;
        const option = optionOf(byRating, rating);
        byRating.value = option?.value ?? "";
        marked(option?.value ?? rating);
        if (option) said.push(`marks for cells rated ${option.label}`);
        else if (rating) {
          unknown.push(`This table has no marks for cells rated ${rating} A, so nothing is judged. Choose the next lower rating.`);
        }
      }
      if (printedFrom) printedFrom.textContent = address + asQuery();
      picked.textContent = [
        said.length ? `Shown: ${said.join(", ")}.` : "",
        waitsForChoice,
        ...unknown,
      ].filter(Boolean).join(" ");
      fit();
    };

    form.addEventListener("change", (event) => {
      if (event.target === byRow) {
        if (byRow.value) location.hash = byRow.value;
        return;
      }
      const { name, value, dataset } = event.target;
      history.replaceState(history.state, "", addressWith(name, value || dataset.opens && "all") + location.hash);
      redraw();
    });
    form.addEventListener("submit", (event) => event.preventDefault());
    const addressWith = (name, value) => {
      const query = new URLSearchParams(location.search);
      if (value) query.set(name, value);
      else query.delete(name);
      return location.pathname + (query.size ? `?${query}` : "");
    };
    // the links are for readers without script; with one they choose in the address, and Back leads to them again
    links?.addEventListener("click", (event) => {
      const link = event.target.closest("a");
      if (!link || !outer) return;
      event.preventDefault();
      history.pushState(null, "", addressWith(outer.name, link.dataset.choice) + location.hash);
      redraw();
      if (!rowOf(fragment())) form.scrollIntoView();
      grid.parentElement.focus({ preventScroll: true });
      grid.parentElement.scrollLeft = 0;
    });
    // a link that someone copied without script still shows what it says
    const only = links && [...links.querySelectorAll("a")].find((link) => link.hash === location.hash);
    if (only && outer) history.replaceState(null, "", addressWith(outer.name, only.dataset.choice));
    const redraw = () => {
      const waited = waiting;
      draw();
      if (waited === waiting) mark();
      else showRow();
    };
    narrow.addEventListener("change", redraw);
    addEventListener("popstate", redraw);
    addEventListener("beforeprint", () => draw({ all: true }));
    addEventListener("afterprint", () => draw());
    draw();
    return {
      byRow,
      // what the reply and the pages of a row say of its marks is for the rating that the page was built with
      remarked: () => Boolean(asked().cell_rating_a) && form.dataset.replaces === "true",
      // the page of a row stands for the rating that it was built with
      link: (row) => asked().cell_rating_a && row.closest("table") === grid
        ? `${location.origin}${location.pathname}${asQuery()}#${row.id}` : "",
      unchosen: (row) => row.closest("table") === grid ? unchosen : "",
      waits: (row) => waiting && row.closest("table") === grid,
      // the pages of the figures of a row, if few are in view
      pages: (row) => (entries.length && row.closest("table") === grid && seen.length <= 3 ? seen : []).map((i) => ({
        text: axes.map((select) => [...select.options].find(
          (one) => one.value === columns[i][Number(select.dataset.level)])?.label).join(", "),
        href: `${row.querySelector(".pc-anchor").href}${entries[i]}/`,
      })),
    };
  })();

  /* ---- the linked row ---- */

  const rowOf = (name) => {
    const row = document.getElementById(name);
    return row?.matches(".pc-grid tbody tr") ? row : null;
  };
  // the row itself, one that differs in capitals only, or the next one on the careful side
  const nearest = (name) => {
    const rows = [...document.querySelectorAll(".pc-grid[data-careful] tbody tr[id]")];
    const wanted = name.toLowerCase().replace(",", ".");
    const same = rows.find((row) => row.id.toLowerCase() === wanted);
    if (same) return { row: same };
    const [, number, unit] = /^(\d+(?:\.\d+)?)(-[a-z-]+)?$/.exec(wanted) ?? [];
    if (number === undefined) return {};
    const alike = rows.filter((row) => row.id.replace(/^[\d.]+/, "") === (unit ?? ""));
    if (!alike.length) return {};
    const careful = alike[0].closest("table").dataset.careful;
    const value = (row) => parseFloat(row.id);
    const beyond = alike.filter((row) => careful === "lower" ? value(row) <= number : value(row) >= number);
    const row = careful === "lower" ? beyond.at(-1) : careful === "higher" ? beyond[0] : undefined;
    const asked = `${number} ${(unit ?? "").slice(1).replace("ohm", "Ω").replace(/^(a|v|w)$/, (u) => u.toUpperCase()).replace("ah", "Ah")}`.trim();
    const ends = [alike[0], alike.at(-1)].map((one) => one.querySelector("th").textContent.trim());
    return {
      row,
      note: row
        ? `This table has no row for ${asked}. Toward caution, use the row ${row.querySelector("th").textContent.trim()}.`
        : `This table has no row for ${asked}. It goes from ${ends[0]} to ${ends[1]}.`,
    };
  };
  // pressing a figure marks its row, and shows what can be done with it
  document.addEventListener("click", (event) => {
    const row = event.target.closest(".pc-grid tbody tr[id]");
    if (row && !event.target.closest("a") && !String(getSelection())) {
      pressed = true;
      location.hash = row.id;
    }
  });
  let pressed = false;
  const note = made("p", { class: "pc-note", role: "status" });
  (document.querySelector(".pc-only") ?? regions[0]).before(note);

  const bar = made("tr", { class: "pc-bar" });
  const button = (look, text, name, row) => {
    const one = made("button", { type: "button", class: look, "aria-label": name }, text);
    one.dataset.row = row.id;
    return one;
  };
  function mark() {
    bar.remove();
    const row = rowOf(fragment());
    if (!row?.dataset.reply) return row;
    const label = row.querySelector("th").textContent.trim();
    const unchosen = pick?.unchosen(row);
    const controls = [button("pc-copy", "Copy link", `Copy link to the row ${label}`, row)];
    const link = pick?.link(row);
    if (link) controls[0].dataset.link = link;
    const remarked = pick?.remarked();
    if (!remarked) {
      controls.push(button("pc-reply", "Copy as a reply", `Copy as a reply: the row ${label}`, row));
    }
    for (const { text, href } of (!remarked && pick?.pages(row)) || []) {
      controls.push(made("a", { href, "aria-label": `Page of ${label}, ${text}` }, `Page of ${text}`));
    }
    bar.replaceChildren(made(
      "td", { colspan: row.cells.length },
      ...(note.dataset.row === row.id ? [made("p", {}, note.dataset.said)] : []),
      ...(unchosen ? [made("p", {}, `Here only for ${unchosen}. `,
        made("a", { href: row.querySelector(".pc-anchor").href }, `All figures of ${label}`))] : []),
      made("div", {}, ...controls)));
    row.after(bar);
    return row;
  }
  function fragment() {
    try {
      return decodeURIComponent(location.hash.slice(1));
    } catch {
      return "";  // such as #%E0%A4%A: a link that was cut off
    }
  }
  const showRow = () => {
    const name = fragment();
    const row = mark();
    if (pick?.byRow) pick.byRow.value = row ? row.id : "";
    if (row) {
      const link = row.querySelector(".pc-anchor");
      const said = note.dataset.row === row.id ? note.dataset.said : "";
      if (pick?.waits(row)) {
        note.replaceChildren(`${said} Choose below to see the row ${link.textContent}. Or open `.trimStart(),
          made("a", { href: link.href }, `all figures of ${link.textContent}`), ".");
        note.scrollIntoView({ block: "center" });
        return;
      }
      note.textContent = said;
      // a row that was pressed is in view
      if (!pressed) row.scrollIntoView({ block: "center" });
      pressed = false;
      return;
    }
    note.textContent = "";
    delete note.dataset.row;
    if (!name || document.getElementById(name)) return;
    const found = nearest(name);
    note.textContent = found.note ?? "";
    if (!found.row) return;
    // said once more beside the row, which is what the reader then sees
    if (found.note) Object.assign(note.dataset, { row: found.row.id, said: found.note });
    location.replace(`#${found.row.id}`);
  };
  addEventListener("load", () => { fit(); showRow(); });
  addEventListener("hashchange", showRow);
})();
