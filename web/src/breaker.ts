/** The breaker itself beside the drawing: bus, square, line; filled is closed, empty is open. */
import { html, nothing, svg } from "lit-html";
import * as s from "./state";

/** Whether something stood so at the moment shown: from the rows of the chart. */
export function stands(name: string): boolean | null {
    const row = s.run.value?.rows.find((one) => one.name === name);
    if (!row) return null;
    const at = s.momentUs.value;
    return row.so.some(([from, to]) => from <= at && (to === null || at < to || (to === at && from === at)));
}

function condition(name: string): string | null {
    for (const band of s.bands.value) {
        const found = band.handles.find((handle) => handle.name === name && handle.kind === "condition");
        if (found) return `${name} ${found.at ?? ""}`;
    }
    return null;
}

export function breakerName(): string | null {
    return s.reading.value?.devices?.find((device) => device.kind === "breaker")?.name ?? null;
}

/** Only what changed has a row: without one the breaker stands as the run began. */
export function breakerClosed(): boolean | null {
    const name = breakerName();
    if (name === null || s.run.value === null) return null;
    return stands(`${name} closed`) ?? (s.start.value?.given ?? []).includes(`${name} closed`);
}

export function figure(): unknown {
    const name = breakerName();
    if (name === null) return nothing;
    const closed = s.readable.value ? breakerClosed() : null;
    const word = closed === null ? "" : closed ? "closed" : "open";
    const bus = condition("bus");
    const line = condition("line");
    const above = s.readable.value ? bus : null;
    const below = s.readable.value ? line : null;
    return html`<svg viewBox="0 0 84 170" width="84" height="170" role="img" aria-label=${`Breaker ${name} ${word}`}>
        ${svg`<text x="42" y="12" text-anchor="middle" class="soft">${above ?? ""} </text>
        <path class="bus" d="M20 20H64"/>
        <path class=${closed ? "lead" : "lead thin"} d="M42 20V52"/>
        <rect class=${closed ? "square full" : "square"} x="15" y="52" width="54" height="54"/>
        <text x="42" y="76" text-anchor="middle" class=${closed ? "in bold" : "bold"}>${name} </text>
        <text x="42" y="94" text-anchor="middle" class=${closed ? "in bold" : "bold"}>${word} </text>
        <path class=${closed ? "lead" : "lead thin"} d="M42 106V138"/>
        <text x="42" y="154" text-anchor="middle" class="soft">${below ?? ""}</text>`}
    </svg>`;
}
