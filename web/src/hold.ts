/** Must hold: the claims with their verdicts, and what else was found. */
import { html, nothing, svg } from "lit-html";
import { goToLine, goToPart } from "./go";
import { playStory } from "./play";
import * as s from "./state";
import type { Edge, Finding, Verdict } from "./types";
import { trim } from "./units";

const ORDER = ["fails", "not-proven", "vacuous", "holds-within-tolerances", "holds-in-any-order", "waived", "not-asked"];

function rank(one: Verdict): number {
    const at = ORDER.indexOf(one.verdict);
    return at < 0 ? ORDER.length : at;
}

function spare(one: Verdict): number {
    return Math.min(Infinity, ...(one.edges ?? []).map((edge) => edge.spare_ms ?? Infinity));
}

export function idOf(one: Verdict): string {
    return [one.id ?? one.claim, one.about ?? "", one.words].join("|");
}

/** A piece of conductor, always with words beside it. */
export function sign(verdict: string): unknown {
    const ink = (inside: unknown): unknown =>
        html`<svg class="sign" viewBox="0 0 34 14" width="34" height="14" aria-hidden="true">${inside}</svg>`;
    switch (verdict) {
        case "holds-in-any-order":
            return ink(svg`<path d="M1 7H33" stroke-width="4.5"/>`);
        case "holds-within-tolerances":
            return ink(svg`<path d="M1 7H11M23 7H33" stroke-width="6"/><path d="M10 7H24" stroke-width="1.6"/>`);
        case "fails":
            return ink(svg`<path d="M1 7H11M23 7H33" stroke-width="6"/><path class="pencil" d="M13 13L21 1" stroke-width="2.6"/>`);
        case "not-proven":
            return ink(svg`<path d="M1 7H33" stroke-width="4.5" stroke-dasharray="4 3.2"/>`);
        case "vacuous":
            return ink(svg`<path d="M1 7H9M25 7H33" stroke-width="4.5"/>`);
        case "waived":
            return ink(svg`<path d="M6 7H28M3.5 1.5H1.5V12.5H3.5M30.5 1.5H32.5V12.5H30.5" stroke-width="2"/>`);
        case "trying":
            return ink(svg`<path class="growing" d="M1 7H33" stroke-width="4.5" stroke-dasharray="4 3.2"/>`);
        default:
            return ink(svg`<path d="M1 7H33" stroke-width="1"/>`);
    }
}

export function holdWord(): string {
    const fails = s.verdicts.value.filter((one) => one.verdict === "fails").length;
    if (fails === 0) return "Must hold";
    return `Must hold · ${fails} ${fails === 1 ? "fails" : "fail"}`;
}

export function holdLeaf(): unknown {
    const reading = s.reading.value;
    const list = s.verdicts.value.toSorted((a, b) => rank(a) - rank(b) || spare(a) - spare(b));
    const old = s.provenText.value !== null && s.provenText.value !== s.text.value;
    const waiting = s.proofState.value === "trying";
    const trying = s.trying.value;
    const found = s.latest.value?.findings.filter((one) => one.severity !== "error") ?? [];
    return html`<h3 class="unseen">Must hold</h3>
        ${old
            ? html`<p class="old">${s.readable.value ? "As of the text before; being tried again." : "As of the last text that could be read."}</p>`
            : nothing}
        <ul class="claims ${old ? "are-old" : ""}">
            ${list.map((one) => claim(one))}
            ${waiting
                ? html`<li class="claim trying">
                      ${sign("trying")}
                      <span class="claim-words"
                          ><b>${trying?.claim ?? "Being tried"}</b>
                          <span class="soft">${trying ? `Being tried: ${trying.positions.toLocaleString("en")} positions so far` : ""}</span></span
                      >
                  </li>`
                : nothing}
            ${list.length === 0 && s.proofState.value === "done"
                ? html`<li class="soft">The text claims nothing yet. Write a <b>matrix</b> and it is tried.</li>`
                : nothing}
        </ul>
        <h3>Also found</h3>
        ${found.length === 0 ? html`<p class="soft">Nothing else.</p>` : html`<ul class="claims">${found.map(finding)}</ul>`}
        ${reading?.typical
            ? html`<p class="soft typical">As declared: ${reading.typical} typical ${reading.typical === 1 ? "value" : "values"}. Ask the maker.</p>`
            : nothing}`;
}

function claim(one: Verdict): unknown {
    const id = idOf(one);
    const open = s.openClaim.value === id;
    return html`<li class="claim ${open ? "open" : ""}">
        <button class="claim-head" aria-expanded=${open ? "true" : "false"} @click=${() => (s.openClaim.value = open ? null : id)}>
            ${sign(one.verdict)}
            <span class="claim-words"><b>${titled(one)}</b> <span class="soft">${one.words}</span></span>
        </button>
        ${open ? more(one) : nothing}
    </li>`;
}

function titled(one: Verdict): string {
    const title = one.title ?? one.claim;
    return title.charAt(0).toUpperCase() + title.slice(1);
}

function more(one: Verdict): unknown {
    return html`<div class="claim-more">
        ${one.reason ? html`<p>${one.reason}</p>` : nothing} ${one.waived ? html`<p>Waived: ${one.waived}</p>` : nothing}
        ${race(one.edges ?? [])}
        ${one.covers ? html`<p class="soft">Covers: ${one.covers}.</p>` : nothing}
        ${one.leaves_out ? html`<p class="soft">Leaves out: ${one.leaves_out}.</p>` : nothing}
        ${one.positions ? html`<p class="soft">${one.positions.toLocaleString("en")} positions tried.</p>` : nothing}
        <p class="row">
            ${one.story
                ? html`<button class="key" @click=${() => void playStory(one.story ?? {}, titled(one), one.story?.decisive ?? null)}>
                      Play the story
                  </button>`
                : nothing}
            ${one.line ? html`<button class="key" @click=${() => goToLine(one.line ?? 1)}>Line ${one.line}</button>` : nothing}
        </p>
    </div>`;
}

function bars(edge: Edge): { first: [number, number]; second: [number, number] } | null {
    const own = edge.bars;
    if (!own) return null;
    if (Array.isArray(own)) {
        const [first, second] = own;
        return first && second ? { first, second } : null;
    }
    return own;
}

/** The race with the least to spare as two bars on one scale; the others as lines. */
function race(edges: Edge[]): unknown {
    if (edges.length === 0) return nothing;
    const [nearest, ...others] = edges.toSorted((a, b) => (a.spare_ms ?? Infinity) - (b.spare_ms ?? Infinity));
    if (!nearest) return nothing;
    const two = bars(nearest);
    return html`<div class="race">
            <p>${nearest.first} <span class="soft">must come before</span> ${nearest.must_beat}</p>
            ${two ? raceBars(two, nearest) : nothing}
            ${nearest.spare_ms !== null && nearest.spare_ms !== undefined ? html`<p><b>${trim(nearest.spare_ms, 1)} ms to spare</b></p>` : nothing}
            ${nearest.from ? html`<p class="soft">Counted from ${nearest.from}.</p>` : nothing}
            ${nearest.fails_from ? html`<p class="soft">Would fail from ${nearest.fails_from}.</p>` : nothing}
        </div>
        ${others.slice(0, 5).map(
            (edge) =>
                html`<p class="soft">
                    ${edge.first} before ${edge.must_beat}${edge.spare_ms !== null && edge.spare_ms !== undefined
                        ? `: ${trim(edge.spare_ms, 1)} ms to spare`
                        : ""}
                </p>`,
        )}
        ${others.length > 5 ? html`<p class="soft">and ${others.length - 5} more</p>` : nothing}`;
}

function raceBars(two: { first: [number, number]; second: [number, number] }, edge: Edge): unknown {
    const most = Math.max(two.first[1], two.second[1], 1);
    const x = (ms: number): number => 4 + (Math.min(ms, most) / most) * 252;
    const w = (span: [number, number]): number => Math.max(3, x(span[1]) - x(span[0]));
    return html`<svg
        class="race-bars"
        viewBox="0 0 260 58"
        role="img"
        aria-label=${`${edge.first}: ${two.first[0]} to ${two.first[1]} ms; ${edge.must_beat}: ${two.second[0]} to ${two.second[1]} ms`}
    >
        ${svg`<rect class="must" x=${x(two.first[0])} y="4" width=${w(two.first)} height="13"/>
        <rect class="beaten" x=${x(two.second[0])} y="30" width=${w(two.second)} height="13"/>
        <path class="thin" d=${`M${x(two.first[1])} 17V50M${x(two.second[0])} 30V17`}/>
        <text x=${x(two.first[1])} y="56" text-anchor="middle">${trim(two.first[1], 1)} </text>
        <text x=${x(two.second[0])} y="28" text-anchor="start">${trim(two.second[0], 1)} ms</text>`}
    </svg>`;
}

function finding(one: Finding): unknown {
    return html`<li class="claim">
        <div class="claim-head flat">
            ${sign("note")}
            <span class="claim-words">
                <b>${one.message}</b>
                ${one.why ? html`<span class="soft">${one.why}</span>` : nothing}
                ${one.help ? html`<span class="soft">${one.help}</span>` : nothing}
                <span class="row">
                    <button class="word" @click=${() => goToLine(one.line)}>Line ${one.line}</button>
                    ${one.parts?.[0]
                        ? html`<button class="word" @click=${() => goToPart(one.parts?.[0] ?? "")}>On the drawing</button>`
                        : nothing}
                </span>
            </span>
        </div>
    </li>`;
}
