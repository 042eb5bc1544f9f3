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

export interface Box {
    left: number;
    top: number;
    right: number;
    bottom: number;
}

const pairs = /(-?\d+(?:\.\d+)?),(-?\d+(?:\.\d+)?)/g;
const circles = /<circle[^>]*?cx="([-\d.]+)" cy="([-\d.]+)" r="([-\d.]+)"/g;
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
    for (const [, x, y, r] of ink.matchAll(circles)) meet(+x! - +r!, +y! - +r!, +x! + +r!, +y! + +r!);
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

/** The same ink with every height sent through `at`. */
export function moved(ink: string, at: (y: number) => number): string {
    const put = (y: string): string => String(Math.round(at(+y) * 100) / 100);
    return ink
        .replace(pairs, (_, x: string, y: string) => `${x},${put(y)}`)
        .replace(/ cy="([-\d.]+)"/g, (_, y: string) => ` cy="${put(y)}"`)
        .replace(/translate\(([-\d.]+) ([-\d.]+)\)/g, (_, x: string, y: string) => `translate(${x} ${put(y)})`)
        .replace(/<rect x="([-\d.]+)" y="([-\d.]+)" width="([-\d.]+)" height="([-\d.]+)"/g,
            (_, x: string, y: string, w: string, h: string) =>
                `<rect x="${x}" y="${put(y)}" width="${w}" height="${put(String(+y + +h)) && at(+y + +h) - at(+y)}"`);
}

/** The corners of every line in some ink. */
export function lines(ink: string): [number, number][][] {
    return [...ink.matchAll(/<polyline[^>]*points="([^"]*)"/g)].map(([, points]) =>
        [...points!.matchAll(pairs)].map(([, x, y]) => [+x!, +y!] as [number, number]),
    );
}
