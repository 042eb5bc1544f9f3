/**
 * The sequence chart: a row for each thing that changed, time to the right; long quiet stretches
 * are folded and say so. In: the run's rows and events. Out: a picture. The list of events says the same
 * in words.
 */
import { html, nothing, svg } from "lit-html";
import { breakerName } from "./breaker";
import { why } from "./play";
import * as s from "./state";
import type { Happening } from "./types";
import { time } from "./units";

/** A stretch without an event longer than this is folded to this. */
const FOLD_US = 160_000;
const LABEL = 132;
const FOOT = 20;
const LEAST_ROW = 14;

interface Scale {
    x: (us: number) => number;
    folds: number[];
    ticks: { us: number; x: number }[];
}

export function chart(width: number, height: number): unknown {
    const run = s.run.value;
    const events = s.come.value;
    const until = Math.max(s.momentUs.value, events.at(-1)?.time_us ?? 0);
    const scale = timeScale(events, until, LABEL, width - 14);
    const room = Math.max(1, Math.floor((height - FOOT) / LEAST_ROW));
    const rows = chooseRows(room);
    const tall = Math.min(24, (height - FOOT) / Math.max(rows.length, 1));
    const foot = rows.length * tall;
    const name = breakerName();
    const at = s.momentUs.value;
    const bar = (from: number, to: number | null): [number, number] => {
        const a = scale.x(from);
        const b = scale.x(Math.min(to ?? until, until));
        return [a, Math.max(1.5, b - a)];
    };
    const left = (run?.rows.length ?? 0) - rows.length;
    return html`<svg width=${width} height=${height} role="img" aria-label="Sequence chart; the list beside it says the same in words">
        ${svg`
        ${scale.ticks.map((tick) => svg`<path class="grid" d=${`M${tick.x} 0V${foot}`}/>`)}
        ${rows.map((row, index) => {
            const y = index * tall;
            const own = row.name === `${name} closed`;
            return svg`<path class="grid" d=${`M${LABEL} ${y + tall}H${width - 14}`}/>
            <text class=${own ? "row-name bold" : "row-name"} x=${LABEL - 8} y=${y + tall / 2 + 4} text-anchor="end">${short(row.name)} </text>
            ${row.so
                .filter(([from]) => from <= until && events.length > 0)
                .map(([from, to]) => {
                    const [x, w] = bar(from, to);
                    return svg`<rect class=${own ? "bar own" : "bar"} x=${x} y=${y + tall * 0.2} width=${w} height=${tall * 0.62}/>`;
                })}`;
        })}
        ${scale.folds.map((x) => svg`<path class="fold" d=${`M${x - 3} ${foot + 5}l4 -8M${x + 1} ${foot + 5}l4 -8`}/>`)}
        ${scale.ticks.map((tick, index) => svg`<text class="tick" x=${tick.x} y=${foot + 15} text-anchor=${index === 0 ? "start" : "middle"}>${time(tick.us)} </text>`)}
        ${events.length > 0 ? svg`<path class="now" d=${`M${scale.x(at)} 0V${foot}`}/>` : nothing}
        ${causes(events, scale, rows, tall)}
        ${left > 0 && rows.length > 0 ? svg`<text class="tick" x=${LABEL - 8} y=${foot + 15} text-anchor="end">and ${left} more </text>` : nothing}
        <rect class="press" x=${LABEL} y="0" width=${Math.max(1, width - LABEL)} height=${Math.max(1, foot)}
            @click=${(press: MouseEvent) => {
                const box = (press.currentTarget as Element).getBoundingClientRect();
                nearest(events, scale, LABEL + press.clientX - box.left);
            }}/>`}
    </svg>`;
}

function short(name: string): string {
    return name.length > 20 ? `${name.slice(0, 19)}…` : name;
}

/** Rows that changed, in the order of their first change; the breaker always. */
function chooseRows(room: number): { name: string; so: [number, number | null][] }[] {
    const rows = s.run.value?.rows ?? [];
    const own = `${breakerName()} closed`;
    if (rows.length <= room) return rows;
    const first = (so: [number, number | null][]): number => {
        const changes = so.flat().filter((us): us is number => us !== null && us > 0);
        return changes.length > 0 ? Math.min(...changes) : Infinity;
    };
    const ranked = rows.toSorted((a, b) => {
        if (a.name === own) return -1;
        if (b.name === own) return 1;
        return first(a.so) - first(b.so);
    });
    const chosen = new Set(ranked.slice(0, room).map((row) => row.name));
    return rows.filter((row) => chosen.has(row.name));
}

function timeScale(events: Happening[], until: number, left: number, right: number): Scale {
    const marks = [...new Set([0, ...events.map((event) => event.time_us), until])].toSorted((a, b) => a - b);
    const spans: { from: number; to: number; wide: number; folded: boolean }[] = [];
    for (let index = 1; index < marks.length; index += 1) {
        const from = marks[index - 1] ?? 0;
        const to = marks[index] ?? 0;
        const folded = to - from > FOLD_US * 2.5;
        spans.push({ from, to, wide: folded ? FOLD_US : to - from, folded });
    }
    const whole = Math.max(200_000, spans.reduce((sum, span) => sum + span.wide, 0) * 1.04);
    const unit = (right - left) / whole;
    const x = (us: number): number => {
        let at = left;
        for (const span of spans) {
            if (us <= span.to) {
                return at + Math.max(0, (us - span.from) / Math.max(1, span.to - span.from)) * span.wide * unit;
            }
            at += span.wide * unit;
        }
        return at + (us - until) * unit;
    };
    const folds = spans.filter((span) => span.folded).map((span) => (x(span.from) + x(span.to)) / 2);
    const step = nice((90 / unit));
    const ticks: { us: number; x: number }[] = [];
    const last = Math.max(until, folds.length > 0 ? until : whole);
    let lastX = -Infinity;
    for (const from of spans.length > 0 ? [0] : [0]) {
        for (let us = from; us <= last && ticks.length < 40; us += step) {
            const inFold = spans.find((span) => span.folded && us > span.from && us < span.to);
            if (inFold) {
                us = Math.ceil(inFold.to / step) * step - step;
                continue;
            }
            const here = x(us);
            if (here - lastX > 64 && here < right - 6) {
                ticks.push({ us, x: here });
                lastX = here;
            }
        }
    }
    return { x, folds, ticks };
}

function nice(us: number): number {
    const steps = [10_000, 20_000, 50_000, 100_000, 200_000, 500_000, 1_000_000, 2_000_000, 5_000_000, 10_000_000];
    return steps.find((step) => step >= us) ?? 30_000_000;
}

/** Up to four causes back from the event looked at, joined by thin lines. */
function causes(events: Happening[], scale: Scale, rows: { name: string }[], tall: number): unknown {
    const chain: Happening[] = [];
    let at = s.look.value;
    while (at !== null && chain.length < 5) {
        const event = events.find((one) => one.n === at);
        if (!event) break;
        chain.push(event);
        at = event.cause ?? null;
    }
    // What has no row of its own is not joined: a line to another's row would say what is not so.
    const spot = (event: Happening): [number, number] | null => {
        const same = rows.findIndex((row) => event.what.startsWith(row.name.replace(/ (closed|driven|picked up)$/, "")));
        const index = same >= 0 ? same : rows.findIndex((row) => row.name.startsWith(`${event.device} `) || row.name === event.device);
        return index < 0 ? null : [scale.x(event.time_us), (index + 0.5) * tall];
    };
    return chain.map((event, index) => {
        const own = spot(event);
        if (!own) return nothing;
        const [x, y] = own;
        const next = chain[index + 1];
        const from = next ? spot(next) : null;
        const [cx, cy] = from ?? [x, y];
        return svg`${from ? svg`<path class="cause" d=${`M${cx} ${cy}C${(cx + x) / 2} ${cy} ${(cx + x) / 2} ${y} ${x} ${y}`}/>` : nothing}
            <circle class=${index === 0 ? "spot chosen" : "spot"} cx=${x} cy=${y} r=${index === 0 ? 5 : 3}/>`;
    });
}

function nearest(events: Happening[], scale: Scale, x: number): void {
    const listed = events.filter((event) => event.minor !== true || s.smallSteps.value);
    let best: Happening | null = null;
    for (const event of listed) {
        if (!best || Math.abs(scale.x(event.time_us) - x) < Math.abs(scale.x(best.time_us) - x)) best = event;
    }
    if (best) void why(best.n);
}
