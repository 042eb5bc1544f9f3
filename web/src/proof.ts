/** Asking for the verdicts, one by one as they are found. */
import { batch } from "@preact/signals-core";
import { Gone, lines, newest, Refused } from "./api";
import { told } from "./play";
import * as s from "./state";
import type { Verdict } from "./types";

const newestProof = newest();
let clock: ReturnType<typeof setInterval> | undefined;

/** A text that is no more is not tried any longer: what is typed needs the machine. */
export function stopProving(): void {
    if (s.proofState.value !== "trying") return;
    newestProof();
    batch(() => {
        s.proofState.value = "none";
        s.trying.value = null;
    });
}

/** Verdicts arrive for the text as it could be read last; an older search is stopped. */
export async function prove(): Promise<void> {
    const good = s.good.value;
    const desk = s.desk.value;
    if (!good || !desk) return;
    const stop = newestProof();
    const found: Verdict[] = [];
    const began = Date.now();
    s.provingFor.value = 0;
    clearInterval(clock);
    // A sign of life: one question may take long.
    clock = setInterval(() => {
        if (s.proofState.value === "trying") s.provingFor.value = Math.round((Date.now() - began) / 1000);
        else clearInterval(clock);
    }, 1000);
    batch(() => {
        s.proofState.value = "trying";
        s.trying.value = null;
    });
    try {
        // The stream cannot be asked twice: the text itself goes along.
        for await (const line of lines("prove", { scheme: { desk: desk.id, text: good.text } }, stop)) {
            if (s.good.value?.text !== good.text) return;
            if (line["progress"] !== undefined) {
                s.trying.value = line["progress"] as { claim: string; asks?: string; decided: number; of: number };
            } else if (line["done"] === true) {
                batch(() => {
                    s.proofState.value = line["partial"] === true ? "partial" : "done";
                    s.trying.value = null;
                    s.assumes.value = Array.isArray(line["assumes"]) ? (line["assumes"] as string[]) : [];
                    s.verdicts.value = [...found];
                    s.provenText.value = good.text;
                });
            } else if (line["verdict"] !== undefined) {
                found.push(line as unknown as Verdict);
                batch(() => {
                    s.verdicts.value = [...found];
                    s.provenText.value = good.text;
                });
            }
        }
        if (s.proofState.value === "trying") s.proofState.value = "partial";
    } catch (trouble) {
        if (trouble instanceof Refused && trouble.status === 404) {
            s.proofState.value = "off";
            return;
        }
        if (trouble instanceof Gone) s.proofState.value = "none";
        told(trouble);
    }
}
