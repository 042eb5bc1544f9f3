/** What happened: words first, the sequence chart beside them; one selection for both. */
import { effect, signal } from "@preact/signals-core";
import { html, nothing, render } from "lit-html";
import { paint } from "./paint";
import { chart } from "./chart";
import { goToLine } from "./go";
import { beginAgain, nextEvent, playStory, setPace, standsBeforeMore, why } from "./play";
import * as s from "./state";
import type { Happening } from "./types";
import { trim, when } from "./units";

export function happenedView(host: HTMLElement): void {
    const head = document.createElement("div");
    head.className = "happened-head";
    const list = document.createElement("div");
    list.className = "events";
    list.tabIndex = 0;
    list.setAttribute("role", "listbox");
    list.setAttribute("aria-label", "What happened, in order");
    const picture = document.createElement("div");
    picture.className = "chart";
    host.append(head, list, picture);
    paint(headOf, head);
    let seen = "";
    effect(() => {
        const events = s.shown.value;
        list.setAttribute("role", events.length > 0 ? "listbox" : "group");
        render(events.length > 0 ? rows(events) : nothingYet(), list);
        const here = list.querySelector('[aria-selected="true"]') ?? (events.length > 0 ? list.lastElementChild : null);
        const own = `${events.length} ${s.look.value}`;
        // With the frame, not in the middle of the changes: the page is laid out once.
        if (own !== seen) requestAnimationFrame(() => here?.scrollIntoView({ block: "nearest" }));
        seen = own;
    });
    const room = signal({ width: 0, height: 0 });
    effect(() => {
        const { width, height } = room.value;
        if (width > 80 && height > 40) render(chart(width, height), picture);
    });
    new ResizeObserver(() => {
        room.value = { width: picture.clientWidth, height: picture.clientHeight };
    }).observe(picture);
    list.addEventListener("keydown", (event) => {
        const events = s.shown.value;
        const at = events.findIndex((one) => one.n === s.look.value);
        const to =
            event.key === "ArrowDown" ? (at < 0 ? events.length - 1 : at + 1)
            : event.key === "ArrowUp" ? (at < 0 ? events.length - 1 : at - 1)
            : event.key === "Home" ? 0
            : event.key === "End" ? events.length - 1
            : event.key === "ArrowLeft" ? events.findIndex((one) => one.n === events[at]?.cause)
            : event.key === "ArrowRight" ? events.findIndex((one) => at >= 0 && one.cause === events[at]?.n)
            : -2;
        if (to === -2) return;
        event.preventDefault();
        const next = events[to];
        if (next) void why(next.n);
    });
}

function headOf(): unknown {
    const events = s.shown.value;
    const story = s.storyOf.value;
    const paces: [typeof s.pace.value, string][] = [
        ["event", "event by event"],
        ["slowly", "slowly"],
        ["once", "at once"],
    ];
    const more = s.cursor.value < (s.run.value?.events.length ?? 0) || s.look.value !== null || standsBeforeMore();
    return html`<h2>What happened</h2>
        <span class="soft count">${events.length === 0 ? "nothing yet" : counted(events)}${story ? `: ${story}` : ""}</span>
        <span class="row" role="group" aria-label="Pace">
            ${paces.map(
                ([pace, words]) =>
                    html`<button
                        class="key ${s.pace.value === pace ? "so" : ""}"
                        aria-pressed=${s.pace.value === pace ? "true" : "false"}
                        @click=${() => setPace(pace)}
                    >
                        ${words}
                    </button>`,
            )}
        </span>
        <button class="key" ?disabled=${!more} @click=${nextEvent}>Next event</button>
        <button class="word" @click=${beginAgain}>Begin again</button>`;
}

function counted(events: Happening[]): string {
    return events.length === 1 ? "1 event" : `${events.length} events`;
}

function rows(events: Happening[]): unknown {
    const run = s.run.value;
    const followed = ((run?.now_us ?? 0) - (s.acts.value.at(-1)?.at_us ?? 0)) / 1e6;
    const cut = run?.more === true && s.cursor.value >= run.events.length;
    const missed = run !== null && s.cursor.value >= run.events.length ? (run.outcomes ?? []).filter((one) => !one.met) : [];
    return html`${each(events)}${missed.map(
        (one) => html`<p class="followed" role="none">The story expects ${one.expected}. It came otherwise${one.instead ? `: ${one.instead}` : ""}.</p>`,
    )}${cut
        ? html`<p class="followed" role="none">Followed for ${trim(followed, 1)} s; more is under way: ${underWay()}. “Next event” waits for it.</p>`
        : nothing}`;
}

/** What comes next of itself, with its time where it has one. */
function underWay(): string {
    const first = s.run.value?.pending?.[0];
    if (!first) return "nothing that has a time";
    const from = trim(first.earliest_us / 1e6, 2);
    const to = typeof first.latest_us === "number" ? trim(first.latest_us / 1e6, 2) : null;
    return `${first.what}, at ${to === null || to === from ? `${from} s` : `${from} to ${to} s`}`;
}

function each(events: Happening[]): unknown {
    return events.map(
        (event) =>
            html`<div
                class="event ${event.kind === "gave up" ? "gave-up" : ""}"
                id=${`event-${event.n}`}
                role="option"
                aria-selected=${event.n === s.look.value ? "true" : "false"}
                @click=${() => void why(event.n)}
            >
                <span class="when">${when(event)}</span>
                <span class="what">${event.kind === "gave up" ? html`<span class="cross" aria-hidden="true">× </span>` : nothing}${event.what}</span>
            </div>`,
    );
}

function nothingYet(): unknown {
    const stories = s.reading.value?.stories ?? [];
    return html`<p class="soft">
            Press a key above.${stories.length > 0 ? " Or play a story from the text:" : ""}
        </p>
        ${stories.map(
            (story) =>
                html`<p class="story">
                    ${story.line ? html`<button class="word soft" @click=${() => goToLine(story.line)}>line ${story.line}</button>` : nothing}
                    <button class="word" @click=${() => void playStory({ named: story.name }, story.name, null)}>${story.name}</button>
                </p>`,
        )}
        ${s.reading.value?.start?.words ? html`<p class="soft">A run by hand begins ${s.reading.value.start.words}.</p>` : nothing}`;
}
