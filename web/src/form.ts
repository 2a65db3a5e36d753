// Fields, choices and the line that says what became of an act: waiting, sent, refused, not known.

import { freshEntryId, NoAnswer, Refused, Stopped } from "./api";
import { button, el, freshId, put, type Child } from "./dom";
import { decimal } from "./format";
import { keepBy, lastBy } from "./context";

export interface Field {
  node: HTMLElement;
  input: HTMLInputElement | HTMLTextAreaElement | HTMLSelectElement;
  text(): string;
  /** Shows what is wrong beside the field and takes the keyboard there; blank takes it away. */
  wrong(text: string): void;
}

export interface FieldOptions {
  unit?: string;
  hint?: string;
  value?: string;
  /** `decimal` brings up figures on a phone. */
  mode?: "decimal" | "text" | "area" | "date";
  rows?: number;
  /** Id of a datalist with what is usual here. */
  list?: string;
  placeholder?: string;
}

/** A labelled field. */
export function field(label: string, options: FieldOptions = {}): Field {
  const id = freshId("field");
  const hintId = `${id}-hint`;
  const wrongId = `${id}-wrong`;
  const input = options.mode === "area"
    ? el("textarea.input", { id, rows: options.rows ?? 3, spellcheck: "false", "aria-describedby": `${hintId} ${wrongId}`, placeholder: options.placeholder })
    : el("input.input", {
      id, type: options.mode === "date" ? "date" : "text", inputmode: options.mode === "decimal" ? "decimal" : null,
      autocomplete: "off", spellcheck: "false", "aria-describedby": `${hintId} ${wrongId}`, placeholder: options.placeholder, list: options.list ?? null,
    });
  if (options.value) input.value = options.value;
  const wrongNode = el("p.field-wrong", { id: wrongId, role: "alert" });
  const node = el("div.field", {},
    el("label.field-label", { for: id }, label, options.unit && el("span.unit", {}, ` ${options.unit}`)),
    input,
    el("p.field-hint", { id: hintId }, options.hint ?? ""),
    wrongNode);
  return withWrong(node, input, wrongNode);
}

function withWrong(node: HTMLElement, input: Field["input"], wrongNode: HTMLElement): Field {
  input.addEventListener("input", () => {
    wrongNode.textContent = "";
    input.removeAttribute("aria-invalid");
  });
  return {
    node, input,
    text: () => input.value.trim(),
    wrong(text) {
      wrongNode.textContent = text;
      if (text) {
        input.setAttribute("aria-invalid", "true");
        input.focus();
      } else input.removeAttribute("aria-invalid");
    },
  };
}

/** A list to choose one from. With `blank`, nothing is chosen beforehand. */
export function select(label: string, options: readonly [string, string][], more: { blank?: string; hint?: string } = {}): Field {
  const id = freshId("field");
  const wrongNode = el("p.field-wrong", { role: "alert" });
  const input = el("select.input", { id },
    more.blank !== undefined && el("option", { value: "" }, more.blank),
    options.map(([value, text]) => el("option", { value }, text)));
  return withWrong(el("div.field", {}, el("label.field-label", { for: id }, label), input, el("p.field-hint", {}, more.hint ?? ""), wrongNode), input, wrongNode);
}

export interface Choice {
  node: HTMLElement;
  value(): string;
  wrong(text: string): void;
  onChange(tell: (value: string) => void): void;
  set(value: string): void;
}

/** A row of pictures or words, one to be chosen. */
export function choice(label: string, options: readonly { value: string; text: Child; picture?: Node }[], chosen = ""): Choice {
  const name = freshId("choice");
  const wrongNode = el("p.field-wrong", { role: "alert" });
  const inputs = options.map((o) => el("input", { type: "radio", name, value: o.value, checked: o.value === chosen }));
  const listeners: ((value: string) => void)[] = [];
  const node = el("fieldset.choice", {}, el("legend.field-label", {}, label),
    el("div.choice-row", {}, options.map((o, i) =>
      el("label.choice-item", {}, inputs[i], o.picture && el("span.choice-picture", {}, o.picture), el("span.choice-text", {}, o.text)))),
    wrongNode);
  const value = (): string => inputs.find((i) => i.checked)?.value ?? "";
  node.addEventListener("change", () => {
    wrongNode.textContent = "";
    for (const tell of listeners) tell(value());
  });
  return {
    node, value,
    wrong(text) {
      wrongNode.textContent = text;
      if (text) inputs[0]?.focus();
    },
    onChange: (tell) => listeners.push(tell),
    set(next) {
      for (const i of inputs) i.checked = i.value === next;
    },
  };
}

/** The field for the person's name, kept for the next act. */
export function byField(): Field {
  return field("Your name, as the book will show it", { value: lastBy() });
}

/** A required text; null and a word beside the field when blank. */
export function need(f: Field, what: string): string | null {
  const text = f.text();
  if (text) return text;
  f.wrong(what);
  return null;
}

/** A decimal, digit for digit as typed; undefined when blank and not required; null when wrong. */
export function needDecimal(f: Field, required: boolean): string | undefined | null {
  const text = f.text().replace(/^\u2212/, "-");
  if (!text && !required) return undefined;
  if (decimal(text) !== null) return text;
  f.wrong(text ? "write a number with a point for decimals, such as 1.25" : "this figure is needed");
  return null;
}

/** The line under an act. */
export class Outcome {
  readonly node = el("div.outcome", { role: "status", "aria-live": "polite" });

  idle(text: Child = ""): void {
    this.show("idle", text);
  }

  waiting(text: string): void {
    this.show("waiting", el("strong", {}, "Waiting to send. "), text);
  }

  sent(...text: Child[]): void {
    this.show("sent", el("strong", {}, "In the book. "), ...text);
  }

  failed(cause: unknown, again?: () => void): void {
    if (cause instanceof Refused) {
      this.show("refused", el("strong", {}, "Refused, nothing changed. "), cause.message, cause.where && el("span.where", {}, ` (${cause.where})`));
    } else if (cause instanceof Stopped) {
      this.show("idle", "Stopped.");
    } else if (cause instanceof NoAnswer) {
      this.show("unknown", el("strong", {}, "No answer. "), `${cause.message}. It is not known whether this arrived. Sent again as it stands, it is recorded once and not twice. `,
        again && button("Send again", again));
    } else {
      this.show("refused", el("strong", {}, "Not sent. "), cause instanceof Error ? cause.message : String(cause));
    }
  }

  /** Says what failed, and brings it into view: on a phone it lies below the fold or under the doors. */
  failedInView(cause: unknown, again?: () => void): void {
    this.failed(cause, again);
    this.node.scrollIntoView({ block: "center" });
  }

  private show(state: string, ...text: Child[]): void {
    this.node.dataset["state"] = state;
    put(this.node, ...text);
  }
}

/**
 * The id an entry is sent under: one and the same until the book has it or refused it, so that a form sent again
 * after a broken connection is recorded once.
 */
export class EntryId {
  private id = freshEntryId();

  /** Sends under the id, and takes a fresh one for what comes next unless nobody knows whether this arrived. */
  async send<T>(act: (id: string) => Promise<T>): Promise<T> {
    try {
      const value = await act(this.id);
      this.id = freshEntryId();
      return value;
    } catch (cause) {
      if (cause instanceof Refused) this.id = freshEntryId();
      throw cause;
    }
  }
}

/** Runs an act with its button held and its end shown. */
export async function perform<T>(outcome: Outcome, key: HTMLButtonElement, doing: string, act: () => Promise<T>, done: (value: T) => Child): Promise<void> {
  if (key.disabled) return;
  key.disabled = true;
  outcome.waiting(doing);
  try {
    const value = await act();
    outcome.sent(done(value));
  } catch (cause) {
    outcome.failed(cause);
  } finally {
    key.disabled = false;
  }
}

export { keepBy };
