// What was recognised in dropped files, shown before it is kept: format, dialect, channels, runs with their figures; then
// the order and the places that they go to.

import { get, post, postBytes, address } from "../api";
import { el, fill, type Child } from "../el";
import { failureBox } from "../failure_box";
import type { OrderAnswer, OrdersAnswer } from "../order/answers";
import { closeButton, openDialog } from "../parts/dialog";
import { choiceField, textField } from "../parts/form";
import { go, link, readPlace } from "../place";
import type { ImportAnswer, KeptAnswer } from "./answers";
import { recognisedOf, type Chosen } from "./recognised";
import { imports as words } from "./words";

const largest = 64 * 1024 * 1024;

/** Each file in turn; the order that one is looking at is offered first. */
export async function openImport(files: File[], order?: string): Promise<void> {
  const place = readPlace(location.hash);
  const preferred = order ?? (place.page === "order" || place.page === "bench" ? place.parts[0] : undefined);
  const body = el("div", {});
  const dialog = openDialog(words.title(files.length), [body]);
  dialog.element.classList.add("import");
  const read: { file: File; answer?: ImportAnswer; trouble?: unknown }[] = [];
  for (const [at, file] of files.entries()) {
    fill(body, el("p", { role: "status" }, words.reading(file.name, at, files.length)), el("div.buttons", {}, closeButton(words.not_kept)));
    try {
      if (file.size > largest) read.push({ file, trouble: new Error(words.too_large(file.name)) });
      else read.push({ file, answer: await postBytes<ImportAnswer>("/api/imports", { name: file.name, order: preferred }, file) });
    } catch (thrown) {
      read.push({ file, trouble: thrown });
    }
    if (!dialog.element.open) return;
  }
  const orders = (await get<OrdersAnswer>("/api/orders").catch(() => ({ orders: [] as OrdersAnswer["orders"] }))).orders.filter((one) => one.live && !one.error);
  if (dialog.element.open) show();

  function show(): void {
    const good = read.flatMap((one) => (one.answer ? [{ file: one.file, answer: one.answer }] : []));
    const troubles = read.filter((one) => one.trouble !== undefined).map((one) => el("div", {}, el("h3", {}, one.file.name), failureBox(one.trouble)));
    if (good.length === 0 || orders.length === 0) {
      fill(body, ...troubles, ...good.map((one) => recognisedOf(one.answer, null).element), good.length > 0 && el("p.empty", {}, words.no_order), el("div.buttons", {}, closeButton()));
      return;
    }
    const choose = choiceField("order", words.order, orders.map((one) => ({ value: one.key, words: `${one.id} · ${one.title}` })), { value: preferred ?? "" });
    const details = el("div", {});
    choose.input.addEventListener("change", () => void showPlaces());
    fill(body, ...troubles, choose.element, details);
    void showPlaces();

    async function showPlaces(): Promise<void> {
      let into: OrderAnswer;
      try {
        into = await get<OrderAnswer>(address("orders", choose.value()));
      } catch (thrown) {
        fill(details, failureBox(thrown));
        return;
      }
      const { conditions } = into.order;
      const under = conditions.length > 1 ? choiceField("conditions", words.conditions, conditions.map((one) => ({ value: one.id, words: one.id }))) : null;
      const shown = good.map((one) => ({ ...one, ...recognisedOf(one.answer, into.places, into.method.charging?.polarities === "either", changed) }));
      const keep = el("button.main", { type: "button", onclick: () => void send() });
      const says = el("div", { role: "alert" });
      fill(details, under?.element, ...shown.map((one) => el("div", {}, one.element, columnsOf(one.file))), says, el("div.buttons", {}, keep, closeButton(words.not_kept)));
      changed();
      function changed(): void {
        const count = shown.reduce((sum, one) => sum + one.chosen().length, 0);
        keep.textContent = words.keep(count);
        keep.disabled = count === 0;
      }
      async function send(): Promise<void> {
        keep.disabled = true;
        fill(says, el("p.muted", {}, words.keeping));
        const kept: KeptAnswer[] = [];
        try {
          for (const one of shown) {
            const places: Chosen[] = one.chosen();
            if (places.length === 0) continue;
            kept.push(await post<KeptAnswer>(address("imports", one.answer.id, "keep"), { order: choose.value(), ...(under ? { conditions: under.value() } : {}), places }));
          }
          done(kept, choose.value());
        } catch (thrown) {
          keep.disabled = false;
          fill(says, kept.length > 0 && keptList(kept), failureBox(thrown));
        }
      }
    }

    /** Where columns were mistaken: read the file again with their names. */
    function columnsOf(file: File): HTMLElement {
      const fields = Object.entries(words.columns).map(([name, label]) => textField(name, words.column(label), { optional: true, hint: words.column_hint }));
      const says = el("div", { role: "alert" });
      const again = async (): Promise<void> => {
        try {
          const query = Object.fromEntries(fields.filter((field) => field.value()).map((field) => [field.name, field.value()]));
          const answer = await postBytes<ImportAnswer>("/api/imports", { name: file.name, order: choose.value(), ...query }, file);
          read[read.findIndex((one) => one.file === file)] = { file, answer };
          show();
        } catch (thrown) {
          fill(says, failureBox(thrown));
        }
      };
      return el("details", {}, el("summary", {}, words.other_channels), el("div.form-grid", {}, ...fields.map((field) => field.element)), says, el("button", { type: "button", onclick: () => void again() }, words.again));
    }
  }

  function done(kept: KeptAnswer[], key: string): void {
    const to = el("button.main", { type: "button", onclick: () => toOrder(key) }, words.to_order);
    fill(dialog.element, el("h2", { tabindex: -1 }, words.kept), keptList(kept), el("div.buttons", {}, to, closeButton()));
    to.focus();
  }
}

/** The order anew, also when it is the one that one looks at. */
function toOrder(key: string): void {
  document.querySelector<HTMLDialogElement>("dialog.import")?.close();
  const hash = link("order", key);
  if (location.hash === hash) dispatchEvent(new HashChangeEvent("hashchange"));
  else go(hash);
}

function keptList(kept: KeptAnswer[]): Child {
  return el("ul.lines", {}, ...kept.flatMap((one) => one.runs.map((run) => el("li", {}, run.place ? words.kept_at(run.place.label ?? [run.place.specimen, run.place.face, run.place.polarity, run.place.replicate].join(" "), run.counts) : words.kept_nowhere))));
}
