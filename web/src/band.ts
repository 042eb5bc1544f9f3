/**
 * What may happen: everything from outside, by its place and its person.
 *
 * In: the bands of the moment. Out: acts. Never here: who may do what; the program says it.
 */
import { html, nothing } from "lit-html";
import { paint } from "./paint";
import { act } from "./play";
import * as s from "./state";
import type { Band, Handle } from "./types";

export function bandView(host: HTMLElement): void {
    paint(
        () =>
            html`${s.bands.value.map(
                (band) => html`<div class="group" role="group" aria-label=${band.title}>
                    <h2>${heading(band)}</h2>
                    <div class="keys">${band.handles.map((handle) => one(handle, band.person ?? null))}</div>
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

/** A press turns it and holds it; a second press lets it go. */
export function press(handle: Handle, to: string, by: string | null): void {
    if (handle.refused) {
        s.caption.value = { sentence: handle.refused, kind: "refused" };
        return;
    }
    const returns = handle.positions.find((position) => position.name === to)?.returns_to;
    switch (handle.kind) {
        case "handle":
        case "button":
            if (returns && handle.at === to) act(handle.id, "release", returns, by);
            else act(handle.id, returns || handle.kind === "button" ? "press" : "set", to, by);
            break;
        case "lockout":
            act(handle.id, "reset", to, by);
            break;
        case "supply":
            act(handle.id, to === "lost" ? "lose" : "return", to, by);
            break;
        case "order":
            act(handle.id, handle.at === to ? "release" : "press", to, by);
            break;
        default:
            act(handle.id, "set", to, by);
    }
}

function one(handle: Handle, by: string | null): unknown {
    const off = !s.fresh.value;
    const list = springs(handle) ? handle.positions.filter((position) => position.returns_to) : handle.positions;
    const resting = springs(handle) && !list.some((position) => position.name === handle.at) ? handle.at : null;
    const alone = list.length === 1 && list[0]?.name === handle.name;
    const key = (name: string): unknown => {
        const so = handle.at === name;
        const held = so && (springs(handle) || handle.kind === "order" || handle.kind === "button");
        const label = held ? `${name} · held` : name;
        return html`<button
            class="key ${held ? "held" : so ? "so" : ""}"
            aria-pressed=${so ? "true" : "false"}
            aria-label=${alone ? label : `${handle.name} ${label}`}
            aria-disabled=${handle.refused ? "true" : nothing}
            ?disabled=${off}
            @click=${() => {
                press(handle, name, by);
            }}
        >
            ${label}
        </button>`;
    };
    return html`<span class="handle ${handle.refused ? "refused" : ""}">
        ${alone ? nothing : html`<span class="handle-name" title=${handle.title}>${handle.name}</span>`}
        <span class="row">${list.map((position) => key(position.name))}</span>
        ${resting ? html`<span class="soft resting">${resting}</span>` : nothing}
    </span>`;
}
