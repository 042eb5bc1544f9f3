/** What if: the declared numbers as sliders; results follow while dragging, the text does not. */
import { effect, signal } from "@preact/signals-core";
import { html, nothing } from "lit-html";
import { ask, newest, Refused } from "./api";
import { sign } from "./hold";
import { told } from "./play";
import * as s from "./state";
import { apply } from "./text";
import type { Change } from "./types";
import { trim } from "./units";

interface Lever {
    id: string;
    title: string;
    unit: string;
    value: number;
    lo: number;
    hi: number;
    step?: number;
    declared: string;
    line?: number | null;
}
interface Coil {
    name: string;
    part?: string | null;
    lowest?: number;
    works?: [number, number];
    ok: boolean;
    corner?: string | null;
    words: string;
}
interface Then {
    text?: string;
    changes: Change[];
    coils?: Coil[];
    edges?: { claim: string; first: string; holds: boolean | null; spare_ms?: number | null; words: string }[];
    refused?: string | null;
}

const levers = signal<Lever[] | null>(null);
const moved = signal<Record<string, number>>({});
const then = signal<Then | null>(null);
const refused = signal<string | null>(null);
const newestThen = newest();
let leversOf: string | null = null;
let waiting = false;
let again = false;
/** Whether the races of the last answer are those of decided claims. */
const decided = signal(false);

export function attendWhatIf(): void {
    // The races are those of the verdicts: known once these have come.
    effect(() => {
        const known = s.proofState.value === "done" && s.provenText.value === s.good.value?.text;
        if (!known) decided.value = false;
        else if (s.leaf.value === "what-if" && !decided.peek()) void follow();
    });
    effect(() => {
        const good = s.good.value;
        if (s.leaf.value !== "what-if" || !s.serverRuns.value || !good || !s.desk.value || leversOf === good.text) return;
        leversOf = good.text;
        moved.value = {};
        then.value = null;
        void ask<{ levers: Lever[] }>("levers", s.desk.value.id, good.text)
            .then((got) => {
                if (leversOf !== good.text) return;
                refused.value = null;
                levers.value = got.levers;
                void follow();
            })
            .catch((trouble: unknown) => {
                leversOf = null;
                if (trouble instanceof Refused) refused.value = trouble.message;
                else told(trouble);
            });
    });
}

/** Only the newest values are sent; while an answer is under way the next ones wait. */
async function follow(): Promise<void> {
    if (waiting) {
        again = true;
        return;
    }
    const good = s.good.value;
    const desk = s.desk.value;
    if (!good || !desk) return;
    waiting = true;
    const known = s.proofState.peek() === "done" && s.provenText.peek() === good.text;
    try {
        const got = await ask<Then>("what-if", desk.id, good.text, { levers: moved.value }, newestThen());
        if (s.good.value?.text === good.text) {
            then.value = got;
            decided.value = known;
        }
    } catch (trouble) {
        told(trouble);
    } finally {
        waiting = false;
    }
    if (again) {
        again = false;
        await follow();
    }
}

/** Up to where the claim was proven to hold, where this race is one of the verdicts'. */
function holdsTo(edge: { claim: string; first: string; holds: boolean | null }): string {
    if (edge.holds !== true || s.provenText.value !== s.good.value?.text) return "";
    const proven = s.verdicts.value.filter((one) => one.claim === edge.claim).flatMap((one) => one.edges ?? []);
    const to = proven.find((one) => one.first === edge.first)?.holds_to_ms;
    return typeof to === "number" ? `; holds to ${trim(to, 1)} ms` : "";
}

const FEET = 3.28084;

function shown(lever: Lever, value: number): string {
    if (lever.unit === "m" && s.lengthUnit.value === "ft") return `${trim(value * FEET, 0)} ft`;
    return `${trim(value, 1)} ${lever.unit}`;
}

export function whatIfLeaf(): unknown {
    const all = levers.value;
    const now = moved.value;
    const any = Object.keys(now).length > 0;
    const got = then.value;
    return html`<h3 class="unseen">What if</h3>
        <p class="soft">Drag and watch. The text is not changed until you say so.</p>
        ${refused.value ? html`<p class="refusal">${refused.value}</p>` : nothing}
        ${all === null && !refused.value ? html`<p class="soft">Reading the numbers of the text.</p>` : nothing}
        <div class="levers">
        ${(all ?? []).map((lever) => {
            const value = now[lever.id] ?? lever.value;
            return html`<label class="lever">
                <span class="lever-name"><b>${lever.title}</b><output>${shown(lever, value)}</output></span>
                <input
                    type="range"
                    ?disabled=${!s.serverRuns.value}
                    min=${lever.lo}
                    max=${lever.hi}
                    step=${lever.step ?? ((lever.hi - lever.lo) / 200 || 1)}
                    .value=${String(value)}
                    aria-valuetext=${shown(lever, value)}
                    @input=${(event: InputEvent) => {
                        moved.value = { ...moved.value, [lever.id]: Number((event.target as HTMLInputElement).value) };
                        void follow();
                    }}
                />
                <span class="soft">${lever.declared}</span>
            </label>`;
        })}
        </div>
        <h3>Then</h3>
        ${got && (got.edges ?? []).length === 0
            ? html`<p class="soft">${decided.value ? "No claim that holds hangs on a race here." : s.proofState.value === "trying" ? "Races: once the claims are decided." : "Races are not known: the claims are not decided."}</p>`
            : nothing}
        ${got?.refused ? html`<p class="refusal">${got.refused}</p>` : nothing}
        <ul class="claims">
            ${(got?.edges ?? []).map(
                (edge) =>
                    html`<li class="claim"><div class="claim-head flat">${sign(edge.holds === null ? "not-proven" : edge.holds ? "holds-within-tolerances" : "fails")}<span class="claim-words"
                        ><b>${edge.claim}, ${edge.first}</b> <span class="soft">${edge.words}${holdsTo(edge)}</span></span
                    ></div></li>`,
            )}
            ${(got?.coils ?? []).map(
                (coil) =>
                    html`<li class="claim"><div class="claim-head flat">${sign(coil.ok ? "holds-within-tolerances" : "fails")}<span class="claim-words"><b>${coil.name}</b> <span class="soft">${coil.words}</span></span></div></li>`,
            )}
        </ul>
        <p class="soft">Computed for all corners. Expected, not measured.</p>
        <p class="row">
            <button class="key" ?disabled=${!any || !got || got.changes.length === 0 || !s.fresh.value} @click=${() => {
                if (got) apply(got.changes);
                moved.value = {};
            }}>Write these into the text</button>
            <button class="word" ?disabled=${!any} @click=${() => {
                moved.value = {};
                void follow();
            }}>Back to the declared numbers</button>
        </p>`;
}
