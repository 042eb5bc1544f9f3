/**
 * What may happen: everything from outside, by its place and its person.
 *
 * In: the bands of the moment. Out: acts. Never here: who may do what; the program says it.
 */
import { html, nothing } from "lit-html";
import { paint } from "./paint";
import { act, inTurn } from "./play";
import * as s from "./state";
import type { Band, Handle } from "./types";

export function bandView(host: HTMLElement): void {
    paint(
        () =>
            html`${s.bands.value.map(
                (band) => html`<div class="group" role="group" aria-label=${band.title}>
                    ${band.handles.map(
                        (handle, at) =>
                            html`<div class=${at === 0 ? "box first" : "box"}>
                                ${at === 0 ? html`<h2>${heading(band)}</h2>` : html`<span class="blank"></span>`}
                                ${one(handle, band.person ?? null)}
                            </div>`,
                    )}
                </div>`,
            )}`,
        host,
    );
}

function heading(band: Band): unknown {
    const [first, ...rest] = band.title.split(" · ");
    return html`<b>${first}</b>${rest.length > 0 ? html` · ${rest.join(" · ")}` : nothing}`;
}

function springs(handle: Handle): boolean {
    return handle.positions.some((position) => position.returns_to);
}

/** So or not so, given or not given: one key with the name itself. */
function yesNo(handle: Handle): boolean {
    const [no, yes] = handle.positions;
    return handle.positions.length === 2 && (no?.name === "no" || no?.name === "not given" || handle.kind === "order") && !!yes;
}

/** A press turns it and holds it; a second press lets it go. */
export function press(pressed: Handle, to: string, by: string | null): void {
    inTurn(() => turn(s.bands.value.flatMap((band) => band.handles).find((one) => one.id === pressed.id) ?? pressed, to, by));
}

function turn(handle: Handle, to: string, by: string | null): void {
    if (!s.fresh.value || !s.serverRuns.value) return;
    if (handle.refused) {
        s.caption.value = { sentence: handle.refused, kind: "refused" };
        return;
    }
    const returns = handle.positions.find((position) => position.name === to)?.returns_to;
    const so = handle.at === to;
    switch (handle.kind) {
        case "handle":
        case "button":
            if (so && (returns || handle.kind === "button")) act(handle.id, "release", null, by);
            else act(handle.id, returns || handle.kind === "button" ? "press" : "set", to, by);
            break;
        case "lockout":
            act(handle.id, "reset", null, by);
            break;
        case "supply":
            act(handle.id, to === "lost" ? "lose" : "return", null, by);
            break;
        case "order":
            act(handle.id, so ? "release" : "press", null, by);
            break;
        default:
            act(handle.id, "set", so && yesNo(handle) ? (handle.positions[0]?.name ?? to) : to, by);
    }
}

function key(handle: Handle, by: string | null, words: string, to: string, name: string): unknown {
    const so = handle.at === to;
    const held = so && (springs(handle) || handle.kind === "order" || handle.kind === "button");
    const label = held ? `${words} · held` : words;
    return html`<button
        class="key ${held ? "held" : so ? "so" : ""}"
        aria-pressed=${so ? "true" : "false"}
        aria-label=${name ? `${name} ${label}` : label}
        title=${name ? nothing : handle.title || nothing}
        aria-disabled=${handle.refused ? "true" : nothing}
        ?disabled=${!s.fresh.value || !s.serverRuns.value}
        @click=${() => press(handle, to, by)}
    >${label}</button>`;
}

function one(handle: Handle, by: string | null): unknown {
    const name = html`<span class="handle-name" title=${handle.title || nothing}>${handle.name}</span>`;
    if (yesNo(handle)) {
        const yes = handle.positions[1]?.name ?? "";
        return html`<span class="handle"><span class="row">${key(handle, by, handle.name, yes, "")}</span></span>`;
    }
    if (handle.refused) {
        return html`<span class="handle">${name}<span class="row">${key(handle, by, handle.at ?? "", handle.at ?? "", handle.name)}</span></span>`;
    }
    if (handle.kind === "lockout") {
        return html`<span class="handle">${name}<span class=${handle.at === "reset" ? "soft resting" : "resting strong"}>${handle.at}</span>
            ${handle.at === "reset" ? nothing : html`<button class="key" ?disabled=${!s.fresh.value || !s.serverRuns.value} aria-label=${`${handle.name} reset`} @click=${() => press(handle, "reset", by)}>reset</button>`}</span>`;
    }
    const list = springs(handle) ? handle.positions.filter((position) => position.returns_to) : handle.positions;
    const resting = springs(handle) && !list.some((position) => position.name === handle.at) ? handle.at : null;
    return html`<span class="handle">
        ${name}
        <span class="row">${list.map((position) => key(handle, by, position.name, position.name, handle.name))}</span>
        ${resting ? html`<span class="soft resting">${resting}</span>` : nothing}
    </span>`;
}
