/** The margin: its leaves, and the card of the guide at its foot. */
import { effect } from "@preact/signals-core";
import { html, nothing, render } from "lit-html";
import { paint } from "./paint";
import { findLeaf } from "./find";
import { show, wide } from "./go";
import { guideCard } from "./guide";
import { holdLeaf, holdWord } from "./hold";
import { keysLeaf } from "./keys";
import { papersLeaf } from "./papers";
import { putInLeaf } from "./putin";
import { schemesLeaf } from "./schemes";
import * as s from "./state";
import { unitsLeaf } from "./units";
import { whatIfLeaf } from "./whatif";

const EXTRA: Partial<Record<typeof s.leaf.value, string>> = {
    "put-in": "Change this place",
    find: "Find",
    schemes: "Schemes",
    papers: "Papers",
    units: "Units",
    keys: "Keys",
};

export function marginView(host: HTMLElement): void {
    const tabs = document.createElement("div");
    tabs.className = "tabs";
    tabs.setAttribute("role", "tablist");
    tabs.setAttribute("aria-label", "Leaves of the margin");
    const body = document.createElement("div");
    body.className = "leaf";
    body.id = "leaf";
    body.tabIndex = 0;
    body.setAttribute("role", "tabpanel");
    const foot = document.createElement("div");
    foot.className = "foot";
    host.append(tabs, body, foot);
    paint(tabsOf, tabs);
    let before: typeof s.leaf.value | null = null;
    effect(() => {
        const leaf = s.leaf.value;
        // What is found stands below the field where somebody types: that stays in sight.
        if (before !== null && leaf !== before && leaf !== "find") show("margin");
        before = leaf;
    });
    effect(() => {
        const leaf = s.leaf.value;
        document.body.dataset["leaf"] = leaf;
        body.setAttribute("aria-labelledby", `tab-${leaf}`);
        render(leafOf(leaf), body);
    });
    paint(guideCard, foot);
    matchMedia("(min-width: 1800px)").addEventListener("change", () => {
        if (wide() && s.leaf.value === "text") s.leaf.value = "hold";
        else render(tabsOf(), tabs);
    });
    tabs.addEventListener("keydown", (event) => {
        const all = [...tabs.querySelectorAll<HTMLElement>("[role=tab]")];
        const here = all.indexOf(document.activeElement as HTMLElement);
        const to = event.key === "ArrowRight" ? here + 1 : event.key === "ArrowLeft" ? here - 1 : null;
        if (to === null || here < 0) return;
        event.preventDefault();
        const next = all[(to + all.length) % all.length];
        next?.click();
        next?.focus();
    });
}

function tabsOf(): unknown {
    const leaf = s.leaf.value;
    const extra = EXTRA[leaf];
    const tabs: [typeof leaf, string][] =
        leaf === "put-in"
            ? [["put-in", "Change this place"]]
            : [
                  ["hold", holdWord()],
                  ["what-if", "What if"],
                  ...(wide() ? [] : ([["text", "Text"]] as [typeof leaf, string][])),
                  ...(extra ? ([[leaf, extra]] as [typeof leaf, string][]) : []),
              ];
    return tabs.map(
        ([name, words]) =>
            html`<button
                class="tab"
                role="tab"
                id=${`tab-${name}`}
                aria-controls=${name === "text" ? "textside" : "leaf"}
                aria-selected=${leaf === name ? "true" : "false"}
                tabindex=${leaf === name ? "0" : "-1"}
                @click=${() => (s.leaf.value = name)}
            >
                ${words}
            </button>`,
    );
}

function leafOf(leaf: typeof s.leaf.value): unknown {
    switch (leaf) {
        case "hold":
            return holdLeaf();
        case "what-if":
            return whatIfLeaf();
        case "put-in":
            return putInLeaf();
        case "find":
            return findLeaf();
        case "schemes":
            return schemesLeaf();
        case "papers":
            return papersLeaf();
        case "units":
            return unitsLeaf();
        case "keys":
            return keysLeaf();
        default:
            return nothing;
    }
}
