/** The keyboard: regions, the arrows on the sheet, single letters while the sheet has the focus. */
import { html } from "lit-html";
import { breakerClosed, breakerName } from "./breaker";
import { choose, partOf, pressable, pressAt } from "./choose";
import { save } from "./desk";
import { goToLine, placeOf, toReveal } from "./go";
import { nextEvent, now, readingAt, why, whyNot } from "./play";
import { along } from "./point";
import { hasValue, leaveEdit, openPutIn, takeOut } from "./putin";
import { idOf } from "./sheet";
import * as s from "./state";
import { redoText, undoText } from "./text";

const REGIONS = ["#top", "#band", "#sheet", "#caption", "#happened", "#margin", "#textside"];

/** Where the focus goes in a region: to what it is for, else to its first key. */
const FIRST = ['#drawing [tabindex="0"]', ".cm-content", '.tab[aria-selected="true"]', "button:not(:disabled)", "input", '[tabindex="0"]'];

export function attendKeys(): void {
    document.addEventListener("keydown", (event) => {
        if (event.key === "F6") {
            event.preventDefault();
            turn(event.shiftKey ? -1 : 1);
            return;
        }
        const control = event.ctrlKey || event.metaKey;
        const target = event.target instanceof Element ? event.target : document.body;
        const typing = target.closest("input, textarea, select, .cm-editor") !== null;
        if (control && event.key === "s") {
            event.preventDefault();
            void save();
            return;
        }
        if (control && !typing && (event.key === "z" || event.key === "y")) {
            event.preventDefault();
            if (event.key === "y" || event.shiftKey) redoText();
            else undoText();
            return;
        }
        if (control || event.altKey || typing) return;
        if (event.key === "Escape") {
            if (s.leaf.value === "put-in") leaveEdit();
            else if (s.ringed.value.length > 0 && s.look.value !== null) s.ringed.value = [];
            else now();
            return;
        }
        if (!s.singleKeys.value) return;
        if (event.key === "/") {
            event.preventDefault();
            document.querySelector<HTMLInputElement>("#find")?.focus();
            return;
        }
        if (event.key === "?") {
            s.leaf.value = "keys";
            return;
        }
        // Where nothing has the focus, the sheet listens; arrows only once something is chosen there.
        const free = target === document.body && (!event.key.startsWith("Arrow") || s.chosen.value !== null);
        if (target.closest("#drawing") || free) onSheet(event);
    });
}

function turn(way: 1 | -1): void {
    const there = REGIONS.map((name) => document.querySelector<HTMLElement>(name)).filter(
        (region): region is HTMLElement => region !== null && region.offsetParent !== null,
    );
    const here = there.findIndex((region) => region.contains(document.activeElement));
    const start = here < 0 ? (way === 1 ? -1 : 0) : here;
    for (let far = 1; far <= there.length; far += 1) {
        const region = there[(start + way * far + there.length * 2) % there.length];
        const first = FIRST.map((what) => region?.querySelector<HTMLElement>(what)).find((found) => found);
        if (first) {
            first.focus();
            return;
        }
    }
}

function onSheet(event: KeyboardEvent): void {
    const id = s.chosen.value ?? idOf(event.target);
    const arrows: Record<string, [number, number]> = {
        ArrowDown: [0, 1],
        ArrowUp: [0, -1],
        ArrowRight: [1, 0],
        ArrowLeft: [-1, 0],
    };
    const way = arrows[event.key];
    if (way) {
        event.preventDefault();
        const next = neighbour(id, way);
        if (next !== null) {
            toReveal.value = next;
            choose(next);
            placeOf(next)?.focus({ preventScroll: true });
        }
        return;
    }
    const part = partOf(id);
    const held: Record<string, () => void> = {
        Enter: () => {
            if (id === null) return;
            choose(id);
            if (part && pressable(part)) pressAt(id);
        },
        " ": nextEvent,
        w: () => {
            const last = s.look.value ?? s.come.value.at(-1)?.n;
            if (last !== undefined) void why(last);
        },
        n: () => {
            const breaker = breakerName();
            if (part?.kind === "coil") void whyNot({ coil: part.id });
            else if (breaker !== null) void whyNot({ device: breaker, to: breakerClosed() ? "open" : "closed" });
        },
        v: () => {
            if (id !== null) void readingAt(id);
        },
        p: () => {
            if (id !== null) void along(id);
        },
        t: () => {
            if (part?.line) goToLine(part.line);
        },
        Insert: () => {
            if (id !== null) void openPutIn(id);
        },
        Delete: () => {
            if (part) void takeOut(part.id);
        },
        s: () => {
            if (part && hasValue(part.kind)) void openPutIn(part.id, "set");
        },
    };
    const does = held[event.key];
    if (does) {
        event.preventDefault();
        does();
    }
}

/** Along a leg as current flows; across to the part of the next leg that is nearest in height. */
function neighbour(id: string | null, [dx, dy]: [number, number]): string | null {
    const middle = (group: Element): { x: number; y: number } => {
        const box = group.getBoundingClientRect();
        return { x: box.left + box.width / 2, y: box.top + box.height / 2 };
    };
    const hits = [...document.querySelectorAll<SVGGElement>("#drawing .ink > [data-id]:has(> .press)")];
    const here = hits.find((group) => group.dataset["id"] === id);
    if (!here) return hits.find((group) => group.classList.contains("part"))?.dataset["id"] ?? null;
    const from = middle(here.querySelector(".hit") ?? here);
    let best: string | null = null;
    let least = Infinity;
    for (const group of hits) {
        if (group === here) continue;
        const to = middle(group.querySelector(".hit") ?? group);
        const along = (to.x - from.x) * dx + (to.y - from.y) * dy;
        const aside = Math.abs((to.x - from.x) * dy) + Math.abs((to.y - from.y) * dx);
        if (along < 4) continue;
        if (dy !== 0 && aside > along * 2 + 6) continue;
        if (dx !== 0 && !group.classList.contains("part")) continue;
        const far = along + aside * (dy === 0 ? 1.2 : 3);
        if (far < least) {
            least = far;
            best = group.dataset["id"] ?? null;
        }
    }
    return best;
}

const LIST: [string, string][] = [
    ["F6, Shift F6", "to the next part of the page, and back"],
    ["↓ ↑", "on the sheet: along a leg as the current flows"],
    ["→ ←", "to the next leg; in What happened: to what it caused, to its cause"],
    ["Enter", "press it or choose it"],
    ["Space", "next event"],
    ["W", "why"],
    ["N", "why not"],
    ["V", "what to expect here"],
    ["P", "the volts on the way to its coil, at the worst"],
    ["T", "its line in the text"],
    ["Insert, Delete", "change this place, take it out"],
    ["S", "set a value"],
    ["/", "find"],
    ["Escape", "back to now; out of the text"],
    ["Ctrl S", "save"],
    ["Ctrl Z, Ctrl Y", "undo and redo, text and drawing alike"],
];

const SIGNS: [string, string][] = [
    ["heavy line", "joined to plus"],
    ["double line", "joined to minus"],
    ["dashes", "between the two"],
    ["dots", "floating: a meter may show anything"],
    ["filled contact", "closed now; empty is open now"],
    ["small pointer", "does not stand as drawn at rest"],
    ["yellow marker", "this is the way"],
    ["red ring", "this stands in the way"],
    ["dots under a name", "a person can press that name"],
];

export function keysLeaf(): unknown {
    const rows = (list: [string, string][]): unknown =>
        html`<dl class="keys-list">${list.map(([key, words]) => html`<dt>${key}</dt><dd>${words}</dd>`)}</dl>`;
    return html`<h3>Keys</h3>
        ${rows(LIST)}
        <p>
            <button class="key" aria-pressed=${s.singleKeys.value ? "true" : "false"} @click=${() => {
                s.singleKeys.value = !s.singleKeys.value;
                s.keep("keys", s.singleKeys.value ? "yes" : "no");
            }}>Single letters ${s.singleKeys.value ? "on" : "off"}</button>
        </p>
        <h3>Signs on the sheet</h3>
        ${rows(SIGNS)}`;
}
