/* The page of a row: a button that copies a reply, which can also be selected without it. */
(() => {
  "use strict";

  // as on the pages of the theme: keeps pages for when there is no network
  const worker = new URL("../sw.js", document.currentScript.src);
  addEventListener("load", () => {
    navigator.serviceWorker?.register(worker).catch(() => {});
  });

  const there = document.querySelector('link[rel="canonical"]').href;

  // the page may be served from another address than it was built for
  const textOf = (quote) => quote.textContent.replace(there, location.origin + location.pathname);

  // without https there is no clipboard interface; the older command copies what is selected
  const copy = async (quote) => {
    const text = textOf(quote);
    try {
      await navigator.clipboard.writeText(text);
      return true;
    } catch {
      quote.textContent = text;
      getSelection().selectAllChildren(quote);
      return document.execCommand("copy");
    }
  };

  for (const quote of document.querySelectorAll(".pc-quote")) {
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = "Copy";
    button.setAttribute("aria-describedby", quote.id);
    const status = document.createElement("span");
    status.setAttribute("role", "status");
    const line = document.createElement("p");
    line.className = "pc-copying pc-screen";
    line.append(button, " ", status);
    quote.after(line);
    button.addEventListener("click", async () => {
      status.textContent = "";
      status.textContent = (await copy(quote)) ? "Copied, with what it holds for, caution and link" : "Select the text to copy it";
    });
  }
})();
