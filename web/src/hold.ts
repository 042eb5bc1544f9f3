/** Must hold: the claims with their verdicts, and what else was found. */
import { html, nothing, svg } from "lit-html";
import { goToLine, goToPart, show } from "./go";
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
    return [one.id, one.about ?? "", one.across ?? "", one.asks ?? ""].join("|");
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
    const fails = s.verdicts.value.filter((one) => one.verdict === "fails" && !one.across).length;
    if (fails === 0) return "Must hold";
    return `Must hold · ${fails} ${fails === 1 ? "fails" : "fail"}`;
}

export function holdLeaf(): unknown {
    if (!s.desk.value) return nothing;
    const reading = s.reading.value;
    const list = s.verdicts.value.toSorted((a, b) => rank(a) - rank(b) || spare(a) - spare(b));
    const old = s.provenText.value !== null && s.provenText.value !== s.text.value;
    const waiting = s.proofState.value === "trying";
    const trying = s.trying.value;
    const claims = list.filter((one) => !one.across);
    const beside = list.filter((one) => one.across);
    const worst = s.worst.value?.text === s.text.value ? s.worst.value.findings : [];
    const found = [...(s.latest.value?.findings ?? []), ...worst]
        .filter((one) => one.severity !== "error")
        .toSorted((a, b) => Number(a.severity === "note") - Number(b.severity === "note"));
    const grave = found.filter((one) => one.severity !== "note").length;
    return html`<h3 class="unseen">Must hold</h3>
        ${old
            ? html`<p class="old">${s.readable.value ? "As of the text before; being tried again." : "As of the last text that could be read."}</p>`
            : nothing}
        ${grave > 0
            ? html`<p><button class="word" @click=${() => document.getElementById("also-found")?.scrollIntoView()}>
                  ${grave === 1 ? "1 finding" : `${grave} findings`} under Also found
              </button></p>`
            : nothing}
        <ul class="claims ${old ? "are-old" : ""}">
            ${claims.map((one) => claim(one))}
            ${waiting
                ? html`<li class="claim trying">
                      ${sign("trying")}
                      <span class="claim-words"
                          ><b>${capital(trying?.claim ?? "Being tried")}</b>
                          <span class="soft">${trying ? `${trying.asks ? `${sentence(trying.asks)} ` : ""}Being tried${seconds()}: ${trying.decided} of ${trying.of} decided.` : `${capital(seconds().trim())}`}</span></span
                      >
                  </li>`
                : nothing}
            ${list.length === 0 && s.proofState.value === "done"
                ? html`<li class="soft">The text claims nothing yet. Write a <b>matrix</b> and it is tried.</li>`
                : nothing}
        </ul>
        ${beside.length > 0
            ? html`<h3>Beside the claims: across loss and return of a supply</h3>
                  <ul class="claims ${old ? "are-old" : ""}">${beside.map((one) => claim(one))}</ul>`
            : nothing}
        <h3 id="also-found">Also found</h3>
        ${found.length > 0 ? html`<ul class="claims">${found.map(finding)}</ul>` : nothing} ${worstWords(found.length)}
        ${reading?.typical
            ? html`<p class="soft typical">As declared: ${reading.typical} typical ${reading.typical === 1 ? "value" : "values"}. Ask the maker.</p>`
            : nothing}`;
}

function seconds(): string {
    return s.provingFor.value > 0 ? ` for ${s.provingFor.value} s` : "";
}

/** Only once the worst corners are known may it be said that nothing else was found. */
function worstWords(found: number): unknown {
    const words = !s.readable.value
        ? "Volts, currents and ratings at the worst corners: once every line can be read."
        : s.worst.value?.text === s.text.value
          ? found === 0
              ? "Nothing else."
              : null
          : s.worstState.value === "off"
            ? "Volts, currents and ratings at the worst corners could not be worked out. Ask fiftytwo check."
            : "Volts, currents and ratings at the worst corners are still being worked out.";
    return words === null ? nothing : html`<p class="soft worst" role="status">${words}</p>`;
}

function claim(one: Verdict): unknown {
    const id = idOf(one);
    const open = s.openClaim.value === id;
    return html`<li class="claim ${open ? "open" : ""}">
        <button class="claim-head" aria-expanded=${open ? "true" : "false"} @click=${() => (s.openClaim.value = open ? null : id)}>
            ${sign(one.verdict)}
            <span class="claim-words"><b>${titled(one)}</b> <span class="soft">${one.words}</span>${one.asks && !one.words.includes(one.asks) ? html` <span class="soft">${one.asks}</span>` : nothing}</span>
        </button>
        ${open ? more(one) : nothing}
    </li>`;
}

function titled(one: Verdict): string {
    return capital(one.title ?? one.claim);
}

function capital(words: string): string {
    return words.charAt(0).toUpperCase() + words.slice(1);
}

function more(one: Verdict): unknown {
    return html`<div class="claim-more">
        ${one.because ? html`<p>${capital(sentence(one.because))}</p>` : nothing} ${one.waived ? html`<p>Waived: ${one.waived}</p>` : nothing}
        ${race(one.edges ?? [])}
        <p class="row">
            ${one.story
                ? html`<button class="key" @click=${() => {
                      show("sheet");
                      void playStory({ ofClaim: one.story?.id ?? "" }, titled(one), one.story?.decisive ?? null);
                  }}>
                      Play the story
                  </button>`
                : nothing}
            ${one.line ? html`<button class="key" @click=${() => goToLine(one.line ?? 1)}>Line ${one.line}</button>` : nothing}
        </p>
        ${one.covers ? html`<p class="soft">Covers: ${sentence(one.covers)}</p>` : nothing}
        ${one.leaves_out ? html`<p class="soft">Leaves out: ${sentence(one.leaves_out)}</p>` : nothing}
        ${one.positions ? html`<p class="soft">${one.positions.toLocaleString("en")} positions tried.</p>` : nothing}
        ${s.assumes.value.length > 0
            ? html`<details>
                  <summary>What every verdict assumes</summary>
                  <ul class="assumes">
                      ${s.assumes.value.map((words) => html`<li>${words}</li>`)}
                  </ul>
              </details>`
            : nothing}
    </div>`;
}

function sentence(words: string): string {
    return words.endsWith(".") ? words : `${words}.`;
}

/** The race with the least to spare as two bars on one scale; the others as lines. */
function race(edges: Edge[]): unknown {
    const [nearest, ...others] = edges.toSorted((a, b) => (a.spare_ms ?? Infinity) - (b.spare_ms ?? Infinity));
    if (!nearest) return nothing;
    return html`<div class="race">
            <p>${sentence(nearest.words)}</p>
            ${bars(nearest)}
        </div>
        ${others.slice(0, 5).map((edge) => html`<p class="soft">${sentence(edge.words)}</p>`)}
        ${others.length > 5 ? html`<p class="soft">and ${others.length - 5} more</p>` : nothing}`;
}

/** Filled: the declared time. Hollow: where it would fail. Between them the time to spare. */
function bars(edge: Edge): unknown {
    const declared = edge.declared_ms;
    const fails = edge.fails_from_ms;
    if (declared === null || declared === undefined || fails === null || fails === undefined) return nothing;
    const [from, to] = Array.isArray(declared) ? declared : [0, declared];
    const most = Math.max(fails, to) * 1.3;
    const x = (ms: number): number => 4 + (ms / most) * 252;
    const spare = edge.spare_ms ?? fails - to;
    return html`<svg
        class="race-bars"
        viewBox="0 0 260 66"
        role="img"
        aria-label=${`declared ${from} to ${to} ms; would fail from ${fails} ms; ${trim(spare, 1)} ms to spare`}
    >
        ${svg`<rect class="must" x=${x(from)} y="18" width=${Math.max(3, x(to) - x(from))} height="12"/>
        <rect class="beaten" x=${x(fails)} y="38" width=${Math.max(4, 256 - x(fails))} height="12"/>
        <path class="thin" d=${`M${x(to)} 30V46M${x(fails)} 38V22`}/>
        <path class="gap" d=${`M${x(to)} 44H${x(fails)}`}/>
        <text x=${x(to)} y="14" text-anchor="end">declared to ${trim(to, 1)} ms </text>
        <text x=${x(fails)} y="62" text-anchor=${x(fails) > 160 ? "end" : "start"}>fails from ${trim(fails, 1)} ms </text>
        <text class="bold" x=${Math.min(x(fails) + 4, 168)} y="28">${trim(spare, 1)} ms to spare</text>`}
    </svg>`;
}

/** Where a part is drawn that a finding tells by its place or by its name. */
function drawn(told: string | undefined): string | null {
    const parts = s.sheets.value.flatMap((sheet) => sheet.parts);
    return parts.find((part) => part.id === told || part.part === told)?.id ?? null;
}

function finding(one: Finding): unknown {
    const part = drawn(one.parts?.[0]);
    return html`<li class="claim">
        <div class="claim-head flat">
            ${sign(one.severity === "note" ? "note" : "fails")}
            <span class="claim-words">
                <b>${capital(one.message)}</b>
                ${one.why ? html`<span class="soft">${one.why}</span>` : nothing}
                ${one.help ? html`<span class="soft">${one.help}</span>` : nothing}
                <span class="row">
                    ${one.line ? html`<button class="word" @click=${() => goToLine(one.line ?? 1)}>Line ${one.line}</button>` : nothing}
                    ${part !== null
                        ? html`<button class="word" @click=${() => void goToPart(part)}>On the drawing</button>`
                        : nothing}
                </span>
            </span>
        </div>
    </li>`;
}
