/** What the server's answers look like. All words in them are ready to be shown. */

export interface Finding {
    id: string;
    severity: string;
    message: string;
    why?: string | null;
    help?: string | null;
    line?: number | null;
    column?: number;
    from?: number | null;
    to?: number | null;
    instead?: string[];
    parts?: string[];
    devices?: string[];
}

export interface SheetPart {
    id: string;
    part: string;
    name: string;
    device: string | null;
    what: string;
    kind: string;
    handle?: string | null;
    line?: number | null;
    leg?: string | null;
    order?: number;
    x: number;
    y: number;
    w: number;
    h: number;
}

export interface SheetWire {
    id: string;
    wire: string;
    line?: number | null;
    leg?: string | null;
    x: number;
    y: number;
}

export interface Sheet {
    number: number;
    title: string;
    svg: string;
    width_mm: number;
    height_mm: number;
    parts: SheetPart[];
    wires: SheetWire[];
    legs: (string | { name: string; line?: number | null })[];
}

export interface Position {
    name: string;
    returns_to?: string | null;
}

export interface Handle {
    id: string;
    name: string;
    title: string;
    positions: Position[];
    at: string | null;
    kind: "handle" | "order" | "condition" | "supply" | "lockout" | "source" | "button" | "overload" | "energy" | "part";
    refused?: string | null;
}

export interface Band {
    title: string;
    place?: string | null;
    person?: string | null;
    handles: Handle[];
}

export interface Device {
    name: string;
    title: string;
    kind: string;
    place?: string | null;
    line?: number | null;
    coils: string[];
    contacts: { name: string; what: string; used_line?: number | null; part?: string | null }[];
}

export interface Reading {
    text: string;
    ok: boolean;
    findings: Finding[];
    title?: string;
    revision?: string;
    sheets?: Sheet[];
    devices?: Device[];
    bands?: Band[];
    stories?: { name: string; line: number }[];
    claims?: { id?: string; name?: string; title?: string; line: number }[];
    typical?: number;
    frequency_hz?: number;
    /** Whose symbols; where it is told, every answer's places are those of the sheets with these. */
    symbols?: string;
    start?: { given: string[]; words?: string | null } | null;
    wires?: string[];
    cables?: { name: string; about: string; from: string; to: string; cores: number; free: number[]; line: number }[];
}

export interface Act {
    at_us: number;
    by?: string | null;
    do: "press" | "release" | "set" | "lose" | "return" | "reset";
    what: string;
    to?: string | null;
}

/** A stretch of a path on a sheet as drawn on paper, in millimetres. */
export interface Mark {
    sheet: number;
    line: [number, number, number, number];
}

/** A way that an answer tells: its stretches, and the groups it passes. */
export interface Way {
    marks?: Mark[];
    ids?: string[];
}

export interface Happening {
    n: number;
    time_us: number;
    time_ms?: number;
    /** The moment in words, in milliseconds. */
    when?: string;
    device: string;
    what: string;
    why?: string | null;
    by?: string | null;
    minor?: boolean;
    line?: number | null;
    part?: string | null;
    path?: string[];
    marks?: Mark[];
    sheet?: number | null;
    cause?: number | null;
    kind?: string;
}

export interface Run {
    run: string;
    now_us: number;
    quiet: boolean;
    events: Happening[];
    rows: { name: string; so: [number, number | null][] }[];
    pending?: { what: string; earliest_us: number; latest_us: number | null }[];
    refused?: string | null;
    /** Which of the acts asked for were not done. */
    refused_acts?: number[];
    stuck?: string | null;
    /** What the story that was played expects. */
    outcomes?: { expected: string; met: boolean; instead?: string | null }[];
    bands?: Band[];
    acts?: Act[];
    start?: { given: string[] } | null;
    notes?: string[];
    more?: boolean;
}

export interface Picture {
    svg: string;
    moment?: string;
    parts?: Record<string, { closed?: boolean | null; on?: boolean | null; note?: string | null; words?: string }>;
    wires?: Record<string, { level?: string; volts?: number | null; words?: string }>;
    bands?: Band[];
}

export interface Edge {
    first: string;
    declared_ms?: [number, number] | number | null;
    holds_to_ms?: number | null;
    fails_from_ms?: number | null;
    spare_ms?: number | null;
    words: string;
}

export interface Verdict {
    id: string;
    claim: string;
    title?: string;
    asks?: string | null;
    about?: string | null;
    verdict: string;
    words: string;
    because?: string | null;
    covers?: string | null;
    leaves_out?: string | null;
    edges?: Edge[];
    positions?: number;
    story?: { id: string; decisive?: number | null; events?: number } | null;
    waived?: string | null;
    across?: string | null;
    own?: boolean;
    line?: number | null;
}

export interface Change {
    from: number;
    to: number;
    insert: string;
}
