/* Copy a link to a table row, and what the theme's controls lack for keyboards and screen readers. */
(() => {
  "use strict";

  // keeps pages for when there is no network; browsers have it over https and on one's own machine only
  const root = new URL("..", document.currentScript.src);
  addEventListener("load", () => {
    navigator.serviceWorker?.register(new URL("sw.js", root)).catch(() => {});
  });

  const status = document.createElement("div");
  status.className = "pc-status";
  status.setAttribute("role", "status");
  document.body.append(status);

  let clearing;
  const say = (text) => {
    clearTimeout(clearing);
    status.textContent = text;
    clearing = setTimeout(() => { status.textContent = ""; }, 4000);
  };

  // without https there is no clipboard interface; the older command still works from a click
  const copyOldWay = (text) => {
    const field = document.createElement("textarea");
    field.value = text;
    field.style.position = "fixed";
    field.style.opacity = "0";
    const focused = document.activeElement;
    document.body.append(field);
    field.select();
    const done = document.execCommand("copy");
    field.remove();
    focused?.focus();
    return done;
  };

  const copy = async (text) => {
    try {
      await navigator.clipboard.writeText(text);
      return true;
    } catch {
      return copyOldWay(text);
    }
  };

  // the row's own page, or where it is in this one
  const linkOf = (row) => row.querySelector(".pc-anchor").href;

  // the page was built with the text of each row; only where the reader found it is not known before
  const replyOf = (row) => {
    const table = row.closest("table");
    return [table.dataset.before, row.dataset.reply, table.dataset.after, linkOf(row)].join("\n");
  };

  document.addEventListener("click", async (event) => {
    const button = event.target.closest(".pc-copy, .pc-reply");
    if (!button) return;
    const row = document.getElementById(button.dataset.row);
    if (button.classList.contains("pc-copy")) {
      const link = button.dataset.link ?? linkOf(row);
      say((await copy(link)) ? `Copied: ${link}` : `Copy this link: ${link}`);
    } else {
      const text = replyOf(row);
      say((await copy(text)) ? "Copied as a reply, with what it holds for, caution and link" : text);
    }
  });

  // without script a link is in the place of each button
  const buttonFor = (link) => {
    const button = document.createElement("button");
    button.type = "button";
    for (const { name, value } of link.attributes) {
      if (name !== "href") button.setAttribute(name, value);
    }
    button.append(...link.childNodes);
    link.replaceWith(button);
    return button;
  };

  // the theme keeps its drawer in a hidden box, which a keyboard cannot reach
  for (const link of document.querySelectorAll("[data-pc-box]")) {
    const box = document.getElementById(link.dataset.pcBox);
    const button = buttonFor(link);
    const tell = () => button.setAttribute("aria-expanded", String(box.checked));
    button.addEventListener("click", () => box.click());
    box.addEventListener("change", tell);
    tell();
  }
  const drawer = document.getElementById("__drawer");
  document.addEventListener("keydown", (event) => {
    if (event.key === "Escape" && drawer.checked) {
      drawer.click();
      document.querySelector('[data-pc-box="__drawer"]').focus();
    }
  });

  // the search is loaded when a reader opens it
  const search = document.getElementById("pc-search");
  buttonFor(document.querySelector("[data-pc-search]")).addEventListener("click", async () => {
    search.showModal();
    try {
      const { start } = await import(new URL(search.dataset.script, document.baseURI));
      await start(search);
    } catch {
      search.querySelector("[role=status]").textContent = "The search could not be loaded. Try again later.";
    }
  });

  // regions that scroll must be reachable by keyboard, and named
  const named = (region, name) => {
    region.tabIndex = 0;
    region.setAttribute("role", "region");
    region.setAttribute("aria-label", name);
  };
  const nameRegions = () => {
    const given = new Map();
    for (const region of document.querySelectorAll(".md-typeset__scrollwrap")) {
      if (region.scrollWidth <= region.clientWidth) continue;
      let heading = region.previousElementSibling;
      while (heading && !/^H[1-6]$/.test(heading.tagName)) heading = heading.previousElementSibling;
      const name = `Table: ${(heading?.firstChild?.textContent ?? document.title).trim()}`;
      given.set(name, (given.get(name) ?? 0) + 1);
      // a section may have two, and no two regions may be called the same
      named(region, given.get(name) > 1 ? `${name}, ${given.get(name)}` : name);
    }
    for (const code of document.querySelectorAll("pre > code")) {
      if (code.scrollWidth > code.clientWidth) code.tabIndex = 0;
    }
    document.querySelectorAll(".md-code__nav").forEach((nav, i) => {
      nav.setAttribute("aria-label", `Example ${i + 1}`);
    });
  };
  addEventListener("load", nameRegions);
  addEventListener("resize", nameRegions); // a phone that is turned
  addEventListener("toggle", nameRegions, true); // what was folded away had no width
})();
