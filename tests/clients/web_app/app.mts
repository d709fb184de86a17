/** A form that asks percell, and a comparison of layouts: all that is not the page itself. */

import createClient from "openapi-fetch";
import type { components, paths } from "./percell.js";

type Schemas = components["schemas"];
type Problem = Schemas["Problem"];
export type Colour = "plain" | "blue" | "amber" | "red";

/** What the form holds; an empty field is not given, and NaN is what a reader typed that is no number. */
export type Form = {
  layouts: string[];
  cell_rating_a?: number;
  coil_reading_ohm?: number;
  output_power_w?: number;
};

export type Line = {
  layout: string;
  colour: Colour;
  headline: string;
  figure: string;
  warnings: string[];
};

export type Shown = {
  lines: Line[];
  /** What is wrong with a field, by its name; "" for what concerns no field of the form. */
  errors: Map<string, string[]>;
  cautions: string[];
  version: string;
  /** Id to quote when something fails. */
  requestId: string | null;
};

// mildest first; a word that is not here came later, and counts as the worst
const COLOURS: Colour[] = ["plain", "blue", "amber", "red"];
const RANKS: Record<string, number | undefined> = {
  none: 0, note: 1, caution: 2, warning: 3,
  within_limit: 0, little_headroom: 2, not_judged: 2, over_limit: 3,
};

export function colourOf(answer: { attention: string; verdict?: string }): Colour {
  const ranks = [answer.attention, answer.verdict ?? "none"].map((word) => RANKS[word] ?? 3);
  return COLOURS[Math.max(...ranks)] ?? "red";
}

/** Return the faults of a problem by the field of the form that they belong to. */
export function faultsByField(problem: Problem, errors = new Map<string, string[]>()) {
  const add = (field: string, text: string) => {
    const known = errors.get(field) ?? [];
    if (!known.includes(text)) errors.set(field, [...known, text]);
  };
  // the pointer leads into the batch: /items/0/ask/cell_rating_a
  for (const { pointer, detail } of problem.errors ?? [])
    add(/^\/items\/\d+\/ask\/(\w+)/.exec(pointer)?.[1] ?? "", detail);
  if (!problem.errors) add("", problem.detail);
  return errors;
}

/** A figure of each kind of answer, rounded toward caution. */
function figureOf(answer: NonNullable<Schemas["BatchAnswer"]["answer"]>): string {
  const up = (value: number) => (Math.ceil(value * 10) / 10).toFixed(1);
  switch (answer.question) {
    case "direct-load":
      return `${up(answer.pack_current_a)} A from the pack, no sag`;
    case "converter-load":
      return `${up(answer.worst_cell_current_a)} A in the worst-case cell`;
    default:
      return "";
  }
}

/** Ask for each layout, all at once. */
export async function compare(
  address: string,
  { layouts, ...fields }: Form,
  headers: Record<string, string> = {},
): Promise<Shown> {
  const client = createClient<paths>({ baseUrl: address, headers });
  const { cell_rating_a, coil_reading_ohm, output_power_w } = fields;
  const items = layouts.map((layout): Schemas["Batch"]["items"][number] =>
    output_power_w === undefined
      ? {
          question: "direct-load",
          // what the reader left out is left out: the service says that it is missing
          ask: { layout, cell_rating_a, coil_reading_ohm } as Schemas["DirectLoad"],
        }
      : {
          question: "converter-load",
          ask: { layout, cell_rating_a, output_power_w } as Schemas["ConverterLoad"],
        },
  );
  const { data, error, response } = await client.POST("/v1/batch", { body: { items } });
  const requestId = response.headers.get("X-Request-Id");
  if (!data) {
    // what a proxy in front of the service sends is no problem document
    const errors = error?.title
      ? faultsByField(error)
      : new Map([["", [`No answer (${response.status}). This is not permission.`]]]);
    return { lines: [], errors, cautions: [], version: "", requestId };
  }
  const errors = new Map<string, string[]>();
  const lines: Line[] = [];
  data.items.forEach(({ answer, problem }, i) => {
    if (problem) faultsByField(problem, errors);
    if (!answer) return;
    lines.push({
      layout: layouts[i] ?? "",
      colour: colourOf(answer),
      headline: answer.headline,
      figure: figureOf(answer),
      // a severity that came later is shown, like a warning
      warnings: answer.findings
        .filter((finding) => !["note", "caution"].includes(finding.severity))
        .map((finding) => finding.sentence),
    });
  });
  const cautions = data.cautions.map((caution) => caution.sentence);
  return { lines, errors, cautions, version: data.version, requestId };
}
