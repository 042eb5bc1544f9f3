/** Schemes: what is open, what lies beside it, the examples, and a new one from questions. */
import { signal } from "@preact/signals-core";
import { html, nothing } from "lit-html";
import { call, Refused } from "./api";
import { open, schemes, save, type Schemes } from "./desk";
import { told } from "./play";
import * as s from "./state";
import { apply, smallest } from "./text";

interface Question {
    id: string;
    asks: string;
    about?: string | null;
    kind: "words" | "number" | "choice";
    choices?: { id: string; words: string }[] | null;
    usual: string | number;
}

const listed = signal<Schemes | null>(null);
const questions = signal<Question[] | null>(null);
const answers = signal<Record<string, string | number>>({});
const caution = signal("");
const asName = signal("");
const refused = signal<{ of: string | null; words: string } | null>(null);
const notKept = signal("");

export async function openSchemes(): Promise<void> {
    s.leaf.value = "schemes";
    try {
        listed.value = await schemes();
    } catch (trouble) {
        told(trouble);
    }
}

async function begin(): Promise<void> {
    try {
        const got = await call<{ questions: Question[]; caution?: string }>("patterns");
        caution.value = got.caution ?? "";
        questions.value = got.questions;
        answers.value = Object.fromEntries(got.questions.map((one) => [one.id, one.usual]));
    } catch (trouble) {
        told(trouble);
    }
}

function answer(one: Question, words: string): void {
    answers.value = { ...answers.value, [one.id]: words };
    if (refused.value?.of === one.id || refused.value?.of === null) refused.value = null;
}

async function write(): Promise<void> {
    try {
        refused.value = null;
        const got = await call<{ desk: string; text: string; caution?: string }>("begin", { answers: answers.value });
        await open(got.desk);
        apply([smallest(s.text.value, got.text)]);
        s.text.value = got.text;
        questions.value = null;
        s.leaf.value = "hold";
        s.news.value = { what: "told", words: "A new scheme. Keep it as a file:" };
    } catch (trouble) {
        if (!(trouble instanceof Refused)) return told(trouble);
        const of = trouble.body["of"];
        const help = trouble.body["help"];
        refused.value = { of: typeof of === "string" ? of : null, words: `${trouble.message}${typeof help === "string" ? ` ${help}` : ""}` };
        requestAnimationFrame(() => document.querySelector<HTMLElement>("#leaf .answer-refused")?.focus());
    }
}

export function keepAs(): unknown {
    return html`<form
        class="row keep-as"
        @submit=${(event: Event) => {
            event.preventDefault();
            const name = asName.value.trim();
            if (!name) return;
            notKept.value = "";
            void save(name.endsWith(".kdl") ? name : `${name}.kdl`).then((trouble) => {
                if (trouble === null) asName.value = "";
                else notKept.value = trouble;
            });
        }}
    >
        <label>Name of the file <input .value=${asName.value} placeholder="my-scheme.kdl" @input=${(event: InputEvent) => (asName.value = (event.target as HTMLInputElement).value)} /></label>
        <button class="key" type="submit">${s.desk.value?.file === null || s.fileGone.value ? "Keep as a file" : "Keep as another file"}</button>
        ${notKept.value ? html`<span class="refusal" role="alert">${notKept.value}</span>` : nothing}
    </form>`;
}

export function schemesLeaf(): unknown {
    const list = listed.value;
    const asking = questions.value;
    if (asking) {
        return html`<h3>A new scheme</h3>
            <p class="soft">Every answer can be changed in the text later.</p>
            ${asking.map(
                (one) =>
                    html`<label class="asked"
                        ><b>${one.asks}</b>
                        ${one.about ? html`<span class="soft">${one.about}</span>` : nothing}
                        ${(one.choices ?? []).length > 0
                            ? html`<select @change=${(event: Event) => answer(one, (event.target as HTMLSelectElement).value)}>
                                  ${(one.choices ?? []).map(
                                      (choice) =>
                                          html`<option value=${choice.id} ?selected=${answers.value[one.id] === choice.id}>${choice.words}</option>`,
                                  )}
                              </select>`
                            : html`<input
                                  class=${refused.value?.of === one.id ? "answer-refused" : ""}
                                  aria-invalid=${refused.value?.of === one.id ? "true" : nothing}
                                  inputmode=${one.kind === "number" ? "decimal" : "text"}
                                  .value=${String(answers.value[one.id] ?? "")}
                                  @input=${(event: Event) => answer(one, (event.target as HTMLInputElement).value)}
                              />`}
                        ${refused.value?.of === one.id ? html`<span class="refusal" role="alert">${refused.value.words}</span>` : nothing}
                    </label>`,
            )}
            ${refused.value && refused.value.of === null ? html`<p class="refusal" role="alert">${refused.value.words}</p>` : nothing}
            <p class="soft">${caution.value}</p>
            <p class="row">
                <button class="key strong" @click=${() => void write()}>Draw it</button>
                <button class="word" @click=${() => (questions.value = null)}>Leave</button>
            </p>`;
    }
    const now = s.desk.value?.name;
    const row = (name: string, first: string, about: string): unknown =>
        html`<button class="pick ${name === now ? "so" : ""}" aria-current=${name === now ? "true" : nothing} @click=${() => void open(name)}>
            <b>${first}</b> <span class="soft">${about}</span>
        </button>`;
    const opened = new Set((list?.desks ?? []).map((one) => one.name));
    return html`<h3>Schemes</h3>
        ${list === null ? html`<p class="soft">Looking.</p>` : nothing}
        ${(list?.desks ?? []).map((one) => row(one.name, one.title || one.name, `${one.name}${one.draft ? ", not saved" : ""}`))}
        ${(list?.found ?? []).filter((one) => !opened.has(one.name)).length > 0 ? html`<h4>In the same folder</h4>` : nothing}
        ${(list?.found ?? []).filter((one) => !opened.has(one.name)).map((one) => row(one.name, one.name, ""))}
        ${(list?.examples ?? []).filter((one) => !opened.has(one.name)).length > 0 ? html`<h4>Examples</h4>` : nothing}
        ${(list?.examples ?? []).filter((one) => !opened.has(one.name)).map((one) => row(one.name, one.name, one.about))}
        <p class="row"><button class="key" @click=${() => void begin()}>Write a new one</button></p>
        <h4>This text</h4>
        ${keepAs()}
        <p class="soft">Everything stays on this computer.</p>`;
}
