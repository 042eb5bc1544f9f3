/**
 * The volts along a way where it gets least: on pointing at a place of it, or on asking.
 *
 * In: a part or a piece of wire. Out: the way to the coil of its leg, the coil's sentence, and the
 * volts at the place, all as the program tells them. Never here: what the volts are.
 */
import { batch } from "@preact/signals-core";
import { ask, newest, stopped } from "./api";
import { partOf } from "./choose";
import { stopAsking, told } from "./play";
import * as s from "./state";
import type { Way } from "./types";
import { trim } from "./units";

interface Along extends Way {
    sentence: string;
    beside?: string;
    steps: { part: string; id: string | null; before: number; after: number }[];
    wires: Record<string, number>;
}

/** How long a pointer rests before it asks, and how long its answer stays once it has left. */
const REST_MS = 220;
const LEAVE_MS = 160;

const newestAlong = newest();
/** Answers about the text as it stands. */
const known = new Map<string, Along>();
let knownOf = "";

/** The coil to which the way through a place goes: its own, else the next below in its leg, else the leg's last. */
export function coilOf(id: string): string | null {
    for (const sheet of s.sheets.value) {
        const part = sheet.parts.find((one) => one.id === id);
        const leg = part?.leg ?? sheet.wires.find((one) => one.id === id)?.leg ?? null;
        if (part?.kind === "coil") return part.id;
        if (!leg) continue;
        const coils = sheet.parts
            .filter((one) => one.kind === "coil" && one.leg === leg)
            .toSorted((a, b) => (a.order ?? 0) - (b.order ?? 0));
        const below = coils.find((coil) => (coil.order ?? 0) > (part?.order ?? -1));
        return below?.id ?? coils.at(-1)?.id ?? null;
    }
    return null;
}

async function asked(coil: string, stop: AbortSignal): Promise<Along | null> {
    const text = s.good.value?.text;
    const desk = s.desk.value;
    if (text === undefined || !desk || !s.fresh.value) return null;
    const about = `${s.symbols.value} ${coil}`;
    if (knownOf !== `${desk.id} ${text}`) {
        known.clear();
        knownOf = `${desk.id} ${text}`;
    }
    const before = known.get(about);
    if (before) return before;
    const got = await ask<Along>("along", desk.id, text, { part: coil, symbols: s.symbols.value }, stop);
    if (s.good.value?.text !== text || s.desk.value?.id !== desk.id) return null;
    known.set(about, got);
    return got;
}

function at(id: string, got: Along): s.Tag | null {
    const volts = (value: number): string => `${trim(value, 1)} V`;
    const step = got.steps.find((one) => one.id === id);
    if (step) {
        const [before, after] = [volts(step.before), volts(step.after)];
        return { id, words: before === after ? before : `${before} to ${after}` };
    }
    const here = got.wires[id];
    return here === undefined ? null : { id, words: volts(here) };
}

/** Asked for: it stays until something else is. */
export async function along(id: string): Promise<void> {
    const coil = coilOf(id);
    if (coil === null) return;
    stopAsking();
    try {
        const got = await asked(coil, newestAlong());
        if (!got || s.chosen.value !== id) return;
        batch(() => {
            s.pointed.value = null;
            s.caption.value = { sentence: got.sentence, beside: got.beside ?? "", kind: "reading" };
            s.marked.value = got;
            s.tag.value = at(id, got);
        });
    } catch (trouble) {
        told(trouble);
    }
}

/** Pointed at: it is there while the pointer is, and changes nothing else. */
export function attendPointing(svg: SVGSVGElement, idOf: (target: EventTarget | null) => string | null): void {
    let here: string | null = null;
    let timer: ReturnType<typeof setTimeout> | undefined;
    const point = (id: string | null): void => {
        if (id === here) return;
        here = id;
        clearTimeout(timer);
        timer = setTimeout(() => void look(id), id === null ? LEAVE_MS : REST_MS);
    };
    const look = async (id: string | null): Promise<void> => {
        const coil = id === null ? null : coilOf(id);
        if (id === null || coil === null || !s.fresh.value) {
            s.pointed.value = null;
            return;
        }
        try {
            const got = await asked(coil, newestAlong());
            if (here !== id) return;
            // A place beside the way says nothing about it.
            const tag = got ? at(id, got) : null;
            s.pointed.value = got && tag ? { way: got, sentence: got.sentence, tag } : null;
        } catch (trouble) {
            // Nobody asked aloud: a pointer that rests on the sheet is not answered with a refusal.
            if (!stopped(trouble)) s.pointed.value = null;
        }
    };
    svg.addEventListener("pointermove", (event) => {
        if (event.pointerType !== "touch") point(idOf(event.target));
    });
    svg.addEventListener("pointerleave", () => point(null));
    svg.addEventListener("pointerdown", () => {
        clearTimeout(timer);
        here = null;
        s.pointed.value = null;
    });
}

export function mayAlong(id: string): boolean {
    return partOf(id)?.kind === "coil" || coilOf(id) !== null;
}
