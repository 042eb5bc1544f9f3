/**
 * A sheet's SVG taken apart into its groups, one a line, as `draw` writes them.
 *
 * In: the text of an SVG. Out: its groups with their letters as plain text. Never here: what is
 * shown, pressed or marked.
 */

export interface Group {
    id: string;
    kind: string;
    title: string;
    line: number | null;
    /** What stands inside, without the title. */
    ink: string;
}

const outlines = /<g aria-hidden="true"[^>]*>(?:<use[^>]*\/>)*<\/g>/g;
const links = /<\/?a(?:\s[^>]*)?>/g;
const opening = /^<g id="([^"]*)" class="([^"]*)"([^>]*)>(?:<title>([^<]*)<\/title>)?/;

export function groups(svg: string): Group[] {
    const found: Group[] = [];
    const pens = pensOf(svg);
    for (const raw of svg.split("\n")) {
        const start = opening.exec(raw);
        if (!start) continue;
        const line = /data-line="(\d+)"/.exec(start[3] ?? "");
        found.push({
            id: start[1] ?? "",
            kind: start[2] ?? "",
            title: plain(start[4] ?? ""),
            line: line ? Number(line[1]) : null,
            ink: raw
                .slice(start[0].length, raw.lastIndexOf("</g>"))
                .replace(outlines, "")
                .replace(links, "")
                .replace(/class="p(\d+)([^"]*)"/g, (_, pen: string, rest: string) =>
                    `class="${rest.trim()}"${pens.get(pen) ?? ""}`,
                ),
        });
    }
    return found;
}

/** A sheet counts its pens (`.p4`) anew each time: as attributes they mean the same in every sheet. */
function pensOf(svg: string): Map<string, string> {
    const pens = new Map<string, string>();
    const rules = /\.p(\d+)\{fill:none;stroke-width:([\d.]+);stroke-linejoin:(\w+);stroke-linecap:(\w+)\}/g;
    for (const [, pen, width, join, cap] of svg.matchAll(rules)) {
        pens.set(pen!, ` stroke-width="${width}" stroke-linejoin="${join}" stroke-linecap="${cap}"`);
    }
    return pens;
}

function plain(words: string): string {
    return words
        .replaceAll("&quot;", '"')
        .replaceAll("&lt;", "<")
        .replaceAll("&gt;", ">")
        .replaceAll("&amp;", "&");
}

/** Groups that belong to the paper, not to the circuit: they are printed but not alive. */
export function onlyPaper(group: Group): boolean {
    return (
        group.kind === "sheet" ||
        group.kind === "notes" ||
        group.kind === "contacts" ||
        group.id.startsWith("state-")
    );
}

/** A number that the drawing counted for a wire that the text leaves without. */
export function counted(group: Group): boolean {
    return group.id.startsWith("number-") && group.title.includes("counted by the drawing");
}

const sign = /<g class="(\w*)" transform="translate\(([-\d.]+) ([-\d.]+)\)"><text x="0" font-size="([\d.]+)"( font-weight="600")? textLength="([\d.]+)"[^>]*>([^<]*)<\/text><\/g>/g;
const elsewhere = /^\d+(?:\/[A-Z]\d+|\.\d+)$/;

/** Without the marks that say where on paper something else stands. */
export function withoutPlaces(group: Group): Group {
    if (group.kind !== "part") return group;
    const ink = group.ink.replace(sign, (all: string, kind: string, _x, _y, _size, _weight, _wide, words: string) =>
        kind === "ts" && elsewhere.test(words) ? "" : all,
    );
    return { ...group, ink };
}

/** Of a place's two names only the one in words, where a frame is low. */
export function oneName(group: Group): Group {
    if (group.kind !== "place") return group;
    const names = [...group.ink.matchAll(/<g class="\w+" transform="(translate\([^)]*\) rotate\([^)]*\))">.*?<\/g>/g)];
    const [first, second] = names;
    if (names.length !== 2 || !first || !second) return group;
    return { ...group, ink: group.ink.replace(first[0], "").replace(second[1] ?? "", first[1] ?? "") };
}

/** A leg's title without the bracket under it. */
export function withoutBracket(group: Group): Group {
    return group.kind === "leg" ? { ...group, ink: group.ink.replace(/<polyline[^>]*\/>/g, "") } : group;
}

/** A contact without what is told under its names, where rows stand close: the caption tells it. */
export function withoutNotes(group: Group): Group {
    if (group.kind !== "part" || !group.title.includes("contact")) return group;
    const words = [...group.ink.matchAll(sign)];
    const last = words.findLast(([, kind]) => kind === "tm");
    if (!last) return group;
    let { ink } = group;
    for (const word of words) {
        if (word[1] === "ts" && word[2] === last[2] && Number(word[3]) > Number(last[3])) ink = ink.replace(word[0], "");
    }
    return { ...group, ink };
}

/** A contact's two names in one line beside it, where rows stand close. */
export function oneLine(group: Group): Group {
    if (group.kind !== "part" || !group.title.includes("contact")) return group;
    const own = boxes(group.ink).strokes;
    const names = [...group.ink.matchAll(sign)].filter(([, kind]) => kind === "tm");
    const [first, second] = names;
    if (!own || names.length !== 2 || !first || !second || first[2] !== second[2]) return group;
    const y = (own.top + own.bottom) / 2 + 1.25;
    const put = (old: string, x: number): string =>
        old.replace(/translate\([^)]*\)/, `translate(${Math.round(x * 100) / 100} ${Math.round(y * 100) / 100})`);
    return {
        ...group,
        ink: group.ink
            .replace(first[0], put(first[0], Number(first[2])))
            .replace(second[0], put(second[0], Number(first[2]) + Number(first[6]) + 1.1)),
    };
}

/** The boxes of what a part is called, without what is told about it. */
export function names(ink: string): Box[] {
    const called = [...ink.matchAll(sign)].filter(([, kind]) => kind === "tm").map(([all]) => all);
    return boxes(called.join("")).texts;
}

export function meet(a: Box, b: Box): boolean {
    return a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom;
}

export interface Box {
    left: number;
    top: number;
    right: number;
    bottom: number;
}

const pairs = /(-?\d+(?:\.\d+)?),(-?\d+(?:\.\d+)?)/g;
const rounds = /<circle[^>]*?cx="([-\d.]+)" cy="([-\d.]+)" r="([-\d.]+)"/g;
const letters =
    /transform="translate\(([-\d.]+) ([-\d.]+)\)( rotate\([^)]*\))?"[^>]*><text x="([-\d.]+)" font-size="([\d.]+)"(?: font-weight="\d+")? textLength="([\d.]+)"/g;

/** The boxes of the strokes and of each text of some ink, in millimetres of the paper. */
export function boxes(ink: string): { strokes: Box | null; texts: Box[] } {
    let strokes: Box | null = null;
    const meet = (left: number, top: number, right: number, bottom: number): void => {
        strokes = strokes
            ? {
                  left: Math.min(strokes.left, left),
                  top: Math.min(strokes.top, top),
                  right: Math.max(strokes.right, right),
                  bottom: Math.max(strokes.bottom, bottom),
              }
            : { left, top, right, bottom };
    };
    for (const [, x, y] of ink.matchAll(pairs)) meet(+x!, +y!, +x!, +y!);
    for (const [, x, y, r] of ink.matchAll(rounds)) meet(+x! - +r!, +y! - +r!, +x! + +r!, +y! + +r!);
    const texts: Box[] = [];
    for (const [, x, y, turned, dx, size, wide] of ink.matchAll(letters)) {
        const left = +x! + +dx!;
        if (turned) {
            texts.push({ left: +x! - +size!, top: +y! - +wide!, right: +x!, bottom: +y! });
        } else {
            texts.push({ left, top: +y! - 0.74 * +size!, right: left + +wide!, bottom: +y! + 0.22 * +size! });
        }
    }
    return { strokes, texts };
}

/** The same ink with every place sent through `across` and `at`. */
export function moved(ink: string, across: (x: number) => number, at: (y: number) => number): string {
    const round = (value: number): string => String(Math.round(value * 100) / 100);
    const putX = (x: string): string => round(across(+x));
    const put = (y: string): string => round(at(+y));
    // Letters that stand upright along one line keep their distance from the first.
    let turned: [number, number] | null = null;
    const stand = (y: string): string => {
        turned ??= [+y, at(+y)];
        return round(turned[1] + (+y - turned[0]));
    };
    return ink
        .replace(/translate\(([-\d.]+) ([-\d.]+)\) rotate/g, (_, x: string, y: string) => `translate(${putX(x)}  ${stand(y)}) rotate`)
        .replace(pairs, (_, x: string, y: string) => `${putX(x)},${put(y)}`)
        .replace(/ cx="([-\d.]+)" cy="([-\d.]+)"/g, (_, x: string, y: string) => ` cx="${putX(x)}" cy="${put(y)}"`)
        .replace(/translate\(([-\d.]+) ([-\d.]+)\)/g, (_, x: string, y: string) => `translate(${putX(x)} ${put(y)})`)
        .replace(
            /<rect x="([-\d.]+)" y="([-\d.]+)" width="([-\d.]+)" height="([-\d.]+)"/g,
            (_, x: string, y: string, w: string, h: string) =>
                `<rect x="${putX(x)}" y="${put(y)}" width="${round(across(+x + +w) - across(+x))}" height="${round(at(+y + +h) - at(+y))}"`,
        );
}

/** The corners of every line in some ink. */
export function lines(ink: string): [number, number][][] {
    return [...ink.matchAll(/<polyline[^>]*points="([^"]*)"/g)].map(([, points]) =>
        [...points!.matchAll(pairs)].map(([, x, y]) => [+x!, +y!] as [number, number]),
    );
}

/** Middle and radius of every circle in some ink. */
export function circles(ink: string): [number, number, number][] {
    return [...ink.matchAll(rounds)].map(([, x, y, r]) => [+x!, +y!, +r!]);
}
