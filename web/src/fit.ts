/**
 * How a sheet made for paper stands in the room there is on the glass.
 *
 * Rows draw closer where nothing stands between them; symbols and letters keep their size, order
 * and grouping never change. In: groups of a sheet, width and height in pixels. Out: a scale, and
 * for every height on the paper its height on the glass. Never here: the document.
 */
import { boxes, counted, onlyPaper, type Box, type Group } from "./ink";

/** Letters of the sheet are 3.57 mm high. Never smaller than this on the glass, in pixels. */
const LEAST_LETTER = 11.4;
const GREATEST_LETTER = 17.5;
const LETTER_MM = 3.57;
/** What stays free between two rows, in millimetres. */
const LEAST_GAP = 1.3;
const EDGE = 3;

export interface Fit {
    /** Pixels for a millimetre. */
    scale: number;
    /** The part of the paper that is shown, in millimetres after `at`. */
    box: Box;
    at: (y: number) => number;
    /** Whether numbers that the drawing counted itself are left out for want of room. */
    tight: boolean;
}

export function fit(all: Group[], width: number, height: number): Fit {
    const live = all.filter((group) => !onlyPaper(group));
    const loose = shape(live);
    const most = GREATEST_LETTER / LETTER_MM;
    const least = LEAST_LETTER / LETTER_MM;
    const wide = loose.box.right - loose.box.left;
    const scale = Math.min(most, Math.max(least, width / wide));
    if (loose.tall(0) * scale <= height) return made(loose, 0, Math.min(scale, most), false);
    if (loose.tall(1) * scale <= height) {
        return made(loose, closeness(loose, height / scale), scale, false);
    }
    const dense = shape(live.filter((group) => !counted(group)));
    const tight = Math.max(least, Math.min(scale, height / dense.tall(1)));
    return made(dense, closeness(dense, height / tight), tight, true);
}

interface Shape {
    box: Box;
    solid: [number, number][];
    /** Height in millimetres at a closeness from 0 (as on paper) to 1. */
    tall: (closeness: number) => number;
}

function shape(live: Group[]): Shape {
    const solid: [number, number][] = [];
    const box: Box = { left: Infinity, top: Infinity, right: -Infinity, bottom: -Infinity };
    const add = (found: Box): void => {
        box.left = Math.min(box.left, found.left);
        box.top = Math.min(box.top, found.top);
        box.right = Math.max(box.right, found.right);
        box.bottom = Math.max(box.bottom, found.bottom);
    };
    for (const group of live) {
        const { strokes, texts } = boxes(group.ink);
        if (strokes) add(strokes);
        for (const text of texts) add(text);
        if (group.kind === "part") {
            const whole = [...texts, ...(strokes ? [strokes] : [])];
            solid.push([Math.min(...whole.map((b) => b.top)), Math.max(...whole.map((b) => b.bottom))]);
        } else {
            for (const text of texts) {
                if (text.bottom - text.top < 8) solid.push([text.top, text.bottom]);
            }
            if (strokes) {
                const tall = strokes.bottom - strokes.top;
                if (group.kind === "leg" || tall < 2.5) solid.push([strokes.top - 0.4, strokes.bottom + 0.4]);
                else solid.push([strokes.top - 0.4, strokes.top + 0.4], [strokes.bottom - 0.4, strokes.bottom + 0.4]);
            }
        }
    }
    const merged = merge(solid);
    return {
        box,
        solid: merged,
        tall: (closeness) => heights(merged, closeness, box)(box.bottom) - box.top + 2 * EDGE,
    };
}

function merge(spans: [number, number][]): [number, number][] {
    const sorted = spans.toSorted((a, b) => a[0] - b[0]);
    const merged: [number, number][] = [];
    for (const [top, bottom] of sorted) {
        const last = merged.at(-1);
        if (last && top <= last[1]) last[1] = Math.max(last[1], bottom);
        else merged.push([top, bottom]);
    }
    return merged;
}

function heights(solid: [number, number][], closeness: number, box: Box): (y: number) => number {
    const from: number[] = [box.top];
    const to: number[] = [box.top];
    let paper = box.top;
    let glass = box.top;
    for (const [top, bottom] of solid) {
        const gap = Math.max(0, top - paper);
        glass += gap - closeness * Math.max(0, gap - LEAST_GAP);
        from.push(top);
        to.push(glass);
        glass += bottom - top;
        from.push(bottom);
        to.push(glass);
        paper = bottom;
    }
    return (y) => {
        if (y <= (from[0] ?? 0)) return y;
        let low = 0;
        let high = from.length - 1;
        if (y >= (from[high] ?? 0)) return (to[high] ?? 0) + (y - (from[high] ?? 0));
        while (high - low > 1) {
            const middle = (low + high) >> 1;
            if ((from[middle] ?? 0) <= y) low = middle;
            else high = middle;
        }
        const span = (from[high] ?? 0) - (from[low] ?? 0);
        const share = span > 0 ? (y - (from[low] ?? 0)) / span : 0;
        return (to[low] ?? 0) + share * ((to[high] ?? 0) - (to[low] ?? 0));
    };
}

function closeness(shape: Shape, tall: number): number {
    const loose = shape.tall(0);
    const close = shape.tall(1);
    if (loose <= close) return 1;
    return Math.min(1, Math.max(0, (loose - tall) / (loose - close)));
}

function made(shape: Shape, closeness: number, scale: number, tight: boolean): Fit {
    const at = heights(shape.solid, closeness, shape.box);
    return {
        scale,
        at,
        tight,
        box: {
            left: shape.box.left - EDGE,
            top: shape.box.top - EDGE,
            right: shape.box.right + EDGE,
            bottom: at(shape.box.bottom) + EDGE,
        },
    };
}
