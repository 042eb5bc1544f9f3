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

/** Whether margin and drawing stand one below the other, and the page scrolls between them. */
function below(): boolean {
    return matchMedia("(max-width: 1000px)").matches;
}

/** Where the page scrolls: shows what was asked for. A finger that stays where it is sees it come. */
export function show(id: "margin" | "sheet"): void {
    if (!below()) return;
    requestAnimationFrame(() => {
        const place = document.getElementById(id);
        const top = place?.getBoundingClientRect().top ?? 0;
        if (top < 0 || top > innerHeight / 2) place?.scrollIntoView({ block: "start" });
    });
}

export function goToLine(line: number): void {
    if (!wide()) s.leaf.value = "text";
    time += 1;
    wantedLine.value = { line, time };
    show("margin");
}

/** Turns to its sheet; done when that lies on the glass. */
export async function goToPart(id: string): Promise<void> {
    s.chosen.value = id;
    toReveal.value = id;
    show("sheet");
    await showSheetOf(id);
}

/** The place of a part or a piece of wire on the glass, where it can be pressed. */
export function placeOf(id: string): SVGGElement | null {
    return document.querySelector<SVGGElement>(`#drawing [data-id="${CSS.escape(id)}"] .press`);
}
