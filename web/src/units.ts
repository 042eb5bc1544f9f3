/** How times and lengths are written, and the leaf where that is chosen. */
import { html } from "lit-html";
import { readOn } from "./desk";
import * as s from "./state";
import type { Happening } from "./types";

/** Cycles of the scheme's own power frequency; where the program does not tell it, as was chosen. */
function cycleMs(): number {
    return 1000 / (s.reading.value?.frequency_hz ?? (s.timeUnit.value === "cycles50" ? 50 : 60));
}

export function time(us: number): string {
    const ms = us / 1000;
    if (s.timeUnit.value !== "ms") return `${trim(ms / cycleMs(), 2)} cycles`;
    return ms >= 10_000 ? `${trim(ms / 1000, 3)} s` : `${trim(ms, 1)} ms`;
}

/** The moment of an event: in milliseconds as the program writes it. */
export function when(event: Happening): string {
    return s.timeUnit.value === "ms" && event.when !== undefined ? event.when : time(event.time_us);
}

export function trim(value: number, places: number): string {
    return String(Number(value.toFixed(places)));
}

/** A choice that is not offered now stands for the one that begins alike. */
function so<T extends string>(now: T, value: T, all: [T, string][]): boolean {
    return now === value || (!all.some(([one]) => one === now) && now.startsWith(value));
}

function choice<T extends string>(
    name: string,
    about: string,
    of: { value: T },
    all: [T, string][],
    then: () => void = () => undefined,
): unknown {
    return html`<fieldset class="choice">
        <legend>${about}</legend>
        ${all.map(
            ([value, words]) =>
                html`<button
                    class="key ${so(of.value, value, all) ? "so" : ""}"
                    aria-pressed=${so(of.value, value, all) ? "true" : "false"}
                    @click=${() => {
                        of.value = value;
                        s.keep(name, value);
                        then();
                    }}
                >
                    ${words}
                </button>`,
        )}
    </fieldset>`;
}

function times(): [typeof s.timeUnit.value, string][] {
    const own = s.reading.value?.frequency_hz;
    if (own !== undefined) return [["ms", "milliseconds"], ["cycles", `cycles at ${trim(own, 1)} Hz, as the scheme says`]];
    return [["ms", "milliseconds"], ["cycles", "cycles at 60 Hz"], ["cycles50", "cycles at 50 Hz"]];
}

export function unitsLeaf(): unknown {
    return html`<h3>Units</h3>
        ${choice("time", "Times", s.timeUnit, times())}
        ${choice("length", "Lengths on the sliders", s.lengthUnit, [["m", "metres"], ["ft", "feet"]])}
        ${choice("symbols", "Symbols on the sheet", s.symbols, [["us", "bars and circles"], ["iec", "arms and boxes"]], () => {
            void readOn();
        })}
        <p class="soft">The text keeps the units that it was written in.</p>`;
}
