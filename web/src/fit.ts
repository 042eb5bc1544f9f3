/**
 * How a sheet made for paper stands in the room there is on the glass.
 *
 * Rows and columns draw closer where nothing stands between them; symbols and letters keep their
 * size, order and grouping never change. In: groups of a sheet, width and height in pixels. Out: a
 * scale, and for every place on the paper its place on the glass. Never here: the document.
 */
import { boxes, circles, counted, lines, meet, oneLine, oneName, onlyPaper, withoutBracket, withoutNotes, withoutPlaces, type Box, type Group } from "./ink";

/** Letters of the sheet are 3.57 mm high. */
const LETTER_MM = 3.57;
/** Letters on the glass in pixels: never smaller; readable from a chair; never larger. */
const LEAST = 11.1 / LETTER_MM;
const GOOD = 12.6 / LETTER_MM;
const MOST = 17.5 / LETTER_MM;
/** What stays free between two rows or columns, in millimetres. */
const LEAST_GAP = 1;
/** What stays free between a name and what stands at its right: room for a ring. */
const BETWEEN = 2;
const EDGE = 2.5;
const VOLTS_MM = 20;
const driven = /\b(coil|lamp|motor|heater|input)\b/;

type Way = (place: number) => number;

export interface Fit {
    /** Pixels for a millimetre. */
    scale: number;
    /** The part of the paper that is shown, in millimetres after `across` and `at`. */
    box: Box;
    across: Way;
    at: Way;
    /**
     * Little room: names stand in one line and numbers that the drawing counted itself are left out;
     * here the parts that keep two lines, because one would run into what stands beside them.
     */
    tight: Set<string> | null;
    /** Whether there is room for volts behind a wire's number. */
    volts: boolean;
}

/** The groups of a sheet that are alive, as they are drawn in much room or in little. */
export function seen(all: Group[], tight: Set<string> | null): Group[] {
    const live = all.filter((group) => !onlyPaper(group)).map(withoutPlaces);
    if (!tight) return live;
    return live
        .filter((group) => !counted(group))
        .map(withoutNotes)
        .map((group) => (tight.has(group.id) ? group : oneLine(group)))
        .map(oneName)
        .map(withoutBracket);
}

/** Parts whose names in one line would run into something else. */
function twoLines(all: Group[]): Set<string> {
    const found = new Set<string>();
    const live = all.filter((group) => !onlyPaper(group) && !counted(group)).map(withoutPlaces).map(withoutNotes);
    const bodies = live
        .filter((group) => group.kind === "part")
        .map((group) => {
            const joined = oneLine(group);
            const { strokes, texts } = boxes(joined.ink);
            const before = boxes(group.ink).texts;
            return { id: group.id, changed: joined !== group, before, texts, all: [...texts, ...(strokes ? [strokes] : [])] };
        });
    const wires = live
        .filter((group) => group.kind === "wire")
        .flatMap((group) => lines(group.ink))
        .flatMap((points) => points.slice(1).map((to, at) => span(points[at] ?? to, to)));
    for (const one of bodies) {
        if (!one.changed) continue;
        const others = bodies.filter((other) => other !== one).flatMap((other) => other.all);
        const runsInto = (texts: Box[]): number =>
            [...others, ...wires].filter((box) => texts.some((text) => meet({ ...text, right: text.right + BETWEEN }, box))).length;
        if (runsInto(one.texts) > runsInto(one.before)) found.add(one.id);
    }
    return found;
}

function span([x1, y1]: [number, number], [x2, y2]: [number, number]): Box {
    return { left: Math.min(x1, x2) - 0.3, right: Math.max(x1, x2) + 0.3, top: Math.min(y1, y2), bottom: Math.max(y1, y2) };
}

export function fit(all: Group[], width: number, height: number): Fit {
    const roomy = shape(seen(all, null));
    const wide = Math.min(MOST, Math.max(LEAST, width / length(roomy.x, 0)));
    const readable = Math.min(wide, 1.1 * GOOD);
    for (const scale of [wide, Math.max(readable, height / length(roomy.y, 1))]) {
        if (length(roomy.y, 1) * scale <= height + 1) return made(roomy, Math.min(scale, wide), width, height, null);
    }
    const tight = twoLines(all);
    const dense = shape(seen(all, tight));
    const most = Math.min(MOST, Math.max(LEAST, width / length(dense.x, 1)));
    const scale = Math.max(LEAST, Math.min(most, height / length(dense.y, 1)));
    return made(dense, scale, width, height, tight);
}

interface Axis {
    from: number;
    to: number;
    solid: [number, number][];
}
interface Shape {
    x: Axis;
    y: Axis;
}

function shape(live: Group[]): Shape {
    const x: Axis = { from: Infinity, to: -Infinity, solid: [] };
    const y: Axis = { from: Infinity, to: -Infinity, solid: [] };
    const reach = (box: Box): void => {
        x.from = Math.min(x.from, box.left);
        x.to = Math.max(x.to, box.right);
        y.from = Math.min(y.from, box.top);
        y.to = Math.max(y.to, box.bottom);
    };
    const firm = (box: Box): void => {
        x.solid.push([box.left, box.right]);
        y.solid.push([box.top, box.bottom]);
    };
    for (const group of live) {
        const { strokes, texts } = boxes(group.ink);
        const part = group.kind === "part";
        const core = part && group.title.includes("core of cable");
        if (strokes) reach(strokes);
        // Volts and amperes will stand beside it while it is driven.
        if (strokes && part && driven.test(group.title)) reach({ ...strokes, right: strokes.right + VOLTS_MM });
        for (const text of texts) {
            reach(text);
            if (part && !core) continue;
            if (upright(text)) x.solid.push([text.left, text.right]);
            else firm(text);
        }
        if (core) {
            for (const [cx, cy, r] of circles(group.ink)) {
                firm({ left: cx - r, top: cy - r - 0.3, right: cx + r, bottom: cy + r + 0.3 });
            }
        } else if (part) {
            const whole = [...texts, ...(strokes ? [strokes] : [])];
            if (whole.length > 0) {
                firm({
                    left: Math.min(...whole.map((b) => b.left)),
                    top: Math.min(...whole.map((b) => b.top)),
                    right: Math.max(...whole.map((b) => b.right)) + (texts.length > 0 ? BETWEEN - LEAST_GAP : 0),
                    bottom: Math.max(...whole.map((b) => b.bottom)),
                });
            }
        } else if (strokes) {
            ends(x, strokes.left, strokes.right);
            ends(y, strokes.top, strokes.bottom);
        }
    }
    x.solid = merge(x.solid);
    y.solid = merge(y.solid);
    return { x, y };
}

function upright(text: Box): boolean {
    return text.bottom - text.top > 8;
}

/** A line keeps the room about its ends; what lies between may shrink. */
function ends(axis: Axis, from: number, to: number): void {
    if (to - from < 2.5) axis.solid.push([from - 0.4, to + 0.4]);
    else axis.solid.push([from - 0.4, from + 0.4], [to - 0.4, to + 0.4]);
}

function merge(spans: [number, number][]): [number, number][] {
    const merged: [number, number][] = [];
    for (const [from, to] of spans.toSorted((a, b) => a[0] - b[0])) {
        const last = merged.at(-1);
        if (last && from <= last[1]) last[1] = Math.max(last[1], to);
        else merged.push([from, to]);
    }
    return merged;
}

/** Where each place goes at a closeness from 0 (as on paper) to 1. */
function way(axis: Axis, closeness: number): Way {
    const paper: number[] = [axis.from];
    const glass: number[] = [axis.from];
    let last = axis.from;
    let here = axis.from;
    for (const [from, to] of axis.solid) {
        const gap = Math.max(0, from - last);
        here += gap - closeness * Math.max(0, gap - LEAST_GAP);
        paper.push(from);
        glass.push(here);
        here += to - from;
        paper.push(to);
        glass.push(here);
        last = to;
    }
    return (place) => {
        const end = paper.length - 1;
        if (place <= (paper[0] ?? 0)) return place;
        if (place >= (paper[end] ?? 0)) return (glass[end] ?? 0) + place - (paper[end] ?? 0);
        let low = 0;
        let high = end;
        while (high - low > 1) {
            const middle = (low + high) >> 1;
            if ((paper[middle] ?? 0) <= place) low = middle;
            else high = middle;
        }
        const span = (paper[high] ?? 0) - (paper[low] ?? 0);
        const share = span > 0 ? (place - (paper[low] ?? 0)) / span : 0;
        return (glass[low] ?? 0) + share * ((glass[high] ?? 0) - (glass[low] ?? 0));
    };
}

function length(axis: Axis, closeness: number): number {
    return way(axis, closeness)(axis.to) - axis.from + 2 * EDGE;
}

/** How close to draw so that the axis has this length, as far as that can be. */
function closeness(axis: Axis, wanted: number): number {
    const loose = length(axis, 0);
    const close = length(axis, 1);
    return loose <= close ? 0 : Math.min(1, Math.max(0, (loose - wanted) / (loose - close)));
}

function made(shape: Shape, scale: number, width: number, height: number, tight: Set<string> | null): Fit {
    const across = way(shape.x, closeness(shape.x, width / scale));
    const at = way(shape.y, closeness(shape.y, height / scale));
    return {
        scale,
        across,
        at,
        tight,
        volts: tight === null && length(shape.x, 0) * scale <= width + 1,
        box: {
            left: shape.x.from - EDGE,
            top: shape.y.from - EDGE,
            right: across(shape.x.to) + EDGE,
            bottom: at(shape.y.to) + EDGE,
        },
    };
}
