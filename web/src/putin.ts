/** Put a contact in, and the other edits on the drawing: a preview of the text's lines first. */
import { batch, effect, signal } from "@preact/signals-core";
import { html, nothing } from "lit-html";
import { ask, newest } from "./api";
import { placeOf, show } from "./go";
import { told } from "./play";
import * as s from "./state";
import { apply } from "./text";
import type { Change, Finding } from "./types";

interface Unused {
    device: string;
    contact: string;
    what: string;
    same_place: boolean;
    needs?: string | null;
}
/** A value of the part that can be set. */
interface Value {
    of: string | null;
    property: string;
    title: string;
    /** As written; empty where nothing is. */
    now: string;
}
interface Offers {
    leg?: string | null;
    unused: Unused[];
    may: string[];
    values?: Value[];
}
interface Edited {
    changes: Change[];
    lines: { line: number; text: string }[];
    /** Lines that go. */
    gone?: { line: number; text: string }[];
    sentence: string;
    refused?: string | null;
    findings?: Finding[];
}
interface Edit {
    do: string;
    part?: string;
    wire?: string;
    leg?: string;
    ends?: { from?: string; to?: string };
    of?: string | null;
    property?: string;
    how?: string;
    contact?: { device: string; contact: string } | null;
    to?: string | null;
}

const place = signal<string | null>(null);
const offers = signal<Offers | null>(null);
const edit = signal<Edit | null>(null);
const preview = signal<Edited | null>(null);
const newestEdit = newest();
const newestOffers = newest();
/** The text that the preview's changes are for. */
let previewOf = "";
let before: typeof s.leaf.value = "hold";

function isPart(id: string): boolean {
    return s.sheets.value.some((sheet) => sheet.parts.some((part) => part.id === id));
}

function target(id: string): { part?: string; wire?: string } {
    return isPart(id) ? { part: id } : { wire: id };
}

/** Kinds of parts that have no value to set. */
const BARE = new Set(["link", "terminal", "jumper"]);

export function hasValue(kind: string): boolean {
    return !BARE.has(kind);
}

/** Whether the text as it stands is read, once that is known. */
function isRead(): Promise<boolean> {
    return new Promise((resolve) => {
        let stop: (() => void) | null = null;
        let known = false;
        const look = (): void => {
            // What is pressed while the program does not run is not done later.
            if (!s.fresh.value && s.readable.value && s.serverRuns.value) return;
            known = true;
            resolve(s.fresh.value && s.serverRuns.value);
            stop?.();
        };
        stop = effect(look);
        if (known) stop();
    });
}

/** Opens the leaf for a piece of wire (put in) or a part (beside, replace, take out, set a value …). */
export async function openPutIn(id: string, deed = "put-in"): Promise<void> {
    // Right after an edit the text is still being read: what a hand does then is done a moment later.
    if (!(await isRead())) return;
    const desk = s.desk.value;
    if (!desk) return;
    if (!isPart(id) && !s.samePlaces.value) {
        s.caption.value = {
            sentence: "With these symbols a place is told by its part.",
            beside: "Choose the part above or below, then Change this place; or turn to bars and circles under Units.",
            kind: "refused",
        };
        return;
    }
    before = s.leaf.value === "put-in" ? before : s.leaf.value;
    batch(() => {
        place.value = id;
        offers.value = null;
        preview.value = null;
        edit.value = begun(deed, id);
        s.plus.value = id;
        s.leaf.value = "put-in";
    });
    try {
        const got = await ask<Offers>("offers", desk.id, s.text.value, { ...target(id), symbols: s.symbols.value }, newestOffers());
        if (place.value !== id) return;
        offers.value = got;
        const first = got.values?.[0];
        if (deed === "set" && first) await take(first);
        document.querySelector<HTMLElement>("#margin .pick, #margin .asked input")?.focus();
    } catch (trouble) {
        told(trouble);
    }
}

function begun(deed: string, id: string): Edit {
    return { do: deed, ...target(id), how: isPart(id) ? "before" : "after", contact: null };
}

/** A value is chosen to be set: it stands in the field as it is written now. */
async function take(value: Value): Promise<void> {
    const id = place.value;
    if (id !== null) await change({ ...begun("set", id), of: value.of, property: value.property, to: value.now });
}

function valueOf(now: Edit): Value | undefined {
    return offers.value?.values?.find((one) => one.property === now.property && one.of === (now.of ?? null));
}

export async function takeOut(id: string): Promise<void> {
    await openPutIn(id);
    if (place.value === id) await change({ do: "take-out", part: id });
}

async function change(next: Edit): Promise<void> {
    const desk = s.desk.value;
    if (!desk) return;
    edit.value = next;
    preview.value = null;
    const needsContact = next.do === "put-in" || next.do === "replace";
    const needsWords = next.do === "name" || next.do === "move-leg";
    if ((needsContact && !next.contact) || (needsWords && !next.to)) return;
    // A value that stands as it was written asks for nothing.
    if (next.do === "set" && (!next.property || next.to === valueOf(next)?.now)) return;
    try {
        const text = s.text.value;
        const got = await ask<Edited>("edit", desk.id, text, { edit: sent(next), symbols: s.symbols.value }, newestEdit());
        if (edit.value !== next) return;
        previewOf = text;
        preview.value = got;
    } catch (trouble) {
        told(trouble);
    }
}

/** The words typed go where this edit wants them. */
function sent(edit: Edit): Edit {
    const id = place.value;
    if (edit.do === "swap") {
        const parts = s.sheets.value.flatMap((one) => one.parts);
        const own = parts.find((one) => one.id === id);
        const next = parts
            .filter((one) => own && one.leg === own.leg && (one.order ?? 0) > (own.order ?? 0) && one.kind === own.kind)
            .toSorted((a, b) => (a.order ?? 0) - (b.order ?? 0))[0];
        return { ...edit, to: next?.id ?? "" };
    }
    if (edit.do !== "move-leg") return edit;
    const leg = s.sheets.value.flatMap((one) => [...one.parts, ...one.wires]).find((one) => one.id === id)?.leg;
    return { do: "move-leg", leg: offers.value?.leg ?? leg ?? "", ends: { from: edit.to ?? "" } };
}

export function leaveEdit(): void {
    const id = place.value;
    const here = document.activeElement === document.body || document.activeElement?.closest("#margin");
    batch(() => {
        place.value = null;
        edit.value = null;
        preview.value = null;
        s.plus.value = null;
        s.leaf.value = before;
    });
    show("sheet");
    // The keyboard goes on where the edit began.
    if (here && id !== null) placeOf(id)?.focus({ preventScroll: true });
}

function doIt(): void {
    const got = preview.value;
    if (!got || got.refused || got.changes.length === 0) return;
    if (previewOf !== s.text.value) {
        // Somebody went on writing: what the text will say is shown anew first.
        if (edit.value) void change(edit.value);
        return;
    }
    apply(got.changes);
    leaveEdit();
    s.caption.value = { sentence: got.sentence, beside: "Undo takes it back.", kind: "edit" };
}

const DOS: [string, string][] = [
    ["put-in", "Put one in"],
    ["replace", "Replace"],
    ["take-out", "Take out"],
    ["set", "Set a value"],
    ["swap", "Swap with the next"],
    ["name", "Name"],
    ["move-leg", "Move the leg’s feed"],
];
const TITLES: Record<string, string> = {
    "put-in": "Put a contact in",
    replace: "Replace",
    "take-out": "Take out",
    set: "Set a value",
    swap: "Swap",
    name: "Name this wire",
    "move-leg": "Move the leg’s feed",
};

export function putInLeaf(): unknown {
    const now = edit.value;
    const id = place.value;
    if (!now || id === null) return nothing;
    const may = offers.value?.may ?? ["put-in"];
    const part = isPart(id);
    const named = s.sheets.value.flatMap((one) => [...one.parts, ...one.wires]).find((one) => one.id === id);
    const name = named === undefined ? id : "part" in named ? named.part : named.wire;
    const about = now.do === "move-leg" ? (offers.value?.leg ?? named?.leg ?? name) : name;
    return html`<h3>${TITLES[now.do] ?? now.do}: ${about}</h3>
        <div class="row dos" role="group" aria-label="What to do here">
            ${DOS.filter(([word]) => may.includes(word)).map(
                ([word, words]) =>
                    html`<button
                        class="key ${now.do === word ? "so" : ""}"
                        aria-pressed=${now.do === word ? "true" : "false"}
                        @click=${() => {
                            const first = offers.value?.values?.[0];
                            if (word === "set" && first) void take(first);
                            else void change(begun(word, id));
                        }}
                    >
                        ${words}
                    </button>`,
            )}
        </div>
        ${now.do === "put-in"
            ? html`<div class="row" role="group" aria-label="How">
                  ${(part ? [["before", "above it"], ["after", "below it"], ["beside", "beside it"]] : [["after", "in series"], ["beside", "beside the part above"]]).map(
                      ([how, words]) =>
                          html`<button
                              class="key ${now.how === how ? "so" : ""}"
                              aria-pressed=${now.how === how ? "true" : "false"}
                              @click=${() => void change({ ...now, how: how ?? "after" })}
                          >
                              ${words}
                          </button>`,
                  )}
              </div>`
            : nothing}
        ${now.do === "put-in" || now.do === "replace" ? picker(now) : nothing}
        ${now.do === "set" ? valuesOf(now) : nothing}
        ${now.do === "name" || now.do === "move-leg" ? asked(now) : nothing} ${after()}
        <p class="row">
            <button
                class="key strong"
                ?disabled=${!preview.value || !!preview.value.refused || preview.value.changes.length === 0}
                @click=${doIt}
            >
                ${DOS.find(([word]) => word === now.do)?.[1] ?? "Do it"}
            </button>
            <button class="word" @click=${leaveEdit}>Leave as it was</button>
        </p>`;
}

function picker(now: Edit): unknown {
    const list = offers.value;
    if (!list) return html`<p class="soft">Looking for contacts that are not used yet.</p>`;
    const here = list.unused.filter((one) => one.same_place);
    const far = list.unused.filter((one) => !one.same_place);
    if (list.unused.length === 0) return html`<p class="soft">Every contact is used. Declare another in the text.</p>`;
    const rows = (all: Unused[]): unknown =>
        html`<div role="group">
            ${all.map((one) => {
                const so = now.contact?.device === one.device && now.contact.contact === one.contact;
                return html`<button
                    class="pick ${so ? "so" : ""}"
                    aria-pressed=${so ? "true" : "false"}
                    @click=${() => void change({ ...now, contact: { device: one.device, contact: one.contact } })}
                >
                    <b>${one.device} ${one.contact}</b>, ${one.what}
                    ${one.needs ? html`<span class="soft">${one.needs}</span>` : nothing}
                </button>`;
            })}
        </div>`;
    return html`${here.length > 0 ? html`<h4>Not used yet, in this place</h4>${rows(here)}` : nothing}
    ${far.length > 0 ? html`<h4>Not used yet, in another place</h4>${rows(far)}` : nothing}`;
}

/** The values of the part, each as it is written now, and a field for the one that is chosen. */
function valuesOf(now: Edit): unknown {
    const list = offers.value;
    if (!list) return html`<p class="soft">Looking for what can be set here.</p>`;
    const chosen = valueOf(now);
    return html`<div class="values" role="group" aria-label="Which value">
            ${(list.values ?? []).map((one) => {
                const so = one === chosen;
                return html`<button class="pick ${so ? "so" : ""}" aria-pressed=${so ? "true" : "false"} @click=${() => void take(one)}>
                    <b>${one.title}</b>${one.of ? html` of ${one.of}` : nothing} <span class="soft">${one.now || "nothing written yet"}</span>
                </button>`;
            })}
        </div>
        ${chosen
            ? html`<label class="asked"
                  >${chosen.title}
                  <input
                      .value=${now.to ?? ""}
                      @input=${(event: InputEvent) => void change({ ...now, to: (event.target as HTMLInputElement).value })}
                      @keydown=${(event: KeyboardEvent) => {
                          if (event.key === "Enter") doIt();
                      }}
                  />
              </label>`
            : nothing}`;
}

function asked(now: Edit): unknown {
    const words = now.do === "name" ? "Its name" : "From which wire";
    return html`<label class="asked"
        >${words}
        <input
            list=${now.do === "move-leg" ? "wires" : nothing}
            .value=${now.to ?? ""}
            @input=${(event: InputEvent) => void change({ ...now, to: (event.target as HTMLInputElement).value })}
        />
        <datalist id="wires">${(s.reading.value?.wires ?? []).map((wire) => html`<option value=${wire}></option>`)}</datalist>
    </label>`;
}

function after(): unknown {
    const got = preview.value;
    if (!got) return nothing;
    if (got.refused) return html`<p class="refusal"><b>${got.refused}</b></p>`;
    const errors = (got.findings ?? []).filter((one) => one.severity === "error");
    const told = (words: string, lines: Edited["lines"]): unknown =>
        lines.length > 0 ? html`<h4>${words}</h4><pre class="lines">${lines.map((one) => one.text).join("\n")}</pre>` : nothing;
    return html`${told("The text will say", got.lines)} ${told("What goes", got.gone ?? [])}
        <p>${got.sentence}</p>
        ${errors.map((one) => html`<p class="refusal">${one.line ? `Line ${one.line}: ` : ""}${one.message}</p>`)}`;
}
