// The pedigree of a figure: all that it rests on, in a panel at the right, from the value down to the bytes.

import { address, get } from "../api";
import { el, fill, type Child } from "../el";
import { failureBox } from "../failure_box";
import type { Contribution, LevelFigure } from "../figures/answers";
import { decayText, inWords } from "../figures/figure_words";
import { fixedText, instantText, prefixedText, statedText, uncertainText } from "../figures/number_text";
import { pairs } from "../parts/table";
import type { Room } from "../place";
import { pedigree as words } from "./words";

interface Entry {
  kind: string;
  id: string;
  revision: number;
  at: string;
  who: string;
  number: number;
  link: string;
  later: unknown[];
}

interface FileRef {
  name: string;
  sha256: string;
}

interface PedigreeRun {
  label: string;
  levels: LevelFigure[];
  specimen: Record<string, unknown> | null;
  item: Record<string, unknown> | null;
  conditions: Record<string, unknown> | null;
  recording: { file: string; sha256: string; bytes: number; format: string; dialect: string } | null;
  cut: { charge_s: number | null; release_s: number; end_s: number } | null;
  zero: { zero_V: number; u_zero_V: number; proven: boolean; from: string } | null;
  release: { release_s: number; u_release_s: number; release_source: string } | null;
  charging: { charging_s: number | null; electrode_V: number | null; initial_voltage_V: number | null; u_initial_voltage_V: number | null } | null;
  entry: Entry | null;
}

interface Documented {
  id: string;
  edition?: string;
  title?: string;
  source?: string;
  file: FileRef | null;
  entry: Entry | null;
}

interface PedigreeAnswer {
  from: "ledger" | "folder";
  pedigree: {
    runs: PedigreeRun[];
    order: { id: string; revision: number; tested_by?: string | null; authorised_by?: string | null; tested_from: string; tested_to: string };
    method: Documented;
    specification: Documented;
    bench: { id: string; revision: string; calibrations: { equipment: string; certificate: string; due: string; in_force: boolean }[]; file: FileRef | null } | null;
    engine_version: string;
    settings_hash: string;
    made: string;
  };
}

/** Opens above what the right column holds; the focus goes to its heading, and back to the button on closing. */
export async function openPedigree(key: string, run: string, level: string, room: Room): Promise<void> {
  const came = document.activeElement as HTMLElement | null;
  room.next.querySelector(".pedigree")?.remove();
  const heading = el("h2", { tabindex: -1 }, words.heading(level));
  const body = el("div", {});
  const close = (): void => {
    panel.remove();
    came?.focus();
  };
  const panel = el(
    "section.pedigree",
    {
      "aria-label": words.heading(level),
      onkeydown: (event: KeyboardEvent) => {
        if (event.key !== "Escape") return;
        event.stopPropagation();
        event.preventDefault();
        close();
      },
    },
    heading,
    body,
    el("button", { type: "button", onclick: close }, words.close),
  );
  room.next.prepend(panel);
  heading.focus();
  panel.scrollIntoView({ block: "nearest" });
  try {
    const answer = await get<PedigreeAnswer>(address("orders", key, "runs", run, "pedigree"), { level }, room.left);
    if (!room.left.aborted) fill(body, ...told(answer));
  } catch (thrown) {
    if (!room.left.aborted) fill(body, failureBox(thrown));
  }
}

function told(answer: PedigreeAnswer): Child[] {
  const { pedigree } = answer;
  const run = pedigree.runs[0];
  if (!run) return [words.none];
  const level = run.levels[0];
  const steps: [string, Child][] = [
    [words.value, level ? el("strong", {}, decayText(level)) : words.none],
    [words.budget, level && level.budget.length > 0 ? largest(level.budget) : null],
    [words.charging, run.charging && chargingText(run.charging)],
    [words.release, run.release && `${uncertainText(run.release.release_s, run.release.u_release_s)} s, ${inWords(run.release.release_source)}`],
    [words.zero, run.zero && `${uncertainText(run.zero.zero_V, run.zero.u_zero_V)} V, ${run.zero.proven ? words.proven : words.not_proven}; ${run.zero.from}`],
    [words.cut, run.cut && `${run.cut.charge_s === null ? "" : `${fixedText(run.cut.charge_s, 2)} s, `}${fixedText(run.cut.release_s, 2)} s to ${fixedText(run.cut.end_s, 2)} s`],
    [words.recording, run.recording && hashed(run.recording.file, run.recording.sha256, `${run.recording.format}; ${run.recording.dialect}`)],
    [words.specimen, run.specimen && values(run.specimen)],
    [words.item, run.item && values(run.item)],
    [words.conditions, run.conditions && values(run.conditions)],
    [words.bench, pedigree.bench && (pedigree.bench.file ? hashed(`${pedigree.bench.id}, ${pedigree.bench.revision}`, pedigree.bench.file.sha256) : `${pedigree.bench.id}, ${pedigree.bench.revision}`)],
    [words.certificates, pedigree.bench && el("ul.plain", {}, ...pedigree.bench.calibrations.map((one) => el("li", {}, `${one.equipment}: ${one.certificate}, ${one.in_force ? words.in_force : `○ ${words.not_in_force}`}`)))],
    [words.people, [pedigree.order.tested_by, pedigree.order.authorised_by].filter(Boolean).join(", ")],
    [words.documents, el("div", {}, ...[pedigree.method, pedigree.specification].map((one) => documented(one)))],
    [words.engine, el("span.two", {}, `${pedigree.engine_version}, ${instantText(pedigree.made)}`, el("code.hash", {}, pedigree.settings_hash))],
    [words.chain, run.entry && hashed(`${run.entry.number}, ${instantText(run.entry.at)}, ${run.entry.who}`, run.entry.link, run.entry.later.length > 0 ? words.later(run.entry.later.length) : "")],
  ];
  return [el("p.small.muted", {}, answer.from === "ledger" ? words.from_ledger : words.from_folder), pairs(steps.filter(([, value]) => value !== null && value !== false))];
}

function chargingText(charging: NonNullable<PedigreeRun["charging"]>): string {
  const parts: string[] = [];
  if (charging.charging_s !== null) parts.push(`${fixedText(charging.charging_s, 1)} s`);
  if (charging.electrode_V !== null) parts.push(`${fixedText(charging.electrode_V, 0)} V`);
  if (charging.initial_voltage_V !== null) parts.push(`V0 ${uncertainText(charging.initial_voltage_V, charging.u_initial_voltage_V)} V`);
  return parts.join(", ");
}

/** The three largest parts, in seconds. */
function largest(budget: Contribution[]): HTMLElement {
  const sorted = [...budget].sort((a, b) => Math.abs(b.sensitivity) * b.u - Math.abs(a.sensitivity) * a.u).slice(0, 3);
  return el("ul.plain", {}, ...sorted.map((one) => el("li", {}, `${one.source}: ${prefixedText(Math.abs(one.sensitivity) * one.u, 2, "s")}`)));
}

function hashed(what: string, sha256: string, more = ""): HTMLElement {
  return el("span.two", {}, what, more && el("small.muted", {}, more), el("code.hash", {}, sha256));
}

function documented(one: Documented): HTMLElement {
  return el("p", {}, `${one.id}${one.edition ? `, ${one.edition}` : ""}`, one.source && el("small.muted", {}, ` ${one.source}`));
}

/** Keys of a document as a person reads them: id, direction, place, state ... */
function values(record: Record<string, unknown>): string {
  return Object.entries(record)
    .sort(([one], [other]) => Number(other === "id") - Number(one === "id"))
    .filter(([name, value]) => name !== "sensitivity" && (typeof value === "string" || typeof value === "number") && value !== "")
    .map(([name, value]) => (name === "id" ? String(value) : `${nameOf(name)} ${typeof value === "number" ? statedText(value) : name.endsWith("from") || name.endsWith("_to") ? instantText(String(value)) : String(value)}`))
    .join("; ");
}

function nameOf(key: string): string {
  return inWords(key.replace(/_percent$/, ", %").replace(/_C$/, ", °C"));
}
