/** What the page must say without being asked: the file changed, a text came back, nothing runs. */
import { effect, signal } from "@preact/signals-core";
import { html, nothing, render } from "lit-html";
import { running } from "./api";
import { keepMine, takeTheirs } from "./desk";
import { keepAs } from "./schemes";
import * as s from "./state";

const both = signal(false);
let difference = -1;

/** Each text at its next line that the other has not. */
function nextDifference(): void {
    difference += 1;
    for (const column of document.querySelectorAll(".both-column")) {
        const all = column.querySelectorAll<HTMLElement>(".differs");
        const line = all[difference % Math.max(1, all.length)];
        if (line) column.scrollTop += line.getBoundingClientRect().top - column.getBoundingClientRect().top - column.clientHeight / 3;
    }
}

export function newsView(host: HTMLElement): void {
    effect(() => {
        render(html`${gone()}${told()}`, host);
    });
    effect(() => {
        document.body.classList.toggle("gone", !running.value);
    });
}

function gone(): unknown {
    if (running.value) return nothing;
    return html`<p class="strip strong">
        <span><b>fiftytwo is not running.</b> Your text is kept here. Start it again and this page goes on by itself.</span>
    </p>`;
}

function told(): unknown {
    const news = s.news.value;
    if (!news) return nothing;
    const leave = (): void => {
        both.value = false;
        s.news.value = null;
    };
    if (news.what === "changed" || news.what === "draft") {
        const draft = news.what === "draft";
        return html`<div class="strip">
                <span><b>${news.words}</b></span>
                <button class="key" aria-expanded=${both.value ? "true" : "false"} @click=${() => {
                    both.value = !both.value;
                    difference = -1;
                    if (both.value) requestAnimationFrame(nextDifference);
                }}>
                    ${both.value ? "Back to the drawing" : draft ? "Show" : "Show both"}
                </button>
                ${both.value ? html`<button class="key" @click=${nextDifference}>Next difference</button>` : nothing}
                <button
                    class="key"
                    @click=${() => {
                        both.value = false;
                        takeTheirs();
                    }}
                >
                    ${draft ? "Take the file’s text" : "Take theirs"}
                </button>
                ${draft
                    ? html`<button class="key" @click=${leave}>Go on with mine</button>`
                    : html`<button class="key" @click=${() => { both.value = false; keepMine(); }}>Keep mine; I have seen theirs</button>`}
            </div>
            ${both.value ? html`${sideBySide(s.text.value, news.theirs ?? "")}${draft ? nothing : html`<div class="strip">${keepAs()}</div>`}` : nothing}`;
    }
    if (news.what === "gone") {
        return html`<div class="strip strong"><span><b>${news.words}</b></span>${keepAs()}</div>`;
    }
    if (news.what === "told" && news.words.startsWith("Kept as ")) {
        return html`<p class="strip"><span>${news.words}</span><button class="word" @click=${leave}>Good</button></p>`;
    }
    if (news.what === "told") {
        return html`<div class="strip">
            <span>${news.words || "This example has no file of its own."}</span>
            ${keepAs()}
            <button class="word" @click=${leave}>Leave</button>
        </div>`;
    }
    return html`<p class="strip"><span>${news.words}</span><button class="word" @click=${leave}>Good</button></p>`;
}

/** Two texts side by side, lines that only one has marked by a sign and by weight. */
function sideBySide(mine: string, theirs: string): unknown {
    const left = mine.split("\n");
    const right = theirs.split("\n");
    const inLeft = new Set(left);
    const inRight = new Set(right);
    const column = (lines: string[], other: Set<string>, title: string): unknown =>
        html`<div class="both-column" tabindex="0" role="region" aria-label=${title}>
            <b>${title}</b>
            <ol>
                ${lines.map((line) => html`<li class=${other.has(line) ? "" : "differs"}>${line || " "}</li>`)}
            </ol>
        </div>`;
    return html`<div class="both">${column(left, inRight, "Mine")}${column(right, inLeft, "The file’s")}</div>`;
}
