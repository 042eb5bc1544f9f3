/** Ways from a sentence to its place: to a line of the text, to a part of the drawing. */
import { signal } from "@preact/signals-core";
import { showSheetOf } from "./play";
import * as s from "./state";

/** The line that the text is to show, counted from one; counts up so that the same line works twice. */
export const wantedLine = signal<{ line: number; time: number } | null>(null);
let time = 0;

/** The part or piece of wire that the sheet scrolls to, once it lies on the glass. */
export const toReveal = signal<string | null>(null);

/** Whether the text has a column of its own. */
export function wide(): boolean {
    return matchMedia("(min-width: 1800px)").matches;
}

export function goToLine(line: number): void {
    if (!wide()) s.leaf.value = "text";
    time += 1;
    wantedLine.value = { line, time };
}

/** Turns to its sheet; done when that lies on the glass. */
export async function goToPart(id: string): Promise<void> {
    s.chosen.value = id;
    toReveal.value = id;
    await showSheetOf(id);
}

/** The place of a part or a piece of wire on the glass, where it can be pressed. */
export function placeOf(id: string): SVGGElement | null {
    return document.querySelector<SVGGElement>(`#drawing [data-id="${CSS.escape(id)}"] .press`);
}
