/** How times and lengths are written, and the leaf where that is chosen. */
import { html } from "lit-html";
import { readOn } from "./desk";
import * as s from "./state";

/** Cycles of the power frequency: 60 Hz, as the vocabulary has it where the text says nothing. */
const CYCLE_MS = 1000 / frequency();

function frequency(): number {
    return 60;
}

export function time(us: number): string {
    const ms = us / 1000;
    if (s.timeUnit.value === "cycles") return `${trim(ms / CYCLE_MS, 2)} cycles`;
    return ms >= 10_000 ? `${trim(ms / 1000, 3)} s` : `${trim(ms, 1)} ms`;
}

export function trim(value: number, places: number): string {
    return String(Number(value.toFixed(places)));
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
                    class="key ${of.value === value ? "so" : ""}"
                    aria-pressed=${of.value === value ? "true" : "false"}
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

export function unitsLeaf(): unknown {
    return html`<h3>Units</h3>
        ${choice("time", "Times", s.timeUnit, [["ms", "milliseconds"], ["cycles", "cycles at 60 Hz"]])}
        ${choice("length", "Lengths on the sliders", s.lengthUnit, [["m", "metres"], ["ft", "feet"]])}
        ${choice("symbols", "Symbols on the sheet", s.symbols, [["us", "bars and circles"], ["iec", "arms and boxes"]], () => {
            void readOn();
        })}
        <p class="soft">The text keeps the units that it was written in.</p>`;
}
