// Light, dark, or as the system has it; and what colour a drawing takes at this moment.

export type Theme = "system" | "light" | "dark";
const kept = "ebbtide.theme";
const listeners = new Set<() => void>();

export function theme(): Theme {
  const value = localStorage.getItem(kept);
  return value === "light" || value === "dark" ? value : "system";
}

export function setTheme(value: Theme): void {
  localStorage.setItem(kept, value);
  applyTheme();
}

export function applyTheme(): void {
  const value = theme();
  if (value === "system") delete document.documentElement.dataset["theme"];
  else document.documentElement.dataset["theme"] = value;
  for (const listener of listeners) listener();
}

/** Called whenever colours change; the answer takes the listener away. */
export function onTheme(listener: () => void): () => void {
  listeners.add(listener);
  return () => listeners.delete(listener);
}

/** colour("ink") is the custom property --ink as it stands. */
export function colour(name: string): string {
  return getComputedStyle(document.documentElement).getPropertyValue(`--${name}`).trim();
}

matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => listeners.forEach((listener) => listener()));
addEventListener("storage", (event) => event.key === kept && applyTheme());
