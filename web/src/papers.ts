/** Papers: the sheets, the chart and the report as files, and the printer. */
import { signal } from "@preact/signals-core";
import { html, nothing } from "lit-html";
import { ask } from "./api";
import { asked, told } from "./play";
import * as s from "./state";

const KINDS: [string, string, string][] = [
    ["sheets-pdf", "Sheets, PDF", "to print and to sign"],
    ["sheets-dxf", "Sheets, DXF", "for drawing programs"],
    ["sheets-svg", "Sheets, SVG", "for documents"],
    ["timeline", "What happened, SVG", "the chart as it stands"],
    ["report", "Report", "volts, claims, what they cover"],
];
const under = signal<string | null>(null);

async function take(what: string): Promise<void> {
    const desk = s.desk.value;
    const good = s.good.value;
    if (!desk || !good) return;
    under.value = what;
    try {
        const got = await ask<{ name: string; mime: string; base64: string }>("papers", desk.id, good.text, {
            what,
            ...asked(),
        });
        const bytes = Uint8Array.from(atob(got.base64), (letter) => letter.charCodeAt(0));
        const link = document.createElement("a");
        link.href = URL.createObjectURL(new Blob([bytes], { type: got.mime }));
        link.download = got.name;
        link.click();
        setTimeout(() => URL.revokeObjectURL(link.href), 10_000);
    } catch (trouble) {
        told(trouble);
    } finally {
        under.value = null;
    }
}

export function papersLeaf(): unknown {
    return html`<h3>Papers</h3>
        ${!s.fresh.value ? html`<p class="old">From the last text that could be read.</p>` : nothing}
        ${KINDS.map(
            ([what, name, about]) =>
                html`<button class="pick" ?disabled=${under.value !== null} @click=${() => void take(what)}>
                    <b>${name}</b> <span class="soft">${under.value === what ? "being written" : about}</span>
                </button>`,
        )}
        <button class="pick" @click=${() => print()}><b>Print this sheet</b> <span class="soft">as it stands now</span></button>
        <p class="soft">A paper shows the scheme as written, not the equipment as built.</p>`;
}

/** Paper is white: the inks of the sheet as drawn, also where the page is dark. */
function byDay(svg: string, rest: string): string {
    const inks = /^\.(?:paper|[a-z]{2})\{[^\n]*$/gm;
    const light = [...rest.matchAll(inks)].map(([rule]) => rule);
    return svg.replace(inks, (rule) => light.find((one) => one.startsWith(rule.slice(0, rule.indexOf("{") + 1))) ?? rule);
}

/** The printer gets the whole sheet with its frame, not the page. */
export function attendPrinting(host: HTMLElement): void {
    addEventListener("beforeprint", () => {
        const rest = s.shownSheet.value?.svg ?? "";
        const svg = (s.readable.value ? s.picture.value?.svg : null) ?? rest;
        host.innerHTML = byDay(svg.slice(Math.max(0, svg.indexOf("<svg"))), rest);
    });
    addEventListener("afterprint", () => {
        host.replaceChildren();
    });
}
