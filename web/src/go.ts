/** Ways from a sentence to its place: to a line of the text, to a part of the drawing. */
import { signal } from "@preact/signals-core";
import { showSheetOf } from "./play";
import * as s from "./state";

/** The line that the text is to show, counted from one; counts up so that the same line works twice. */
export const wantedLine = signal<{ line: number; time: number } | null>(null);
let time = 0;

/** Whether the text has a column of its own. */
export function wide(): boolean {
    return matchMedia("(min-width: 1800px)").matches;
}

export function goToLine(line: number): void {
    if (!wide()) s.leaf.value = "text";
    time += 1;
    wantedLine.value = { line, time };
}

export function goToPart(id: string): void {
    showSheetOf(id);
    s.chosen.value = id;
    const group = document.querySelector<SVGGElement>(`#drawing [data-id="${CSS.escape(id)}"] .press`);
    group?.scrollIntoView({ block: "nearest", inline: "nearest" });
}
