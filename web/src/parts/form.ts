// Fields with a label, a hint and the word of what is wrong beside them: said while one types, once a field was left.

import { el, type Child } from "../el";

export interface Field {
  readonly name: string;
  readonly element: HTMLElement;
  readonly input: HTMLInputElement | HTMLSelectElement | HTMLTextAreaElement;
  value(): string;
  /** Empty: nothing is wrong. */
  say(what: string): void;
}

export interface FieldOptions {
  hint?: string | undefined;
  /** of an input: "text", "date", "number", "datetime-local"; or "area" */
  type?: string;
  value?: string;
  optional?: boolean;
  list?: string[];
  placeholder?: string;
}

let count = 0;

export function textField(name: string, label: string, options: FieldOptions = {}): Field {
  const id = `field-${++count}`;
  const attributes = {
    id,
    name,
    required: !options.optional,
    placeholder: options.placeholder,
    "aria-describedby": `${id}-hint ${id}-wrong`,
    autocomplete: "off",
  };
  const input =
    options.type === "area"
      ? el("textarea", { ...attributes, rows: 3 })
      : el("input", { ...attributes, type: options.type === "number" ? "text" : (options.type ?? "text"), ...(options.type === "number" ? { inputmode: "decimal" } : {}), ...(options.list ? { list: `${id}-list` } : {}) });
  input.value = options.value ?? "";
  const list = options.list && el("datalist", { id: `${id}-list` }, ...options.list.map((one) => el("option", { value: one })));
  return framed(name, id, label, input, options.hint, list ?? null);
}

export function choiceField(name: string, label: string, choices: { value: string; words: string }[], options: FieldOptions = {}): Field {
  const id = `field-${++count}`;
  const input = el(
    "select",
    { id, name, "aria-describedby": `${id}-hint ${id}-wrong` },
    ...choices.map((one) => el("option", { value: one.value, selected: one.value === options.value }, one.words)),
  );
  return framed(name, id, label, input, options.hint, null);
}

function framed(name: string, id: string, label: string, input: Field["input"], hint: string | undefined, list: Child): Field {
  const wrong = el("small.wrong", { id: `${id}-wrong`, "aria-live": "polite" });
  const element = el("div.field", {}, el("label", { for: id }, label), input, list, el("small", { id: `${id}-hint` }, hint), wrong);
  return {
    name,
    element,
    input,
    value: () => input.value.trim(),
    say: (what) => {
      wrong.textContent = what;
      if (what) input.setAttribute("aria-invalid", "true");
      else input.removeAttribute("aria-invalid");
    },
  };
}

/** Which of the fields were left or changed: only of these is said what is wrong before one tries to send. */
export function onEdited(field: Field, act: () => void): void {
  field.input.addEventListener("input", act);
  field.input.addEventListener("blur", () => {
    field.input.dataset["left"] = "1";
    act();
  });
}

export function wasLeft(field: Field): boolean {
  return field.input.dataset["left"] === "1";
}
