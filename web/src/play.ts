/**
 * What happens: acts are collected, the program plays them, the page shows one event after another.
 *
 * In: acts of a hand, stories, a choice of an event. Out: `run`, `cursor`, `look`, `picture`,
 * `caption`. Never here: how any of it looks.
 */
import { batch } from "@preact/signals-core";
import { ask, Gone, newest, Refused, stopped } from "./api";
import * as s from "./state";
import type { Act, Happening, Mark, Picture, Reading, Run, Sheet, Way } from "./types";

const newestRun = newest();
const newestPicture = newest();
const newestWhy = newest();
let pending: ReturnType<typeof setTimeout> | null = null;
const SLOWLY_MS = 350;
/** A hand acts a little after all has come to rest, so that the chart shows one after the other. */
const AFTER_REST_US = 100_000;
/** What is under way without a time of its own is followed so much longer. */
const AGAIN_US = 5_000_000;

/** The question about the run as it stands. */
export function asked(): object {
    const start = s.start.value;
    const symbols = s.symbols.value;
    if (s.claimStory.value !== null) return { claim_story: s.claimStory.value, until_us: null, symbols };
    const tail_us = s.tailUs.value;
    return { start: start ? { given: start.given } : null, story: null, acts: s.acts.value, until_us: null, tail_us, symbols };
}

/** The text that the run is one of. */
let runOf: string | null = null;

/** The run that was asked for and has not come yet. */
let under: Promise<void> | null = null;

/**
 * Does it once the run under way has come: what a hand does next, it does at the moment that the
 * page then shows, however slow the machine is.
 */
export function inTurn(does: () => void): void {
    if (under === null) does();
    else void under.then(() => inTurn(does));
}

/** A hand turns, presses, sets, loses or resets at the moment shown; what came after is dropped. */
export function act(what: string, does: Act["do"], to: string | null, by: string | null): void {
    if (!s.fresh.value) return;
    stopWalking();
    const rest = s.look.value === null && s.run.value?.quiet === true && s.cursor.value >= s.run.value.events.length;
    const now = s.momentUs.value;
    const at_us = rest && s.acts.value.length > 0 ? now + AFTER_REST_US : now;
    const before = { acts: s.acts.value, tail: s.tailUs.value, start: s.start.value, claim: s.claimStory.value, of: s.storyOf.value };
    const undo = (): void =>
        batch(() => {
            s.acts.value = before.acts;
            s.tailUs.value = before.tail;
            s.start.value = before.start;
            s.claimStory.value = before.claim;
            s.storyOf.value = before.of;
        });
    batch(() => {
        goOnByHand();
        s.tailUs.value = null;
        s.acts.value = [...s.acts.value.filter((old) => old.at_us <= now), { at_us, do: does, what, to, by }];
        clearWords();
    });
    const dropped = before.acts.filter((old) => old.at_us > now).length;
    void replay(at_us, null, null, undo).then(() => {
        if (dropped === 0 || s.caption.value !== null) return;
        const what = dropped === 1 ? "what was done later was dropped" : `${dropped} later acts were dropped`;
        s.caption.value = { sentence: `Done at the moment shown: ${what}, and all that came of it.`, kind: "edit" };
    });
}

/** A claim's story runs at its own times; whoever acts in it goes on at middle delays. */
export function goOnByHand(): void {
    if (s.claimStory.value === null) return;
    batch(() => {
        s.start.value = s.run.value?.start ?? s.start.value;
        s.acts.value = s.run.value?.acts ?? [];
        s.storyOf.value = "from the story on, at middle delays";
        s.claimStory.value = null;
    });
}

/** Another text: a claim's story is none of it, and what was said of the moment before is over. */
export function otherText(): void {
    const story = s.claimStory.value !== null;
    const edited = s.caption.value?.kind === "edit" || s.caption.value?.of !== undefined ? s.caption.value : null;
    const look = s.look.value;
    batch(() => {
        clearWords();
        if (!story) {
            s.look.value = look;
            s.caption.value = edited;
            return;
        }
        forget();
        s.glass.value = s.sheet.value === null ? null : { sheet: s.sheet.value, picture: null };
        s.caption.value = edited ?? {
            sentence: "The text was changed: the run begins anew.",
            beside: "The story was one of the text before. Play it again once its claim is decided.",
            kind: "edit",
        };
    });
}

function forget(): void {
    s.acts.value = [];
    s.tailUs.value = null;
    s.start.value = s.reading.value?.start ?? null;
    s.storyOf.value = null;
    s.claimStory.value = null;
    s.run.value = null;
    s.cursor.value = 0;
    s.look.value = null;
    s.bandsNow.value = null;
}

/** Gives up every question about the scheme that was open. */
export function giveUp(): void {
    stopWalking();
    newestRun();
    newestPicture();
    newestWhy();
}

export function beginAgain(): void {
    batch(() => {
        forget();
        s.chosen.value = null;
        clearWords();
    });
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
        s.tailUs.value = null;
        s.start.value = null;
        s.claimStory.value = "ofClaim" in story ? story.ofClaim : null;
        s.storyOf.value = name;
        s.look.value = null;
        s.cursor.value = 0;
        s.bandsNow.value = null;
        clearWords();
    });
    await replay(0, "named" in story ? story.named : null, at);
}

function clearWords(): void {
    // An answer about the moment before would put its rings on this one.
    newestWhy();
    batch(() => {
        s.look.value = null;
        s.marked.value = {};
        s.ringed.value = [];
        s.tag.value = null;
        s.caption.value = null;
    });
}

interface Standing {
    text: string;
    desk: string;
    /** Whether the page still shows this text. */
    still: () => boolean;
}

function standing(): Standing | null {
    const text = s.good.value?.text;
    const desk = s.desk.value?.id;
    if (text === undefined || desk === undefined) return null;
    return { text, desk, still: () => s.good.value?.text === text && s.desk.value?.id === desk };
}

/** Plays the acts anew; an act that reaches no program is taken back by `undo`. What came until `until` is shown at once, the rest as the pace says. */
export function replay(
    until: number,
    story: string | null = null,
    at: number | null = null,
    undo: (() => void) | null = null,
): Promise<void> {
    const own = played(until, story, at, undo).finally(() => {
        if (under === own) under = null;
    });
    under = own;
    return own;
}

async function played(until: number, story: string | null, at: number | null, undo: (() => void) | null): Promise<void> {
    const about = standing();
    if (!about) return;
    stopWalking();
    const once = s.pace.value === "once" || calm();
    const old = { text: runOf, looked: s.run.value?.events.find((event) => event.n === s.look.value) };
    let gone = false;
    const now = at === null && story === null && s.claimStory.value === null && s.look.value === null;
    // The picture of now needs no answer about the run: both are asked for, and shown, together.
    const body = { ...asked(), ...(story === null ? {} : { story }) };
    const [got, picture] = await Promise.all([
        ask<Run>("run", about.desk, about.text, body, newestRun()).catch((trouble: unknown) => {
            gone = trouble instanceof Gone;
            return none(trouble);
        }),
        now ? pictureAt(null, once ? null : until) : null,
    ]);
    if (!about.still()) return;
    if (got === null) {
        // Nothing is done later that nobody sees being done.
        if (gone) undo?.();
        else if (old.text !== about.text) batch(() => ((s.run.value = null), (s.cursor.value = 0), (s.look.value = null)));
        if (picture) show(picture);
        return;
    }
    runOf = about.text;
    let same = false;
    batch(() => {
        s.run.value = got;
        const refused = new Set(got.refused_acts ?? []);
        if (story === null && s.claimStory.value === null && refused.size > 0) {
            s.acts.value = s.acts.value.filter((_, at) => !refused.has(at));
        }
        if (got.acts && story !== null) {
            s.acts.value = got.acts;
            s.start.value = got.start ?? null;
        }
        if (got.refused) s.caption.value = { sentence: got.refused, kind: "refused" };
        const come = got.events.filter((event) => event.time_us <= until).length;
        s.cursor.value = once || at !== null ? got.events.length : come;
        const there = (n: number | null): boolean => got.events.some((event) => event.n === n);
        if (at !== null && there(at)) s.look.value = at;
        else if (!there(s.look.value)) s.look.value = null;
        else if (old.text !== about.text) {
            const event = got.events.find((one) => one.n === s.look.value);
            same = event?.what === old.looked?.what && event?.time_us === old.looked?.time_us;
            if (!same) s.look.value = null;
        }
        if (picture) show(picture);
    });
    if (at !== null && s.look.value === at) return await why(at);
    if (same && s.look.value !== null) return await why(s.look.value);
    if (!picture) await draw();
    if (!once && s.pace.value === "slowly" && s.look.value === null && s.run.value === got) walk();
}

/** Nothing came: said, where there is something to say. */
function none(trouble: unknown): null {
    told(trouble);
    return null;
}

function calm(): boolean {
    return matchMedia("(prefers-reduced-motion: reduce)").matches && s.pace.value === "slowly";
}

/** The next event comes once the picture of the one before is there. */
function walk(): void {
    stopWalking();
    if (s.cursor.value >= (s.run.value?.events.length ?? 0)) return;
    const own = setTimeout(() => {
        void step().then(() => {
            if (pending === own) walk();
        });
    }, SLOWLY_MS);
    pending = own;
}

export function stopWalking(): void {
    if (pending !== null) clearTimeout(pending);
    pending = null;
}

/** Reveals the next event that is more than a small step. */
function step(): Promise<void> {
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
        s.marked.value = wayOf(events[next - 1]);
        s.ringed.value = [];
    });
    return draw();
}

export function nextEvent(): void {
    stopWalking();
    if (s.look.value !== null) {
        const after = s.shown.value.find((event) => event.n > (s.look.value ?? 0));
        if (after) return void why(after.n);
    }
    if (standsBeforeMore()) void waitForMore();
    else void step();
}

/** Whether all that was followed is shown and something is still under way. */
export function standsBeforeMore(): boolean {
    const run = s.run.value;
    return run?.more === true && s.claimStory.value === null && s.cursor.value >= run.events.length;
}

/** Nobody acts, and time goes on until something that is under way is done: a spring is charged, a timer runs out. */
async function waitForMore(): Promise<void> {
    const run = s.run.value;
    if (!run) return;
    const due = Math.min(...(run.pending ?? []).map((one) => one.latest_us ?? one.earliest_us));
    const until = Math.max(run.now_us, Number.isFinite(due) ? due : run.now_us + AGAIN_US) + AFTER_REST_US;
    const had = run.events.length;
    batch(() => {
        s.tailUs.value = until - (s.acts.value.at(-1)?.at_us ?? 0);
        clearWords();
    });
    await replay(s.momentUs.value);
    if (s.cursor.value === had && s.pace.value !== "once") await step();
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

/** Asks for the picture of the moment shown, on the sheet turned to. */
export async function draw(): Promise<void> {
    const event = s.look.value ?? s.come.value.at(-1)?.n ?? null;
    const got = await pictureAt(event, event === null ? s.momentUs.value : null);
    if (got) show(got);
}

interface Shown {
    sheet: Sheet;
    picture: Picture | null;
}

/** The strokes that are asked for now, by text and sheet. */
const strokes = new Map<string, Promise<Sheet>>();

/** A sheet with its strokes: asked for, once, where they did not come with the reading. */
function drawnSheet(sheet: Sheet, about: Standing): Promise<Sheet> {
    if (sheet.svg !== "") return Promise.resolve(sheet);
    const which = `${sheet.number} ${s.symbols.value} ${about.desk} ${about.text}`;
    const asked = strokes.get(which);
    if (asked) return asked;
    const own = strokesOf(sheet, about).finally(() => strokes.delete(which));
    strokes.set(which, own);
    return own;
}

async function strokesOf(sheet: Sheet, about: Standing): Promise<Sheet> {
    const manner = { sheets: true, plain: true, symbols: s.symbols.value, sheet: sheet.number };
    const got = await ask<Reading>("read", about.desk, about.text, manner);
    const own = got.sheets?.find((one) => one.number === sheet.number);
    const good = s.good.value;
    if (!own || !good || !about.still()) return sheet;
    const now = s.sheets.value.find((one) => one.number === sheet.number);
    if (now && now.svg !== "") return now;
    const sheets = s.sheets.value.map((one) => (one.number === own.number ? own : one));
    s.good.value = { text: good.text, reading: { ...good.reading, sheets } };
    return own;
}

/** The picture of a moment; none where another was asked for meanwhile, or the page shows another text. */
async function pictureAt(event: number | null, until_us: number | null): Promise<Shown | null> {
    const about = standing();
    const sheet = s.sheet.value;
    if (!about || !sheet) return null;
    const body = {
        ...asked(),
        ...(s.claimStory.value === null || until_us !== null ? { until_us } : {}),
        event,
        sheet: sheet.number,
        dark: s.night.value,
        plain: true,
    };
    const drawn = drawnSheet(sheet, about).catch(() => sheet);
    try {
        const picture = await ask<Picture>("picture", about.desk, about.text, body, newestPicture());
        const own = await drawn;
        return about.still() ? { sheet: own, picture } : null;
    } catch (trouble) {
        told(trouble);
        if (stopped(trouble) || !about.still()) return null;
        // Nothing true can be said of the moment: the sheet lies there as drawn. Only what was
        // drawn before the program ended stays.
        const stays = trouble instanceof Gone && s.glass.value?.sheet === sheet;
        return stays ? null : { sheet: await drawn, picture: null };
    }
}

function show(shown: Shown): void {
    batch(() => {
        s.glass.value = shown;
        s.bandsNow.value = shown.picture?.bands ?? null;
    });
    performance.mark("picture");
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
        s.marked.value = wayOf(event);
        s.tag.value = null;
        s.caption.value = { sentence: sentence(event.what), beside: event.why ?? "", kind: "why" };
        const passes = new Set([event.part ?? "", ...(event.path ?? [])]);
        if (!s.sheet.value?.parts.some((part) => passes.has(part.id))) {
            const there = sheetWith(event.part ?? event.path?.find((id) => sheetWith(id) >= 0) ?? "");
            if (there >= 0) s.sheetNumber.value = there;
        }
    });
    const shown = draw();
    try {
        const got = await ask<{ sentence: string; beside?: string; marks?: Mark[]; path?: string[] }>(
            "why",
            desk.id,
            good.text,
            { ...asked(), event: n },
            newestWhy(),
        );
        if (s.look.value === n) {
            batch(() => {
                s.caption.value = { sentence: got.sentence, beside: got.beside ?? "", kind: "why" };
                if (got.marks) s.marked.value = { marks: got.marks, ids: got.path ?? [] };
            });
        }
    } catch (trouble) {
        told(trouble);
    }
    await shown;
}

function wayOf(event: Happening | undefined): Way {
    return { marks: event?.marks ?? [], ids: event?.path ?? [] };
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
            s.marked.value = {};
            s.tag.value = null;
        });
        await showSheetOf(got.stands[0]?.part ?? null);
    } catch (trouble) {
        told(trouble);
    }
}

/** Whatever was asked about a part or a moment before is not wanted any more. */
export function stopAsking(): void {
    newestWhy();
}

/** What a meter is expected to show at a piece of wire. */
export async function readingAt(wire: string): Promise<void> {
    const good = s.good.value;
    const desk = s.desk.value;
    if (!good || !desk || !s.fresh.value || !s.samePlaces.value) return;
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

/** Turns to the sheet on which a part or a piece of wire stands. */
export async function showSheetOf(id: string | null): Promise<void> {
    if (id === null) return;
    const there = sheetWith(id);
    if (there >= 0 && there !== s.sheetNumber.value && !onSheet(id)) {
        s.sheetNumber.value = there;
        await draw();
    }
}

function sheetWith(id: string): number {
    return s.sheets.value.findIndex(
        (one) => one.parts.some((part) => part.id === id) || one.wires.some((wire) => wire.id === id),
    );
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
