/* Ask a question from its form and show the answer below it. Without this script a form still asks by GET. */
(() => {
  "use strict";

  const element = (name, properties = {}, ...children) => {
    const made = Object.assign(document.createElement(name), properties);
    made.append(...children);
    return made;
  };

  // a long line that scrolls must be reachable by keyboard
  const block = (text) => element("pre", {}, element("code", { tabIndex: 0 }, text));

  const filled = (form) =>
    [...form.elements].filter((field) => field.name && field.value.trim() !== "");

  const queryOf = (form) =>
    new URLSearchParams(filled(form).map((field) => [field.name, field.value.trim()])).toString();

  const valueOf = (field) => {
    const text = field.value.trim();
    if (field.dataset.kind === "number") return Number(text);
    return field.dataset.kind === "boolean" ? text === "true" : text;
  };

  const bodyOf = (form) => {
    const body = {};
    for (const field of filled(form)) {
      const steps = field.name.split(".");
      const last = steps.pop();
      let inner = body;
      for (const step of steps) inner = inner[step] ??= {};
      inner[last] = valueOf(field);
    }
    return body;
  };

  const quoted = (text) => `'${text.replaceAll("'", "'\\''")}'`;

  const commands = (form, address) => {
    const byBody = form.method === "post";
    const body = byBody ? form.querySelector("textarea").value : JSON.stringify(bodyOf(form));
    const post = `curl ${quoted(address)} \\\n  -H 'Content-Type: application/json' \\\n  -d ${quoted(body)}`;
    const shown = [element("p", {}, "The same as POST:"), block(post)];
    if (!byBody) {
      const query = queryOf(form);
      const get = `curl ${quoted(query ? `${address}?${query}` : address)}`;
      shown.unshift(element("p", {}, "The same request as GET:"), block(get));
    }
    return shown;
  };

  const request = (form) =>
    form.method === "post"
      ? fetch(form.action, {
          method: "POST",
          headers: { "Content-Type": "application/json" },
          body: form.querySelector("textarea").value,
        })
      : fetch(`${form.action}?${queryOf(form)}`);

  const fieldOf = (form, pointer) => {
    const name = pointer.slice(1).replaceAll("/", ".");
    return [...form.elements].find((field) => field.name && (field.name === name || name.startsWith(`${field.name}.`)));
  };

  const open = (target) => {
    for (let part = target; part; part = part.parentElement) {
      if (part.matches("details")) part.open = true;
    }
  };

  const problem = (form, said) => {
    const faults = (said.errors ?? []).map((fault) => {
      const field = fieldOf(form, fault.pointer);
      if (!field) return element("li", {}, `${fault.pointer}: ${fault.detail}`);
      field.setAttribute("aria-invalid", "true");
      const label = field.labels[0].firstChild.textContent.trim();
      const go = element("a", { href: `#${field.id}` }, label);
      go.addEventListener("click", (event) => {
        event.preventDefault();
        open(field);
        field.focus();
      });
      return element("li", {}, go, `: ${fault.detail}`);
    });
    const parts = [element("p", { className: "pc-headline" }, `${said.title}.`)];
    parts.push(faults.length ? element("ul", {}, ...faults) : element("p", {}, said.detail));
    return parts;
  };

  const judged = (answer) => {
    const words = [];
    if (answer.verdict) words.push(`verdict: ${answer.verdict.replaceAll("_", " ")}`);
    if (answer.attention) words.push(`attention: ${answer.attention}`);
    return words.join(", ");
  };

  const answered = (answer) => [
    element("p", { className: "pc-headline" }, answer.headline),
    element("p", {}, judged(answer)),
    element("p", {}, "A planning estimate, not a permission. Never exceed the manufacturer's rating."),
  ];

  // a word that this script does not know counts as the worst
  const MILD = [undefined, "within_limit", "none", "note"];
  const WARY = ["little_headroom", "not_judged", "caution"];
  const lookOf = (response, answer) => {
    const words = [answer.verdict, answer.attention];
    if (response.ok && words.every((word) => MILD.includes(word))) return "pc-result";
    const wary = response.ok && words.every((word) => [...MILD, ...WARY].includes(word));
    return `pc-result ${wary ? "pc-wary" : "pc-grave"}`;
  };

  const resultOf = (form) => {
    let result = form.nextElementSibling;
    if (!result) {
      result = element("div", { className: "pc-result" });
      form.after(result);
    }
    return result;
  };

  const show = (result, look, message, rest) => {
    const said = element("div", { className: "pc-said" }, ...message);
    said.setAttribute("role", "status");
    result.className = look;
    result.replaceChildren(said, ...rest);
  };

  const ask = async (form) => {
    const result = resultOf(form);
    for (const field of form.elements) field.removeAttribute("aria-invalid");
    const asked = commands(form, form.action);
    try {
      const response = await request(form);
      const answer = await response.json();
      const message = response.ok ? answered(answer) : problem(form, answer);
      show(result, lookOf(response, answer), message, [
        ...asked,
        element("p", {}, `The whole answer (status ${response.status}):`),
        block(JSON.stringify(answer, null, 1)),
      ]);
    } catch {
      show(result, "pc-result pc-grave", [element("p", {}, "The API did not answer. Check the connection, and ask again.")], asked);
    }
  };

  document.addEventListener("submit", (event) => {
    if (!event.target.closest(".pc-try")) return;
    event.preventDefault();
    ask(event.target);
  });

  // a browser can show no message at a field that is folded away
  document.addEventListener("invalid", (event) => open(event.target), true);

  const fill = (form) => {
    const example = JSON.parse(form.dataset.example);
    for (const field of form.elements) {
      if (!field.name) continue;
      const value = field.name.split(".").reduce((inner, step) => inner?.[step], example);
      field.value = value === undefined || typeof value === "object" ? "" : String(value);
    }
  };

  for (const link of document.querySelectorAll(".pc-example")) {
    link.textContent = "Fill in the example";
    link.addEventListener("click", (event) => {
      event.preventDefault();
      fill(link.closest("form"));
    });
  }

  for (const actions of document.querySelectorAll(".pc-by-body .pc-actions")) actions.hidden = false;

  const openNamed = () => {
    const named = document.getElementById(location.hash.slice(1));
    if (named) open(named);
  };
  addEventListener("hashchange", openNamed);
  openNamed();
})();
