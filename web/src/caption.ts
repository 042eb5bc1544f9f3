/** The caption: one sentence and one beside it, the only voice that explains. */
import { effect } from "@preact/signals-core";
import { html, nothing } from "lit-html";
import { paint } from "./paint";
import { breakerClosed, breakerName } from "./breaker";
import { partOf, pressable, pressAt } from "./choose";
import { goToLine } from "./go";
import { now, why, whyNot } from "./play";
import { along, mayAlong } from "./point";
import { hasValue, openPutIn, takeOut } from "./putin";
import * as s from "./state";
import type { Happening } from "./types";
import { when } from "./units";

export function captionView(host: HTMLElement): void {
    const words = document.createElement("div");
    words.className = "words";
    words.setAttribute("aria-live", "polite");
    const ways = document.createElement("div");
    ways.className = "ways";
    host.append(words, ways);
    paint(said, words);
    // What a pointer tells takes the room there is: the drawing under it does not move.
    let tall = 0;
    new ResizeObserver(() => {
        if (s.pointed.peek() === null) tall = host.offsetHeight;
    }).observe(host);
    effect(() => {
        host.style.height = s.pointed.value !== null && tall > 0 ? `${tall}px` : "";
    });
    paint(offered, ways);
}

function said(): unknown {
    const slip = s.slips.value[0];
    if (!s.readable.value && slip) {
        return html`<p><b>${slip.line ? `Line ${slip.line}: ` : ""}${slip.message}</b></p>
            ${slip.help ? html`<p class="soft">${slip.help}</p>` : nothing}`;
    }
    const pointed = s.pointed.value;
    if (pointed) return html`<p><b>${pointed.sentence}</b></p>`;
    const told = s.caption.value;
    const moment = s.picture.value?.moment;
    if (told) {
        const of = told.of === undefined ? null : stateOf(told.of);
        return html`<p><b>${of ?? told.sentence}</b></p>
            ${told.beside ? html`<p class="soft">${told.beside}</p>` : nothing}`;
    }
    if (s.acts.value.length === 0) {
        return html`<p><b>Nothing has happened yet.</b></p>
            <p class="soft">Press a key above, or a name on the sheet that has dots under it.</p>`;
    }
    const last = s.come.value.at(-1);
    return html`<p>${moment ?? ""}</p>
        ${last && s.look.value === null ? html`<p class="soft">${lastOf(last)}</p>` : nothing}`;
}

/** What came last; after an act that moved nothing, that. */
function lastOf(last: Happening): string {
    const whole = s.cursor.value >= (s.run.value?.events.length ?? 0);
    const act = s.acts.value.at(-1)?.at_us ?? 0;
    const moved = s.come.value.some((event) => event.time_us >= act && event.by === "device");
    if (whole && !moved) return `Nothing else moved. Last: ${last.what}.`;
    return `Last, at ${when(last)}: ${last.what}.`;
}

/** What a place is now, in words; nothing where the picture does not show it. */
function stateOf(id: string): string | null {
    const words = s.picture.value?.parts?.[id]?.words ?? s.picture.value?.wires?.[id]?.words;
    if (words === undefined) return null;
    const whole = words.charAt(0).toUpperCase() + words.slice(1);
    return whole.endsWith(".") ? whole : `${whole}.`;
}

function offered(): unknown {
    if (!s.fresh.value) return nothing;
    const look = s.look.value;
    const id = s.chosen.value;
    const part = partOf(id);
    const wire = id !== null && part === null ? id : null;
    const line = part?.line ?? wireLine(wire);
    const event = look === null ? null : s.come.value.find((one) => one.n === look);
    return html`
        ${look !== null && event?.cause !== null && event?.cause !== undefined
            ? html`<button class="word" @click=${() => void why(firstCause(look))}>First cause</button>`
            : nothing}
        ${look !== null ? html`<button class="word" @click=${now}>Now</button>` : nothing}
        ${s.ringed.value.length > 0
            ? html`<button
                  class="word"
                  @click=${() => {
                      s.ringed.value = [];
                      s.caption.value = null;
                  }}
              >
                  Take the rings off
              </button>`
            : whyNotWord(part?.kind === "coil" ? part.id : null, part?.part ?? "")}
        ${part && pressable(part) ? html`<button class="word" @click=${() => pressAt(part.id)}>Press ${part.part}</button>` : nothing}
        ${id !== null && mayAlong(id) ? html`<button class="word" @click=${() => void along(id)}>Volts at the worst</button>` : nothing}
        ${id !== null && (wire || part?.kind === "contact") ? html`<button class="word" @click=${() => void openPutIn(id)}>Change this place</button>` : nothing}
        ${part?.kind === "contact"
            ? html`<button class="word" @click=${() => void takeOut(part.id)}>Take out</button>`
            : part && hasValue(part.kind)
              ? html`<button class="word" @click=${() => void openPutIn(part.id, "set")}>Set a value</button>`
              : nothing}
        ${line ? html`<button class="word" @click=${() => goToLine(line)}>Line ${line}</button>` : nothing}
    `;
}

function wireLine(wire: string | null): number | null {
    if (wire === null) return null;
    for (const sheet of s.sheets.value) {
        const found = sheet.wires.find((one) => one.id === wire);
        if (found) return found.line ?? null;
    }
    return null;
}

function whyNotWord(coil: string | null, name: string): unknown {
    if (coil !== null) {
        return html`<button class="word" @click=${() => void whyNot({ coil })}>Why isn’t ${name} driven?</button>`;
    }
    const breaker = breakerName();
    if (breaker === null) return nothing;
    const goal = breakerClosed() ? "open" : "closed";
    return html`<button class="word" @click=${() => void whyNot({ device: breaker, to: goal })}>
        Why doesn’t ${breaker} ${goal === "closed" ? "close" : "trip"}?
    </button>`;
}

export function firstCause(n: number): number {
    const events = s.run.value?.events ?? [];
    const seen = new Set<number>();
    let at = n;
    for (;;) {
        const cause = events.find((event) => event.n === at)?.cause;
        if (cause === null || cause === undefined || seen.has(cause)) return at;
        seen.add(cause);
        at = cause;
    }
}
