/**
 * The text: an editor whose text is the truth of everything else.
 *
 * In: the text of the desk, findings, changes from the drawing. Out: the text as typed. Never here:
 * reading it.
 */
import { autocompletion, closeBrackets, type Completion, type CompletionContext, type CompletionResult } from "@codemirror/autocomplete";
import { defaultKeymap, history, historyKeymap, indentWithTab, redo, undo } from "@codemirror/commands";
import { indentUnit } from "@codemirror/language";
import { search, searchKeymap } from "@codemirror/search";
import { Annotation, EditorState, StateEffect, StateField, Transaction } from "@codemirror/state";
import { Decoration, type DecorationSet, drawSelection, EditorView, highlightActiveLine, keymap, lineNumbers, WidgetType } from "@codemirror/view";
import { effect } from "@preact/signals-core";
import { html, nothing, render } from "lit-html";
import { ask, call } from "./api";
import { save } from "./desk";
import { wantedLine, goToPart } from "./go";
import { ink, kdl } from "./kdl";
import { paint } from "./paint";
import { told } from "./play";
import * as s from "./state";
import type { Change, Finding } from "./types";

let view: EditorView | null = null;
const fromElsewhere = Annotation.define<boolean>();
const showSlips = StateEffect.define<Finding[]>();
let words: Completion[] = [];

/** The sentence about a slip, below its line, with what can be written instead. */
class Sentence extends WidgetType {
    constructor(readonly slip: Finding) {
        super();
    }
    override eq(other: Sentence): boolean {
        return JSON.stringify(other.slip) === JSON.stringify(this.slip);
    }
    toDOM(): HTMLElement {
        // The editor counts a widget's height without margins: the room about it is padding.
        const outer = document.createElement("div");
        outer.className = "slip-room";
        const box = document.createElement("div");
        box.className = "slip-words";
        outer.append(box);
        const { slip } = this;
        render(
            html`<p>${slip.line ? `Line ${slip.line}: ` : ""}${slip.message}</p>
                ${slip.why ? html`<p class="soft">${slip.why}</p>` : nothing} ${slip.help ? html`<p>${slip.help}</p>` : nothing}
                ${(slip.instead ?? []).length > 0
                    ? html`<p class="row">
                          ${(slip.instead ?? []).slice(0, 4).map(
                              (instead) =>
                                  html`<button class="key" @click=${() => write(slip, instead)}>Write ${instead.replace(/^"(.*)"$/, "$1")}</button>`,
                          )}
                      </p>`
                    : nothing}`,
            box,
        );
        return outer;
    }
    override ignoreEvent(): boolean {
        return true;
    }
}

/** Writes a name instead of the one that a slip is about; quotes around it stay. */
function write(slip: Finding, instead: string): void {
    if (!view || slip.from === null || slip.from === undefined || slip.to === null || slip.to === undefined) return;
    const old = view.state.sliceDoc(slip.from, slip.to);
    const found = /^([\w-]+=)?"[^"]*"$/.exec(old);
    const insert = found && !instead.includes('"') ? `${found[1] ?? ""}"${instead}"` : instead;
    apply([{ from: slip.from, to: slip.to, insert }]);
    view.focus();
}

const slips = StateField.define<DecorationSet>({
    create: () => Decoration.none,
    update(old, change) {
        let now = old.map(change.changes);
        for (const one of change.effects) {
            if (one.is(showSlips)) now = marks(change.state, one.value);
        }
        return now;
    },
    provide: (field) => EditorView.decorations.from(field),
});

function marks(state: EditorState, found: Finding[]): DecorationSet {
    const all = found.flatMap((slip) => {
        const last = state.doc.lines;
        const line = state.doc.line(Math.min(Math.max(slip.line ?? 1, 1), last));
        const from = Math.min(slip.from ?? line.from, state.doc.length);
        const to = Math.min(Math.max(slip.to ?? line.to, from), state.doc.length);
        const under = from < to ? [Decoration.mark({ class: "slip" }).range(from, to)] : [];
        const end = state.doc.lineAt(to > from ? to : line.from).to;
        return [...under, Decoration.widget({ widget: new Sentence(slip), block: true, side: 1 }).range(end)];
    });
    return Decoration.set(all, true);
}

/** Our words from the vocabulary, and the names that the text has given. */
function complete(context: CompletionContext): CompletionResult | null {
    const line = context.state.doc.lineAt(context.pos);
    const before = line.text.slice(0, context.pos - line.from);
    const open = openQuote(before);
    if (open !== null) {
        if (isNew(before.slice(0, open))) return null;
        return { from: line.from + open + 1, options: names(), validFor: /^[^"\n]*$/ };
    }
    if (before.endsWith('"')) return null;
    const word = context.matchBefore(/[\w-]+/);
    if (!word && !context.explicit) return null;
    return { from: word?.from ?? context.pos, options: words, validFor: /^[\w-]*$/ };
}

/** Where the quote begins in which this stretch of a line ends; none where it ends outside. */
function openQuote(before: string): number | null {
    let open: number | null = null;
    for (let at = 0; at < before.length; at += 1) {
        if (open !== null && before[at] === "\\") at += 1;
        else if (before[at] === '"') open = open === null ? at : null;
        else if (open === null && before.startsWith("//", at)) return null;
    }
    return open;
}

/** Words whose first name is one that stands elsewhere; after every other word a new name begins. */
const SPEAKS_OF = /(?:^|[{;])\s*(?:contact|coil|input|wire|circuit|core|trip-by|close-by|goes-after|close-needs|close-permits|backup-by|on-open|on-close|watches|becomes|given|expect|lamp|link|terminals|person|waive)\s*$/;

function isNew(before: string): boolean {
    return /(?:^|[{;])\s*[\w-]+\s*$/.test(before) && !SPEAKS_OF.test(before);
}

function names(): Completion[] {
    const devices = s.reading.value?.devices ?? [];
    const found: Completion[] = [];
    for (const device of devices) {
        found.push({ label: device.name, detail: device.title, type: "device" });
        for (const contact of device.contacts) {
            found.push({
                label: contact.name,
                detail: `${device.name}, ${contact.what}${contact.used_line ? `, used in line ${contact.used_line}` : ", not used yet"}`,
                type: "contact",
                boost: contact.used_line ? -1 : 1,
            });
        }
        for (const coil of device.coils) found.push({ label: coil, detail: `coil of ${device.name}` });
    }
    for (const wire of s.reading.value?.wires ?? []) found.push({ label: wire, detail: "wire" });
    for (const cable of s.reading.value?.cables ?? []) {
        found.push({ label: cable.name, detail: `${cable.about}, free cores: ${cable.free.join(", ") || "none"}` });
    }
    for (const cable of s.text.value.matchAll(/^\s*(place|supply|condition)\s+"([^"]+)"(?:\s+"([^"]+)")?/gm)) {
        found.push({ label: cable[2] ?? "", detail: `${cable[1]}${cable[3] ? `, ${cable[3]}` : ""}` });
    }
    const once = new Map(found.map((one) => [`${one.label}|${one.detail}`, one]));
    return [...once.values()];
}

export function textView(host: HTMLElement): void {
    const head = document.createElement("div");
    head.className = "text-head";
    const room = document.createElement("div");
    room.className = "editor";
    host.append(head, room);
    view = new EditorView({
        parent: room,
        state: fresh(s.text.value),
    });
    void call<{ words?: { word: string; kind: string; about: string }[] } | { word: string; kind: string; about: string }[]>("words")
        .then((got) => {
            const list = Array.isArray(got) ? got : (got.words ?? []);
            words = list.map((one) => ({ label: one.word, detail: one.kind, info: one.about, type: "keyword" }));
        })
        .catch(() => undefined);
    paint(headOf, head);
    effect(() => {
        const found = s.slips.value;
        view?.dispatch({ effects: showSlips.of(found) });
    });
    effect(() => {
        const wanted = wantedLine.value;
        if (!wanted || !view) return;
        requestAnimationFrame(() => {
            if (!view) return;
            const line = view.state.doc.line(Math.min(Math.max(1, wanted.line), view.state.doc.lines));
            view.dispatch({
                selection: { anchor: line.from },
                effects: EditorView.scrollIntoView(line.from, { y: "center" }),
            });
        });
    });
    effect(() => {
        const now = s.text.value;
        if (view && view.state.doc.toString() !== now) {
            view.dispatch({ changes: smallest(view.state.doc.toString(), now), annotations: fromElsewhere.of(true) });
        }
    });
}

function fresh(text: string): EditorState {
    return EditorState.create({
        doc: text,
        extensions: [
            lineNumbers(),
            history(),
            drawSelection(),
            highlightActiveLine(),
            indentUnit.of("    "),
            EditorState.tabSize.of(4),
            closeBrackets(),
            kdl,
            ink,
            slips,
            search({ top: true }),
            autocompletion({ override: [complete], icons: false, selectOnOpen: false }),
            EditorView.lineWrapping,
            EditorView.contentAttributes.of({ "aria-label": "Text of the scheme", spellcheck: "false", tabindex: "0" }),
            keymap.of([
                { key: "Mod-s", run: () => (void save(), true) },
                { key: "Escape", run: (here) => (leave(here), true) },
                ...searchKeymap,
                ...historyKeymap,
                ...defaultKeymap,
                indentWithTab,
            ]),
            EditorView.updateListener.of((update) => {
                if (update.docChanged && !update.transactions.some((one) => one.annotation(fromElsewhere))) {
                    s.text.value = update.state.doc.toString();
                }
                if (update.selectionSet && update.view.hasFocus && !update.docChanged) follow(update.state);
            }),
        ],
    });
}

/** The keyboard leaves the editor for a place where a letter typed on does nothing. */
function leave(here: EditorView): void {
    here.contentDOM.blur();
    const place = document.querySelector<HTMLElement>("#tab-text") ?? document.querySelector<HTMLElement>(".text-head .word:not(:disabled)");
    place?.focus();
}

/** The part whose line the cursor stands in is chosen on the drawing. */
function follow(state: EditorState): void {
    if (!s.fresh.value) return;
    const line = state.doc.lineAt(state.selection.main.head).number;
    for (const sheet of s.sheets.value) {
        const part = sheet.parts.find((one) => one.line === line);
        if (part) {
            void goToPart(part.id);
            return;
        }
    }
}

/** A new desk: a text without a past. */
export function putText(text: string): void {
    view?.setState(fresh(text));
    s.text.value = text;
}

/** Changes of the text from the drawing: one step back undoes them together. */
export function apply(changes: Change[]): void {
    if (!view) return;
    view.dispatch({
        changes: changes.map((one) => ({ from: one.from, to: one.to, insert: one.insert })),
        annotations: Transaction.userEvent.of("input.drawing"),
    });
}

export function undoText(): void {
    if (view) undo(view);
}

export function redoText(): void {
    if (view) redo(view);
}

/** The one stretch in which two texts differ. */
export function smallest(old: string, now: string): Change {
    let from = 0;
    const least = Math.min(old.length, now.length);
    while (from < least && old[from] === now[from]) from += 1;
    let end = 0;
    while (end < least - from && old[old.length - 1 - end] === now[now.length - 1 - end]) end += 1;
    return { from, to: old.length - end, insert: now.slice(from, now.length - end) };
}

export async function tidy(): Promise<void> {
    const desk = s.desk.value;
    if (!desk) return;
    try {
        const text = s.text.value;
        const got = await ask<{ changes: Change[] }>("format", desk.id, text);
        if (s.text.value === text) apply(got.changes);
    } catch (trouble) {
        told(trouble);
    }
}

function headOf(): unknown {
    const lines = new Set(s.slips.value.map((slip) => slip.line)).size;
    const state = s.readable.value ? "All lines read" : lines === 1 ? "1 line can’t be read" : `${lines} lines can’t be read`;
    return html`<p class="text-state">
            ${s.readable.value ? state : html`<b>${state}</b>`} · ${standing()}
        </p>
        <span class="row">
            <button class="word" ?disabled=${!s.readable.value} @click=${() => void tidy()}>Tidy</button>
            <button class="word" @click=${undoText}>Undo</button>
            <button class="key" ?disabled=${!running()} @click=${() => void save()}>Save</button>
        </span>`;
}

function standing(): string {
    if (s.fileGone.value) return "not saved: the file is gone";
    if (s.news.value?.what === "changed") return "the file says otherwise";
    return s.saved.value ? "saved" : "not saved";
}

function running(): boolean {
    return s.serverRuns.value;
}
