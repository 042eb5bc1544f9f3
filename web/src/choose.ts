/** Choosing a part or a wire on the sheet, and pressing what a person can press there. */
import { batch } from "@preact/signals-core";
import { press } from "./band";
import { readingAt, stopAsking } from "./play";
import * as s from "./state";
import type { Handle, SheetPart } from "./types";

export function partOf(id: string | null): SheetPart | null {
    if (id === null) return null;
    for (const sheet of s.sheets.value) {
        const found = sheet.parts.find((part) => part.id === id);
        if (found) return found;
    }
    return null;
}

/** Chooses it; the caption says what it is now. */
export function choose(id: string): void {
    const part = partOf(id);
    stopAsking();
    batch(() => {
        s.chosen.value = id;
        s.tag.value = null;
        if (s.readable.value) {
            s.caption.value = {
                sentence: part?.part ?? id,
                of: id,
                beside: part ? `${part.what}${part.line ? `, line ${part.line}` : ""}` : "",
                kind: "reading",
            };
        }
    });
    if (part === null && s.fresh.value) void readingAt(id);
}

/** The handle and position that close this contact, where a person may turn it. */
export function pressable(part: SheetPart): { handle: Handle; to: string; by: string | null } | null {
    if (!part.handle) return null;
    for (const band of s.bands.value) {
        const handle = band.handles.find((one) => one.id === part.handle);
        if (!handle) continue;
        if (handle.refused) return null;
        const to =
            handle.positions.find((position) => position.name === part.name) ??
            handle.positions.find((position) => part.what === `closed when ${position.name}`) ??
            (handle.positions.length === 2 ? handle.positions.find((position) => position.name !== handle.at) : undefined);
        return to ? { handle, to: to.name, by: band.person ?? null } : null;
    }
    return null;
}

export function pressAt(id: string): void {
    const part = partOf(id);
    const found = part ? pressable(part) : null;
    if (found) press(found.handle, found.to, found.by);
}
