/** The top line: the scheme's name, Find, and words that open a leaf of the margin. */
import { effect } from "@preact/signals-core";
import { html, nothing } from "lit-html";
import { wanted } from "./find";
import { beginGuide } from "./guide";
import { paint } from "./paint";
import { draw } from "./play";
import { openSchemes } from "./schemes";
import * as s from "./state";

let beforeFind: typeof s.leaf.value = "hold";

export function topView(host: HTMLElement): void {
    host.replaceChildren();
    paint(line, host);
    s.systemNight.addEventListener("change", (system) => {
        if (s.kept("night", "") !== "") return;
        s.night.value = system.matches;
        void draw();
    });
    effect(() => {
        document.documentElement.dataset["light"] = s.night.value ? "night" : "day";
        document.title = s.reading.value?.title ? `${s.reading.value.title} – fiftytwo` : "fiftytwo";
    });
}

function word(words: string, leaf: typeof s.leaf.value, does: () => void): unknown {
    return html`<button class="word" aria-expanded=${s.leaf.value === leaf ? "true" : "false"} @click=${does}>${words}</button>`;
}

/** Whoever only tabs past keeps the leaf that is open. */
function find(): void {
    if (s.leaf.value !== "find") beforeFind = s.leaf.value;
    s.leaf.value = "find";
}

function line(): unknown {
    const reading = s.reading.value;
    const open = (leaf: typeof s.leaf.value) => (): void => {
        s.leaf.value = s.leaf.value === leaf ? "hold" : leaf;
    };
    return html`<h1>${reading?.title ?? "fiftytwo"}</h1>
        ${reading?.revision ? html`<span class="soft revision">revision ${reading.revision}</span>` : nothing}
        ${s.desk.value ? html`<span class="soft revision" title=${s.desk.value.file ?? "kept nowhere yet"}>${s.desk.value.name}</span>` : nothing}
        <span class="stretch"></span>
        <input
            id="find"
            type="search"
            aria-label="Find a device, a contact, a wire"
            placeholder="Find 52Y …"
            .value=${wanted.value}
            @click=${find}
            @input=${(event: InputEvent) => {
                wanted.value = (event.target as HTMLInputElement).value;
                find();
            }}
            @keydown=${(event: KeyboardEvent) => {
                if (event.key === "Enter") document.querySelector<HTMLElement>("#margin .found .pick")?.click();
                if (event.key === "Escape") {
                    s.leaf.value = beforeFind === "find" ? "hold" : beforeFind;
                    (event.target as HTMLElement).blur();
                }
            }}
        />
        ${word("Schemes", "schemes", () => (s.leaf.value === "schemes" ? (s.leaf.value = "hold") : void openSchemes()))}
        ${word("Papers", "papers", open("papers"))} ${word("Units", "units", open("units"))} ${word("Keys", "keys", open("keys"))}
        <button class="word" @click=${beginGuide}>Show me round</button>
        <button
            class="word"
            @click=${() => {
                s.night.value = !s.night.value;
                s.keep("night", s.night.value ? "yes" : "no");
                void draw();
            }}
        >
            ${s.night.value ? "Day" : "Night"}
        </button>`;
}
