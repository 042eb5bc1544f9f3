/**
 * Everything that the page knows, as signals. Views read them; only the files that act write them.
 */
import { computed, signal } from "@preact/signals-core";
import { running } from "./api";
import type { Act, Band, Finding, Happening, Picture, Reading, Run, Sheet, Verdict, Way } from "./types";

export type Leaf =
    | "hold" | "what-if" | "text" | "put-in" | "find" | "schemes" | "papers" | "units" | "keys";

export interface Desk {
    id: string;
    name: string;
    file: string | null;
    diskHash: string;
    diskText: string;
}

export const desk = signal<Desk | null>(null);
export const text = signal("");
/** The last answer about the text, readable or not. */
export const latest = signal<Reading | null>(null);
/** The last text that could be read, and what was read in it. */
export const good = signal<{ text: string; reading: Reading } | null>(null);

export const acts = signal<Act[]>([]);
export const start = signal<{ given: string[] } | null>(null);
export const run = signal<Run | null>(null);
/** How many of the run's events have come. */
export const cursor = signal(0);
/** The event looked at; null is now. */
export const look = signal<number | null>(null);
export const pace = signal<"event" | "slowly" | "once">(kept("pace", "slowly"));
export const smallSteps = signal(false);

/**
 * What lies on the glass: a sheet and its picture at a moment, always of one and the same answer.
 * A sheet that was turned to lies here once its picture has come.
 */
export const glass = signal<{ sheet: Sheet; picture: Picture | null } | null>(null);
export const picture = computed(() => glass.value?.picture ?? null);
export const bandsNow = signal<Band[] | null>(null);
export const sheetNumber = signal(0);
/** The part or piece of wire that was chosen on the sheet. */
export const chosen = signal<string | null>(null);
export const marked = signal<Way>({});
/** What a pointer rests on: the way through it, and a word beside it. */
export const pointed = signal<{ way: Way; sentence: string; tag: Tag } | null>(null);
/** A word that stands beside a part or a piece of wire until something else is asked. */
export const tag = signal<Tag | null>(null);
export const ringed = signal<string[]>([]);
export const plus = signal<string | null>(null);

export interface Tag {
    id: string;
    words: string;
}
export interface Caption {
    sentence: string;
    beside?: string;
    /** The part or piece of wire whose state is said instead, as the picture has it then. */
    of?: string;
    kind?: "moment" | "edit" | "why" | "why-not" | "reading" | "finding" | "claim" | "refused";
}
export const caption = signal<Caption | null>(null);

export const verdicts = signal<Verdict[]>([]);
export const trying = signal<{ claim: string; asks?: string; decided: number; of: number } | null>(null);
/** For how many seconds the claims have been tried so far. */
export const provingFor = signal(0);
/** The text that the verdicts are about. */
export const provenText = signal<string | null>(null);
export const proofState = signal<"none" | "trying" | "done" | "partial" | "off">("none");
/** What `check` finds at the worst corners, and the text that it found it in. */
export const worst = signal<{ text: string; findings: Finding[] } | null>(null);
export const worstState = signal<"none" | "asked" | "done" | "off">("none");
export const openClaim = signal<string | null>(null);
/** A claim's own story, replayed at its own times. */
export const claimStory = signal<string | null>(null);
export const assumes = signal<string[]>([]);
export const storyOf = signal<string | null>(null);

export const leaf = signal<Leaf>("hold");
export const news = signal<{ what: "changed" | "gone" | "draft" | "other-tab" | "told"; words: string; theirs?: string } | null>(null);
/** As the system has it, until somebody chooses here. */
export const systemNight = matchMedia("(prefers-color-scheme: dark)");
export const night = signal(kept<string>("night", systemNight.matches ? "yes" : "no") === "yes");
export const timeUnit = signal<"ms" | "cycles" | "cycles50">(kept("time", "ms"));
export const lengthUnit = signal<"m" | "ft">(kept("length", "m"));
export const symbols = signal<"us" | "iec">(kept("symbols", "us"));
export const singleKeys = signal(kept<string>("keys", "yes") === "yes");

export const serverRuns = running;

export const readable = computed(() => latest.value?.ok !== false);
/** Whether the drawing, the keys and the verdicts are about the text as it stands. */
export const fresh = computed(() => readable.value && good.value?.text === text.value);
export const reading = computed<Reading | null>(() => good.value?.reading ?? null);
export const sheets = computed<Sheet[]>(() => reading.value?.sheets ?? []);
export const sheet = computed<Sheet | null>(() => sheets.value[sheetNumber.value] ?? sheets.value[0] ?? null);
/** The sheet on the glass; the one turned to while nothing true can be said about a moment. */
export const shownSheet = computed<Sheet | null>(() => (readable.value ? glass.value?.sheet : null) ?? sheet.value);
/** Whether places in answers (ways, pieces of wire) are those of the sheets as they are drawn. */
export const samePlaces = computed(() => symbols.value === "us" || reading.value?.symbols === symbols.value);
export const bands = computed<Band[]>(() => bandsNow.value ?? run.value?.bands ?? reading.value?.bands ?? []);
export const slips = computed<Finding[]>(() =>
    (latest.value?.findings ?? []).filter((found) => found.severity === "error"),
);
/** Events that have come. */
export const come = computed<Happening[]>(() => run.value?.events.slice(0, cursor.value) ?? []);
export const shown = computed<Happening[]>(() =>
    smallSteps.value ? come.value : come.value.filter((event) => event.minor !== true || event.n === look.value),
);
/** The file is not where it was. */
export const fileGone = signal(false);
export const saved = computed(() => desk.value !== null && !fileGone.value && desk.value.diskText === text.value);

/** How long the run is followed behind its last act, in microseconds; null: five seconds. */
export const tailUs = signal<number | null>(null);

/** The moment shown, in microseconds of the run. */
export const momentUs = computed(() => {
    const events = come.value;
    const at = look.value;
    if (at !== null) return events.find((event) => event.n === at)?.time_us ?? 0;
    return Math.max(events.at(-1)?.time_us ?? 0, acts.value.at(-1)?.at_us ?? 0);
});

export function kept<T extends string>(name: string, otherwise: T): T {
    return (localStorage.getItem(`fiftytwo.${name}`) as T | null) ?? otherwise;
}

export function keep(name: string, value: string): void {
    localStorage.setItem(`fiftytwo.${name}`, value);
}
