// Intake: what came, how it is tested, which limits it must meet. Checked while one types; kept in this window until sent.

import { address, failure, get, post } from "../api";
import { el, fill } from "../el";
import { failureBox } from "../failure_box";
import { documentHref } from "../methods/list";
import type { DocumentAnswer, DocumentLine, DocumentsAnswer } from "../methods/answers";
import { bullets } from "../parts/table";
import { choiceField, onEdited, textField, wasLeft, type Field } from "../parts/form";
import { forms } from "../parts/words";
import { go, link, type Page } from "../place";
import type { OrdersAnswer } from "./answers";
import { fieldOf, placesOf, requestOf, wrongWith, type Typed } from "./intake_checks";
import { Rows } from "./intake_rows";
import { intake as words } from "./words";

const kept = "ebbtide.intake";

export const intakePage: Page = async (_place, room) => {
  room.title(words.title);
  const [methods, specifications, orders] = await Promise.all([
    get<DocumentsAnswer>("/api/methods", {}, room.left),
    get<DocumentsAnswer>("/api/specifications", {}, room.left),
    get<OrdersAnswer>("/api/orders", {}, room.left),
  ]);
  const draft = restored();
  const day = new Date().toISOString().slice(0, 10);
  const was = (name: string, otherwise = ""): string => draft?.top[name] ?? otherwise;

  const text = (name: string, label: string, more: Parameters<typeof textField>[2] = {}): Field => textField(name, label, { ...more, value: was(name, more.value) });
  const choices = (list: DocumentLine[]) => list.map((one) => ({ value: one.id, words: one.title }));
  const method = choiceField("method", words.method, choices(methods.documents), { value: was("method", methods.documents.find((one) => one.apparatus === "clamp_discharge" && one.id.includes("house"))?.id ?? "") });
  const specification = choiceField("specification", words.specification, choices(specifications.documents), { value: was("specification", specifications.documents.find((one) => one.apparatus === "clamp_discharge" && one.id.includes("house"))?.id ?? "") });
  const rule = choiceField("rule", words.rule, Object.entries(words.rules).map(([value, label]) => ({ value, words: label })), { value: was("rule", "simple") });
  const readable = orders.orders.filter((one) => !one.error);
  const like = choiceField("like", words.like, readable.map((one) => ({ value: one.key, words: `${one.id} · ${one.customer}` })), { value: was("like"), hint: readable.length > 0 ? words.like_hint : words.like_none });

  const top: Field[] = [
    text("id", words.id, { hint: words.id_hint }),
    text("title", words.order_title, { hint: words.order_title_hint }),
    text("customer.name", words.name, { list: [...new Set(readable.map((one) => one.customer))] }),
    text("customer.address", words.address),
    text("customer.contact", words.contact, { hint: words.contact_hint, optional: true }),
    method,
    specification,
    rule,
    text("agreed", words.agreed, { hint: words.agreed_hint }),
    like,
    text("received", words.received, { type: "date", optional: true, hint: words.optional }),
    text("due", words.due, { type: "date", optional: true, hint: words.optional }),
    text("tested_from", words.tested_from, { type: "date", value: day }),
    text("tested_to", words.tested_to, { type: "date", value: day }),
    text("tested_by", words.tested_by),
  ];
  const byName = (name: string): Field => top.find((field) => field.name === name) as Field;

  const items = new Rows("items", words.item, words.add_item, draft?.items ?? [{ id: "S" }], [
    { name: "id", label: words.short_name },
    { name: "description", label: words.description },
    { name: "lot", label: words.lot, optional: true },
    { name: "supplier", label: words.supplier, optional: true },
    { name: "condition_on_receipt", label: words.condition },
  ], changed);
  const specimens = new Rows("specimens", words.specimen, words.add_specimen, draft?.specimens ?? [{ id: "A1", item: "S", state: "as received" }, { id: "A2", item: "S", state: "as received" }], [
    { name: "id", label: words.short_name },
    { name: "item", label: words.of_item },
    { name: "direction", label: words.direction, optional: true },
    { name: "place", label: words.place, optional: true },
    { name: "state", label: words.state },
  ], changed);
  const conditions = new Rows("conditions", words.condition_set, words.add_conditions, draft?.conditions ?? [{ id: "dry" }], [
    { name: "id", label: words.short_name },
    { name: "relative_humidity_percent", label: words.humidity, type: "number", optional: true },
    { name: "temperature_C", label: words.temperature, type: "number", optional: true },
    { name: "conditioned_from", label: words.conditioned_from, type: "datetime-local", optional: true, hint: words.local_time },
    { name: "conditioned_to", label: words.conditioned_to, type: "datetime-local", optional: true },
  ], changed);

  const places = el("p.small.muted", { role: "status" });
  const understood = new Map<string, Promise<DocumentAnswer>>();
  const said = el("div", {});
  const about = el("div", {});
  const says = el("div", { role: "alert" });
  const send = el("button.main", { type: "submit" }, words.make);
  const still = el("p.small.muted", { role: "status" });
  const group = (heading: string, ...names: string[]): HTMLElement => el("fieldset", {}, el("legend", {}, heading), el("div.form-grid", {}, ...names.map((name) => byName(name).element)));
  const form = el(
    "form.intake",
    { novalidate: true, onsubmit: (event: Event) => void make(event) },
    group(words.order, "id", "title"),
    group(words.customer, "customer.name", "customer.address", "customer.contact"),
    el("fieldset", {}, el("legend", {}, words.documents), el("div.form-grid", {}, method.element, specification.element, rule.element, byName("agreed").element, like.element), said),
    group(words.dates, "received", "due", "tested_from", "tested_to", "tested_by"),
    el("fieldset", {}, el("legend", {}, words.items), items.element),
    el("fieldset", {}, el("legend", {}, words.specimens), specimens.element, places),
    el("fieldset", {}, el("legend", {}, words.conditions), conditions.element),
    says,
    still,
    el("div.buttons", {}, send),
  );
  fill(room.work, form);
  fill(room.next, el("p", {}, words.next), about);
  for (const field of top) onEdited(field, changed);
  changed();

  function typed(): Typed {
    return { top: Object.fromEntries(top.map((field) => [field.name, field.value()])), items: items.values(), specimens: specimens.values(), conditions: conditions.values() };
  }
  function fields(): Map<string, Field> {
    return new Map([...top.map((field) => [field.name, field] as const), ...items.fields(), ...specimens.fields(), ...conditions.fields()]);
  }
  function changed(): void {
    sessionStorage.setItem(kept, JSON.stringify(typed()));
    check(false);
    aboutDocuments();
    void countPlaces();
  }
  /** Says what is wrong beside each field that was left, or beside all; answers the first that is wrong. */
  function check(all: boolean): Field | undefined {
    const wrong = wrongWith(typed());
    let first: Field | undefined;
    for (const [name, field] of fields()) {
      const what = wrong.get(name) ?? "";
      field.say(all || wasLeft(field) ? what : "");
      if (what) first ??= field;
    }
    fill(still, wrong.size > 0 ? forms.not_yet(wrong.size) : "");
    return first;
  }
  async function countPlaces(): Promise<void> {
    const id = method.value();
    if (!understood.has(id)) understood.set(id, get<DocumentAnswer>(address("methods", id), {}, room.left));
    try {
      const answer = await understood.get(id);
      if (answer && method.value() === id) fill(places, words.places(placesOf(answer.understood, specimens.values().length)));
    } catch {
      understood.delete(id);
    }
  }
  function aboutDocuments(): void {
    const one = methods.documents.find((document) => document.id === method.value());
    const other = specifications.documents.find((document) => document.id === specification.value());
    fill(about, ...[one, other].map((document) => document && el("div", {}, el("h3", {}, el("a", { href: documentHref(document.id, document.kind) }, document.title)), bullets(document.summary), el("p.small.muted", {}, document.notice))));
    fill(said, one && other && one.apparatus !== other.apparatus && el("p.warning", { role: "alert" }, words.apparatus_differs(one.apparatus_words, other.apparatus_words)));
  }
  async function make(event: Event): Promise<void> {
    event.preventDefault();
    const first = check(true);
    if (first) {
      first.input.focus();
      return;
    }
    send.disabled = true;
    fill(says, el("p.muted", {}, words.making));
    try {
      const made = await post<{ key: string }>(address("orders"), requestOf(typed()));
      sessionStorage.removeItem(kept);
      go(link("order", made.key));
    } catch (thrown) {
      send.disabled = false;
      fill(says, failureBox(thrown));
      const all = fields();
      const field = all.get(fieldOf(failure(thrown).where, all.keys()) ?? "");
      if (field) {
        field.say(failure(thrown).what);
        field.input.focus();
      }
    }
  }
};

function restored(): Typed | null {
  try {
    const text = sessionStorage.getItem(kept);
    return text ? (JSON.parse(text) as Typed) : null;
  } catch {
    return null;
  }
}
