/**
 * What happens: acts are collected, the program plays them, the page shows one event after another.
 *
 * In: acts of a hand, stories, a choice of an event. Out: `run`, `cursor`, `look`, `picture`,
 * `caption`. Never here: how any of it looks.
 */
import { batch } from "@preact/signals-core";
import { ask, Gone, newest, Refused, stopped } from "./api";
import * as s from "./state";
import type { Act, Mark, Picture, Run } from "./types";

const newestRun = newest();
const newestPicture = newest();
const newestWhy = newest();
let pending: ReturnType<typeof setTimeout> | null = null;
const SLOWLY_MS = 350;
/** A hand acts a little after all has come to rest, so that the chart shows one after the other. */
const AFTER_REST_US = 100_000;

/** The question about the run as it stands. */
export function asked(): object {
    const start = s.start.value;
    if (s.claimStory.value !== null) return { claim_story: s.claimStory.value, until_us: null };
    return { start: start ? { given: start.given } : null, story: null, acts: s.acts.value, until_us: null };
}

/** A hand turns, presses, sets, loses or resets at the moment shown; what came after is dropped. */
export function act(what: string, does: Act["do"], to: string | null, by: string | null): void {
    if (!s.fresh.value) return;
    stopWalking();
    const rest = s.look.value === null && s.run.value?.quiet === true && s.cursor.value >= s.run.value.events.length;
    const now = s.momentUs.value;
    const at_us = rest && s.acts.value.length > 0 ? now + AFTER_REST_US : now;
    if (s.claimStory.value !== null) {
        // A claim's story runs at its own times; whoever acts in it goes on at middle delays.
        s.start.value = s.run.value?.start ?? s.start.value;
        s.acts.value = s.run.value?.acts ?? [];
        s.storyOf.value = "from the story on, at middle delays";
        s.claimStory.value = null;
    }
    s.acts.value = [...s.acts.value.filter((old) => old.at_us <= now), { at_us, do: does, what, to, by }];
    clearWords();
    void replay(at_us);
}

export function beginAgain(): void {
    batch(() => {
        s.acts.value = [];
        s.start.value = s.reading.value?.start ?? null;
        s.storyOf.value = null;
        s.claimStory.value = null;
        s.run.value = null;
        s.cursor.value = 0;
        s.look.value = null;
        s.bandsNow.value = null;
        s.chosen.value = null;
    });
    clearWords();
    void replay(0);
}

/** Puts a story on the sheet, standing at event `at` or at its beginning. */
export async function playStory(
    story: { named: string } | { ofClaim: string },
    name: string,
    at: number | null,
): Promise<void> {
    stopWalking();
    batch(() => {
        s.acts.value = [];
        s.start.value = null;
        s.claimStory.value = "ofClaim" in story ? story.ofClaim : null;
        s.storyOf.value = name;
        s.look.value = null;
        s.cursor.value = 0;
        s.bandsNow.value = null;
    });
    clearWords();
    await replay(0, "named" in story ? story.named : null, at);
}

function clearWords(): void {
    batch(() => {
        s.look.value = null;
        s.marked.value = [];
        s.ringed.value = [];
        s.caption.value = null;
    });
}

/** Plays the acts anew; what came until `until` is shown at once, the rest as the pace says. */
export async function replay(until: number, story: string | null = null, at: number | null = null): Promise<void> {
    const good = s.good.value;
    const desk = s.desk.value;
    if (!good || !desk) return;
    stopWalking();
    const once = s.pace.value === "once" || calm();
    // The picture needs no answer about the run: both are asked for at the same time.
    const shown = at === null && story === null && s.claimStory.value === null ? drawAt(null, once ? null : until) : null;
    try {
        const body = { ...asked(), ...(story === null ? {} : { story }) };
        const got = await ask<Run>("run", desk.id, good.text, body, newestRun());
        batch(() => {
            s.run.value = got;
            if (got.acts && story !== null) {
                s.acts.value = got.acts;
                s.start.value = got.start ?? null;
            }
            if (got.refused) s.caption.value = { sentence: got.refused, kind: "refused" };
            const come = got.events.filter((event) => event.time_us <= until).length;
            s.cursor.value = once || at !== null ? got.events.length : come;
            if (at !== null && got.events.some((event) => event.n === at)) s.look.value = at;
        });
        if (at !== null && s.look.value !== null) return await why(at);
        await (shown ?? draw());
        if (!once && s.pace.value === "slowly") walk();
    } catch (trouble) {
        told(trouble);
    }
}

function calm(): boolean {
    return matchMedia("(prefers-reduced-motion: reduce)").matches && s.pace.value === "slowly";
}

function walk(): void {
    stopWalking();
    if (s.cursor.value >= (s.run.value?.events.length ?? 0)) return;
    pending = setTimeout(() => {
        step();
        walk();
    }, SLOWLY_MS);
}

export function stopWalking(): void {
    if (pending !== null) clearTimeout(pending);
    pending = null;
}

/** Reveals the next event that is more than a small step. */
function step(): void {
    const events = s.run.value?.events ?? [];
    let next = s.cursor.value;
    while (next < events.length) {
        const event = events[next];
        next += 1;
        if (event?.minor !== true || s.smallSteps.value) break;
    }
    batch(() => {
        s.cursor.value = next;
        s.look.value = null;
        s.caption.value = null;
        s.marked.value = events[next - 1]?.marks ?? [];
        s.ringed.value = [];
    });
    void draw();
}

export function nextEvent(): void {
    stopWalking();
    if (s.look.value !== null) {
        const after = s.shown.value.find((event) => event.n > (s.look.value ?? 0));
        if (after) return void why(after.n);
    }
    step();
}

function finish(): void {
    s.cursor.value = s.run.value?.events.length ?? 0;
    void draw();
}

export function setPace(pace: "event" | "slowly" | "once"): void {
    s.pace.value = pace;
    s.keep("pace", pace);
    if (pace === "event") stopWalking();
    else if (pace === "slowly" && !calm()) walk();
    else {
        stopWalking();
        finish();
    }
}

export function now(): void {
    clearWords();
    s.chosen.value = null;
    void draw();
}

/** Asks for the picture of the moment shown. */
export async function draw(): Promise<void> {
    const event = s.look.value ?? s.come.value.at(-1)?.n ?? null;
    await drawAt(event, event === null ? s.momentUs.value : null);
}

async function drawAt(event: number | null, until_us: number | null): Promise<void> {
    const good = s.good.value;
    const desk = s.desk.value;
    if (!good || !desk) return;
    const about = {
        ...asked(),
        ...(s.claimStory.value === null || until_us !== null ? { until_us } : {}),
        event,
        sheet: s.sheet.value?.number ?? 1,
        dark: s.night.value,
        symbols: s.symbols.value,
        plain: true,
    };
    try {
        const got = await ask<Picture>("picture", desk.id, good.text, about, newestPicture());
        batch(() => {
            s.picture.value = got;
            s.bandsNow.value = got.bands ?? null;
        });
        performance.mark("picture");
    } catch (trouble) {
        told(trouble);
    }
}

/** Looks at an event: the drawing goes to its moment, its path is marked, the caption says why. */
export async function why(n: number): Promise<void> {
    const good = s.good.value;
    const desk = s.desk.value;
    const event = s.run.value?.events.find((one) => one.n === n);
    if (!good || !desk || !event) return;
    stopWalking();
    batch(() => {
        s.look.value = n;
        s.ringed.value = [];
        s.marked.value = event.marks ?? [];
        s.caption.value = { sentence: sentence(event.what), beside: event.why ?? "", kind: "why" };
        const own = event.marks?.map((mark) => mark.sheet) ?? [];
        const wanted = event.sheet ?? own[0] ?? null;
        const there = s.sheets.value.findIndex((one) => one.number === wanted);
        if (there >= 0 && !own.includes(s.sheet.value?.number ?? 0)) s.sheetNumber.value = there;
    });
    const shown = draw();
    try {
        const got = await ask<{ sentence: string; beside?: string; marks?: Mark[]; causes?: number[] }>(
            "why",
            desk.id,
            good.text,
            { ...asked(), event: n },
            newestWhy(),
        );
        if (s.look.value === n) {
            batch(() => {
                s.caption.value = { sentence: got.sentence, beside: got.beside ?? "", kind: "why" };
                if (got.marks) s.marked.value = got.marks;
            });
        }
    } catch (trouble) {
        told(trouble);
    }
    await shown;
}

function sentence(words: string): string {
    return words.endsWith(".") ? words : `${words}.`;
}

interface WhyNot {
    goal: string;
    sentence: string;
    beside?: string;
    stands: { part: string; words: string; cause?: number | null }[];
}

/** What stands in the way of the breaker's next move, or of a coil. */
export async function whyNot(goal: object | null): Promise<void> {
    const good = s.good.value;
    const desk = s.desk.value;
    if (!good || !desk || !s.fresh.value) return;
    stopWalking();
    try {
        const at = s.look.value ?? s.come.value.at(-1)?.n ?? null;
        const got = await ask<WhyNot>("why-not", desk.id, good.text, { ...asked(), at, goal }, newestWhy());
        batch(() => {
            s.caption.value = { sentence: got.sentence, beside: got.beside ?? "", kind: "why-not" };
            s.ringed.value = got.stands.map((one) => one.part);
            s.marked.value = [];
        });
        showSheetOf(got.stands[0]?.part ?? null);
    } catch (trouble) {
        told(trouble);
    }
}

/** What a meter is expected to show at a piece of wire. */
export async function readingAt(wire: string): Promise<void> {
    const good = s.good.value;
    const desk = s.desk.value;
    if (!good || !desk || !s.fresh.value) return;
    try {
        const at = s.look.value ?? s.come.value.at(-1)?.n ?? null;
        const got = await ask<{ sentence: string; beside?: string }>(
            "reading",
            desk.id,
            good.text,
            { ...asked(), at, wire },
            newestWhy(),
        );
        s.caption.value = { sentence: got.sentence, beside: got.beside ?? "", kind: "reading" };
    } catch (trouble) {
        told(trouble);
    }
}

/** The volts from the supply to a coil where it gets least. */
export async function along(coil: string): Promise<void> {
    const good = s.good.value;
    const desk = s.desk.value;
    if (!good || !desk || !s.fresh.value) return;
    try {
        const got = await ask<{ sentence: string; beside?: string; marks?: Mark[] }>("along", desk.id, good.text, { part: coil }, newestWhy());
        batch(() => {
            s.caption.value = { sentence: got.sentence, beside: got.beside ?? "", kind: "reading" };
            s.marked.value = got.marks ?? [];
        });
    } catch (trouble) {
        told(trouble);
    }
}

/** Turns to the sheet on which a part or a piece of wire stands. */
export function showSheetOf(id: string | null): void {
    if (id === null) return;
    const there = s.sheets.value.findIndex(
        (one) => one.parts.some((part) => part.id === id) || one.wires.some((wire) => wire.id === id),
    );
    if (there >= 0 && there !== s.sheetNumber.value && !onSheet(id)) {
        s.sheetNumber.value = there;
        void draw();
    }
}

function onSheet(id: string): boolean {
    const sheet = s.sheet.value;
    return !!sheet && (sheet.parts.some((part) => part.id === id) || sheet.wires.some((wire) => wire.id === id));
}

export function told(trouble: unknown): void {
    if (stopped(trouble) || trouble instanceof Gone) return;
    if (trouble instanceof Refused) {
        if (trouble.body["unreadable"] === true) return;
        const help = trouble.body["help"];
        s.caption.value = {
            sentence: trouble.message,
            beside: typeof help === "string" ? help : "",
            kind: "refused",
        };
        return;
    }
    throw trouble;
}
