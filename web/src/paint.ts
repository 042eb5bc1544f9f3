/** A part of the page that is painted anew whenever something it read has changed. */
import { effect } from "@preact/signals-core";
import { render } from "lit-html";

export function paint(view: () => unknown, host: HTMLElement): void {
    effect(() => {
        render(view(), host);
    });
}
