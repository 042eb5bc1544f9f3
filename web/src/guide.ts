/** Show me round: six steps, each waits for the person's own act. */
import { effect, signal } from "@preact/signals-core";
import { html, nothing } from "lit-html";
import { breakerClosed } from "./breaker";
import { open } from "./desk";
import { beginAgain } from "./play";
import * as s from "./state";

interface Step {
    scheme: string | null;
    title: string;
    words: string;
    /** What gets the ring: a place in the page. */
    ring: string;
    done: () => boolean;
    after: string;
}

const steps: Step[] = [
    {
        scheme: "quillmere",
        title: "Close the breaker",
        words: "With 43LR at local, press close at 52CS. A press turns a switch and holds it; a second press lets it go.",
        ring: "#band",
        done: () => breakerClosed() === true,
        after: "The heavy line is joined to plus, the double line to minus. Filled contacts are closed now.",
    },
    {
        scheme: null,
        title: "Ask why it closed",
        words: "Press the event “52 closed” or any other in What happened. The way of the current is marked; the caption says why.",
        ring: "#happened",
        done: () => s.look.value !== null,
        after: "First cause goes back to the beginning; Now comes back.",
    },
    {
        scheme: "dunmarrow",
        title: "Hold the order",
        words: "This scheme looks right on paper. A fault stands on the line. Press close at 52CS, keep it held, and count how often 52 closes.",
        ring: "#band",
        done: () => (s.run.value?.events ?? []).length > 0 && s.acts.value.length >= 1 && closings() >= 2,
        after: "One order, more than one closing: it pumps.",
    },
    {
        scheme: null,
        title: "Play the story",
        words: "Open “no pumping” under Must hold and play its story. It stands at the moment that decides.",
        ring: "#margin",
        done: () => s.storyOf.value !== null,
        after: "25 lets go before 52Y has picked up: 52Y is fed behind 25, so it forgets the order.",
    },
    {
        scheme: null,
        title: "How slow may 52Y be?",
        words: "Open What if and drag a time or a voltage. What follows is shown below; the text stays as it is. Once its feed is moved, which is the next step, Then says up to which time No pumping holds.",
        ring: "#margin",
        done: () => s.leaf.value === "what-if",
        after: "Back to the declared numbers puts all back.",
    },
    {
        scheme: null,
        title: "Move its feed to C1",
        words: "The leg Anti-pump hangs on C2, behind 25. Press the wire above 52Y, then Change this place, then Move the leg’s feed: to C1. Or write from=\"C1\" in the text. Then watch No pumping.",
        ring: "#margin",
        done: () => /leg\s+"Anti-pump"\s+from="C1"/.test(s.text.value),
        after: "What this page cannot tell you: that the yard is as drawn. Prove every circuit dead; test on the equipment; a licensed engineer reviews.",
    },
];

export const step = signal<number | null>(null);

function closings(): number {
    return (s.run.value?.events ?? []).filter((event) => /^\S+ closed\b/.test(event.what)).length;
}

export function beginGuide(): void {
    go(0);
}

function go(to: number | null): void {
    if (to === null || to >= steps.length) {
        step.value = null;
        s.keep("guide", "seen");
        return;
    }
    step.value = to;
    const scheme = steps[to]?.scheme;
    if (scheme && !new RegExp(`(^|[/\\\\])${scheme}([/\\\\]|$)`).test(s.desk.value?.name ?? "")) void open(scheme);
    else if (scheme) beginAgain();
}

export function attendGuide(): void {
    let ringed: Element | null = null;
    effect(() => {
        ringed?.classList.remove("guide-ring");
        ringed = null;
        const at = step.value;
        if (at === null) return;
        const now = steps[at];
        if (!now || now.done()) return;
        ringed = document.querySelector(now.ring);
        ringed?.classList.add("guide-ring");
    });
}

export function guideCard(): unknown {
    const at = step.value;
    if (at === null) return nothing;
    const now = steps[at];
    if (!now) return nothing;
    const done = now.done();
    return html`<section class="guide" aria-label="Show me round">
        <p class="soft">Step ${at + 1} of ${steps.length}</p>
        <p><b>${now.title}${now.title.endsWith("?") ? "" : "."}</b> ${now.words}</p>
        ${done ? html`<p role="status"><b>Done.</b> ${now.after}</p>` : nothing}
        <p class="row">
            <button class="key ${done ? "strong" : ""}" @click=${() => go(at + 1)}>
                ${at + 1 === steps.length ? "Finish" : done ? "Go on" : "Skip this step"}
            </button>
            <button class="word" @click=${() => go(null)}>Leave</button>
        </p>
    </section>`;
}
