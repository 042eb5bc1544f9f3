/**
 * One open scheme: opening, reading what is typed, keeping it, saving it, watching the file, and
 * the other tabs that show the same.
 */
import { batch, effect, untracked } from "@preact/signals-core";
import { ask, call, Gone, newest, Refused, running, stopped } from "./api";
import { draw, giveUp, otherText, replay, told } from "./play";
import { prove, stopProving } from "./proof";
import * as s from "./state";
import { apply, putText, smallest } from "./text";
import type { Act, Finding, Reading } from "./types";

export interface Listed {
    id: string;
    name: string;
    title: string;
    file: string | null;
    draft?: boolean;
}
export interface Schemes {
    version: string;
    desks: Listed[];
    found: { name: string }[];
    examples: { name: string; about: string }[];
}

interface Opened {
    desk: string;
    title?: string;
    file: string | null;
    text: string;
    disk_hash: string;
    draft: { text: string; lines_differ: number } | null;
}

const KEEP_AFTER_MS = 300;
const PROVE_AFTER_MS = 500;
/** How long a text is quiet before its worst corners are asked for. */
const WORST_AFTER_MS = 800;
const WATCH_EVERY_MS = 2500;

const newestReading = newest();
const newestOpening = newest();
const newestWorst = newest();
let channel: BroadcastChannel | null = null;
const tab = crypto.randomUUID();
let others = false;

export async function schemes(): Promise<Schemes> {
    return call<Schemes>("schemes");
}

export async function open(name: string): Promise<void> {
    try {
        const got = await call<Opened>("open", { name }, newestOpening());
        const kept = browserDraft(got.desk);
        const draft = got.draft?.text ?? (kept !== null && kept !== got.text ? kept : null);
        // What was typed a moment ago in the scheme before is kept before that is left.
        const left = s.desk.value;
        if (left && left.id !== got.desk) void keepDraft(left.id, s.text.value, left.diskText);
        giveUp();
        newestReading();
        batch(() => {
            s.desk.value = { id: got.desk, name, file: got.file, diskHash: got.disk_hash, diskText: got.text };
            s.good.value = null;
            s.latest.value = null;
            s.glass.value = null;
            s.bandsNow.value = null;
            s.run.value = null;
            s.cursor.value = 0;
            s.look.value = null;
            s.acts.value = [];
            s.start.value = null;
            s.storyOf.value = null;
            s.claimStory.value = null;
            s.chosen.value = null;
            s.marked.value = {};
            s.tag.value = null;
            s.pointed.value = null;
            s.ringed.value = [];
            s.caption.value = null;
            s.verdicts.value = [];
            s.provenText.value = null;
            s.proofState.value = "none";
            s.openClaim.value = null;
            s.worst.value = null;
            s.worstState.value = "none";
            s.fileGone.value = false;
            s.sheetNumber.value = 0;
            s.news.value = null;
            if (s.leaf.value !== "text") s.leaf.value = "hold";
        });
        s.keep("desk", name);
        listen(got.desk);
        putText(draft ?? got.text);
        if (draft !== null) {
            const lines = got.draft?.lines_differ ?? differing(got.text, draft);
            s.news.value = {
                what: "draft",
                words: `Your text from before was kept. It differs from the file in ${lines} ${lines === 1 ? "line" : "lines"}.`,
                theirs: got.text,
            };
        }
    } catch (trouble) {
        told(trouble);
    }
}

function differing(a: string, b: string): number {
    const old = a.split("\n");
    return b.split("\n").filter((line, at) => line !== old[at]).length;
}

/** Starts reading, keeping and watching; called once. */
export function attend(): void {
    let readTimer: ReturnType<typeof setTimeout> | undefined;
    let keepTimer: ReturnType<typeof setTimeout> | undefined;
    effect(() => {
        const text = s.text.value;
        const desk = s.desk.value;
        if (!desk) return;
        clearTimeout(proveTimer);
        clearTimeout(worstTimer);
        if (s.worst.peek()?.text !== text) newestWorst();
        if (s.caption.peek()?.kind === "edit") s.caption.value = null;
        if (s.good.peek()?.text !== text) untracked(stopProving);
        clearTimeout(readTimer);
        readTimer = setTimeout(() => void readOn());
        clearTimeout(keepTimer);
        keepTimer = setTimeout(() => void keepDraft(desk.id, text, desk.diskText), KEEP_AFTER_MS);
        if (!hearing) channel?.postMessage({ tab, text });
    });
    effect(() => {
        const acts = s.acts.value;
        const start = s.start.value;
        if (!hearing) channel?.postMessage({ tab, acts, start });
    });
    effect(() => {
        const runs = running.value;
        if (runs && s.desk.peek() !== null && s.latest.peek() !== null) void readOn();
    });
    setInterval(() => void watch(), WATCH_EVERY_MS);
    addEventListener("focus", () => void watch());
    document.addEventListener("visibilitychange", () => void watch());
    addEventListener("pagehide", () => {
        const desk = s.desk.value;
        if (desk) keepInBrowser(desk.id, s.text.value, desk.diskText);
    });
}

let readingNow = false;
let readAgain = false;

/** Reads what is typed: at once, and while an answer is under way once more behind it. */
export async function readOn(): Promise<void> {
    readAgain = true;
    if (readingNow) return;
    readingNow = true;
    try {
        while (readAgain) {
            readAgain = false;
            await read(s.text.value);
        }
    } finally {
        readingNow = false;
    }
}

async function read(text: string): Promise<void> {
    const desk = s.desk.value;
    if (!desk) return;
    try {
        // Strokes of the sheet turned to; those of another come when somebody turns to it.
        const manner = { sheets: true, plain: true, symbols: s.symbols.value, sheet: s.sheet.value?.number ?? 1 };
        const got = await ask<Reading>("read", desk.id, text, manner, newestReading());
        if (s.text.value !== text || s.desk.value?.id !== desk.id) return;
        const first = s.good.value === null;
        const same = s.good.value?.text === text;
        batch(() => {
            s.latest.value = got;
            if (got.ok) s.good.value = { text, reading: got };
            if (got.ok && !first && !same) otherText();
            if (s.sheetNumber.value >= (got.sheets?.length ?? 1)) s.sheetNumber.value = 0;
        });
        performance.mark("diagnostics");
        if (!got.ok && first) await drawFile(desk.id, desk.diskText);
        if (!got.ok) return;
        if (first && s.acts.value.length === 0) s.start.value = got.start ?? null;
        if (first || !same) void replay(first ? 0 : s.momentUs.value);
        else void draw();
        clearTimeout(proveTimer);
        if (s.provenText.value !== text || s.proofState.value !== "done") {
            proveTimer = setTimeout(() => void prove(), PROVE_AFTER_MS);
        }
        clearTimeout(worstTimer);
        if (s.worst.value?.text !== text) worstTimer = setTimeout(() => void findWorst(desk.id, text), WORST_AFTER_MS);
    } catch (trouble) {
        told(trouble);
    }
}

/** A draft that cannot be read yet is shown beside the drawing of its file. */
async function drawFile(id: string, disk: string): Promise<void> {
    const got = await ask<Reading>("read", id, disk, { sheets: true, plain: true });
    if (got.ok && s.good.value === null && s.desk.value?.id === id) s.good.value = { text: disk, reading: got };
}
let proveTimer: ReturnType<typeof setTimeout> | undefined;
let worstTimer: ReturnType<typeof setTimeout> | undefined;

/** What `check` finds beside the reading. It may take long: nothing waits for it. */
async function findWorst(id: string, text: string): Promise<void> {
    const stop = newestWorst();
    const still = (): boolean => s.text.value === text && s.desk.value?.id === id;
    if (!still()) return;
    s.worstState.value = "asked";
    try {
        const got = await ask<{ findings: Finding[] }>("check", id, text, {}, stop);
        if (!still()) return;
        batch(() => {
            s.worst.value = { text, findings: got.findings };
            s.worstState.value = "done";
        });
    } catch (trouble) {
        if (stopped(trouble) || !still()) return;
        s.worstState.value = trouble instanceof Gone ? "none" : "off";
        if (!(trouble instanceof Gone || trouble instanceof Refused)) throw trouble;
    }
}

// ── Nothing that was typed is lost ──────────────────────────────────

async function keepDraft(desk: string, text: string, disk: string): Promise<void> {
    keepInBrowser(desk, text, disk);
    try {
        if (text === disk) await call("forget", { desk });
        else await call("keep", { desk, text, disk_hash: s.desk.value?.diskHash });
    } catch (trouble) {
        if (!(trouble instanceof Gone || trouble instanceof Refused)) throw trouble;
    }
}

function keepInBrowser(desk: string, text: string, disk: string): void {
    if (text === disk) localStorage.removeItem(`fiftytwo.text.${desk}`);
    else s.keep(`text.${desk}`, text);
}

function browserDraft(desk: string): string | null {
    return localStorage.getItem(`fiftytwo.text.${desk}`);
}

/** Null where it is written; else why not, where a new file was asked for. */
export async function save(as: string | null = null): Promise<string | null> {
    const desk = s.desk.value;
    if (!desk) return null;
    const text = s.text.value;
    if (desk.file === null && as === null) {
        s.news.value = { what: "told", words: "" };
        return null;
    }
    try {
        const got = await call<{ disk_hash: string; desk?: string; name?: string; file?: string }>("save", {
            desk: desk.id,
            text,
            disk_hash: desk.diskHash,
            as,
        });
        if (as !== null) {
            localStorage.removeItem(`fiftytwo.text.${desk.id}`);
            await open(got.name ?? as);
            s.news.value = { what: "told", words: `Kept as ${got.file ?? got.name ?? as}.` };
            return null;
        }
        batch(() => {
            s.desk.value = { ...desk, diskHash: got.disk_hash, diskText: text };
            if (s.news.value?.what !== "other-tab") s.news.value = null;
        });
        channel?.postMessage({ tab, saved: { hash: got.disk_hash, text } });
    } catch (trouble) {
        if (trouble instanceof Refused && trouble.body["changed"] === true) {
            changed(String(trouble.body["theirs"] ?? ""), String(trouble.body["disk_hash"] ?? ""));
        } else if (trouble instanceof Refused && trouble.body["example"] === true) {
            s.news.value = { what: "told", words: "" };
        } else if (trouble instanceof Refused && as !== null) {
            const help = trouble.body["help"];
            return `${trouble.message}${typeof help === "string" ? ` ${help}` : ""}`;
        } else told(trouble);
    }
    return null;
}

function changed(theirs: string, hash: string): void {
    const desk = s.desk.value;
    if (!desk) return;
    if (theirs === s.text.value) {
        s.desk.value = { ...desk, diskHash: hash, diskText: theirs };
        return;
    }
    theirHash = hash;
    s.news.value = {
        what: "changed",
        words: "The file was changed by somebody else since you opened it. Nothing is overwritten.",
        theirs,
    };
}
let theirHash = "";

export function takeTheirs(): void {
    const desk = s.desk.value;
    const theirs = s.news.value?.theirs;
    if (!desk || theirs === undefined) return;
    batch(() => {
        if (s.news.value?.what === "changed") s.desk.value = { ...desk, diskHash: theirHash, diskText: theirs };
        s.news.value = null;
    });
    apply([smallest(s.text.value, theirs)]);
    s.text.value = theirs;
}

/** Mine stays, and the next save goes over theirs, which was seen. */
export function keepMine(): void {
    const desk = s.desk.value;
    const theirs = s.news.value?.theirs;
    if (desk && theirs !== undefined && s.news.value?.what === "changed") {
        s.desk.value = { ...desk, diskHash: theirHash, diskText: theirs };
    }
    s.news.value = null;
}

async function watch(): Promise<void> {
    const desk = s.desk.value;
    if (document.visibilityState === "hidden" || !desk) return;
    try {
        const got = await call<{ disk_hash: string; text?: string | null }>("disk", { desk: desk.id });
        const still = s.desk.value;
        if (still?.id === desk.id && s.fileGone.value && typeof got.text === "string") {
            s.fileGone.value = false;
            if (s.news.value?.what === "gone") s.news.value = null;
        }
        if (!still || still.id !== desk.id || got.disk_hash === still.diskHash || typeof got.text !== "string") return;
        if (s.text.value === still.diskText && got.text !== s.text.value) {
            // Nothing of mine is unsaved, still nobody's text is swapped unasked.
            changed(got.text, got.disk_hash);
        } else if (s.news.value?.theirs !== got.text) changed(got.text, got.disk_hash);
    } catch (trouble) {
        if (!(trouble instanceof Gone || trouble instanceof Refused)) throw trouble;
        if (!(trouble instanceof Refused) || trouble.status !== 404 || desk.file === null || s.desk.value?.id !== desk.id || s.fileGone.value) return;
        batch(() => {
            s.fileGone.value = true;
            s.news.value = { what: "gone", words: "The file is not there any more. Your text is kept here." };
        });
    }
}

// ── The same scheme in another tab ──────────────────────────────────

interface Told {
    tab: string;
    hello?: boolean;
    text?: string;
    acts?: Act[];
    start?: { given: string[] } | null;
    saved?: { hash: string; text: string };
}
let hearing = false;

function listen(id: string): void {
    channel?.close();
    others = false;
    channel = new BroadcastChannel(`fiftytwo:${id}`);
    channel.onmessage = (message: MessageEvent<Told>) => hear(message.data);
    channel.postMessage({ tab, hello: true });
}

function hear(told: Told): void {
    if (told.tab === tab) return;
    if (!others) {
        others = true;
        s.news.value ??= { what: "other-tab", words: "Open in another tab too: one text for both." };
    }
    hearing = true;
    if (told.hello === true) {
        channel?.postMessage({ tab, text: s.text.value, acts: s.acts.value, start: s.start.value });
    }
    if (told.saved && s.desk.value) {
        s.desk.value = { ...s.desk.value, diskHash: told.saved.hash, diskText: told.saved.text };
    }
    if (told.text !== undefined && told.text !== s.text.value) {
        if (s.news.value?.what === "draft") s.news.value = null;
        s.text.value = told.text;
    }
    if (told.acts && JSON.stringify(told.acts) !== JSON.stringify(s.acts.value)) {
        batch(() => {
            s.acts.value = told.acts ?? [];
            s.start.value = told.start ?? null;
            s.look.value = null;
        });
        void replay(s.acts.value.at(-1)?.at_us ?? 0);
    }
    hearing = false;
}
