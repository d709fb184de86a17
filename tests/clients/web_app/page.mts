/** The page around the app: reads the form, and puts answers and errors where they belong. */

import { compare, type Form } from "./app.mjs";

const form = document.querySelector("form") as HTMLFormElement;
const address = new URLSearchParams(location.search).get("api") ?? "";

function read(): Form {
  const number = (name: string) => {
    const text = (form.elements.namedItem(name) as HTMLInputElement).value.trim();
    return text === "" ? undefined : Number(text);
  };
  const layouts = (form.elements.namedItem("layout") as HTMLInputElement).value;
  return {
    layouts: layouts.split(",").map((layout) => layout.trim()),
    cell_rating_a: number("cell_rating_a"),
    coil_reading_ohm: number("coil_reading_ohm"),
    output_power_w: number("output_power_w"),
  };
}

function list(id: string, texts: string[]): void {
  const items = texts.map((text) => {
    const item = document.createElement("li");
    item.textContent = text;
    return item;
  });
  document.getElementById(id)?.replaceChildren(...items);
}

form.addEventListener("submit", async (event) => {
  event.preventDefault();
  delete form.dataset.done;
  // a header as tracing adds it: the browser asks the service first whether it may send it
  const shown = await compare(address, read(), { traceparent: `00-${"a1".repeat(16)}-${"b2".repeat(8)}-00` });
  for (const output of form.querySelectorAll("output"))
    output.textContent = (shown.errors.get(output.htmlFor.value) ?? []).join(" ");
  list("elsewhere", shown.errors.get("") ?? []);
  list("answers", shown.lines.map((line) => `${line.headline} (${line.figure})`));
  document.querySelectorAll<HTMLElement>("#answers li").forEach((item, i) => {
    item.className = shown.lines[i]?.colour ?? "red";
  });
  list("cautions", shown.cautions);
  list("request", shown.requestId ? [shown.requestId] : []);
  form.dataset.done = "yes";
});
