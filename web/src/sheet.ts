/**
 * The sheet: the drawing, alive.
 *
 * In: the sheet as drawn, the picture of the moment, what is chosen, marked and ringed. Out: the
 * document, and a hand's acts. Never here: what is true of the circuit.
 */
import { computed, effect, signal, untracked } from "@preact/signals-core";
import { html, nothing, render } from "lit-html";
import { figure } from "./breaker";
import { fit, seen as alive, type Fit } from "./fit";
import { boxes, groups, lines, moved, names, type Box, type Group } from "./ink";
import { choose, partOf, pressAt, pressable } from "./choose";
import { goToLine, toReveal } from "./go";
import { paint } from "./paint";
import { draw } from "./play";
import { attendPointing } from "./point";
import * as s from "./state";
import type { Way } from "./types";

const NS = "http://www.w3.org/2000/svg";
const room = signal<{ width: number; height: number }>({ width: 0, height: 0 });

const base = computed<Group[]>(groupsOf(() => s.shownSheet.value?.svg ?? ""));
const fitted = computed(() => fit(base.value, room.value.width, room.value.height));
const live = computed<Group[]>(groupsOf(() => s.picture.value?.svg ?? ""));

/** The groups of a sheet; the same ones as long as its text is the same, as it is after most letters typed. */
function groupsOf(svg: () => string): () => Group[] {
    let last: string | null = null;
    let found: Group[] = [];
    return () => {
        const now = svg();
        if (now !== last) found = groups(now);
        last = now;
        return found;
    };
}

/** The groups to be seen: those of the moment, or as drawn while nothing true can be said. */
const seen = computed<Group[]>(() => {
    const picture = s.picture.value;
    const all = s.readable.value && picture ? live.value : base.value;
    const { tight, volts } = fitted.value;
    if (volts) return alive(all, tight);
    // Where rows or legs stand close there is no room for volts behind a wire's number: press the wire for them.
    const bare = new Map(base.value.filter((group) => group.id.startsWith("number-")).map((group) => [group.id, group]));
    return alive(all.map((group) => bare.get(group.id) ?? group), tight);
});
/** Where each group stands as drawn, on the glass, in millimetres. */
const places = computed<Map<string, { strokes: Box | null; texts: Box[]; lines: [number, number][][] }>>(() => {
    const { across, at, tight } = fitted.value;
    return new Map(
        alive(base.value, tight).map((group) => {
            const ink = moved(group.ink, across, at);
            return [group.id, { ...boxes(ink), lines: lines(ink) }];
        }),
    );
});

export function sheetView(host: HTMLElement): void {
    const head = document.createElement("div");
    head.className = "sheet-head";
    const body = document.createElement("div");
    body.className = "sheet-body";
    const glass = document.createElement("div");
    glass.className = "glass";
    const side = document.createElement("div");
    side.className = "figure";
    const care = document.createElement("p");
    care.className = "care";
    render(
        html`<b>Expected, not measured.</b> Prove dead before you touch; stored energy still moves the breaker. A
            licensed engineer reviews; local codes govern.`,
        care,
    );
    body.append(glass, side);
    host.append(head, body, care);

    const svg = document.createElementNS(NS, "svg");
    svg.id = "drawing";
    svg.setAttribute("role", "group");
    const under = layer("under");
    const ink = layer("ink");
    const over = layer("over");
    svg.append(under, ink, over);
    glass.append(svg);
    glass.tabIndex = -1;

    new ResizeObserver(() => {
        const next = { width: Math.floor(body.clientWidth - side.offsetWidth), height: Math.floor(body.clientHeight) };
        if (next.width !== room.value.width || next.height !== room.value.height) room.value = next;
    }).observe(body);

    paint(headOf, head);
    paint(figure, side);
    effect(() => {
        const { scale, box } = fitted.value;
        if (!Number.isFinite(box.left)) return;
        const wide = box.right - box.left;
        const tall = box.bottom - box.top;
        svg.setAttribute("viewBox", `${box.left} ${box.top} ${wide} ${tall}`);
        svg.setAttribute("width", String(Math.round(wide * scale)));
        svg.setAttribute("height", String(Math.round(tall * scale)));
        svg.setAttribute("aria-label", `Drawing: ${s.shownSheet.value?.title ?? "none"}`);
    });
    const last = new Map<string, Drawn>();
    effect(() => {
        const way = fitted.value;
        const { across, at } = way;
        const wanted = seen.value;
        const focus = ink.contains(document.activeElement) ? document.activeElement : null;
        const ids = new Set(wanted.map((group) => group.id));
        for (const [id, old] of last) {
            if (!ids.has(id)) {
                old.wrap.remove();
                last.delete(id);
            }
        }
        let before: SVGGElement | null = null;
        for (const group of wanted) {
            let own = last.get(group.id);
            if (!own) {
                own = begun(group);
                last.set(group.id, own);
            }
            if (own.paper !== group.ink || own.way !== way) {
                own.paper = group.ink;
                own.way = way;
                const drawn = moved(group.ink, across, at);
                if (own.glass !== drawn) {
                    own.glass = drawn;
                    own.marks.innerHTML = drawn;
                    const place = own.press ? hit(group, drawn) : "";
                    if (own.press && own.place !== place) {
                        own.place = place;
                        own.press.innerHTML = place;
                    }
                }
            }
            const next: Element | null = before ? before.nextElementSibling : ink.firstElementChild;
            if (next !== own.wrap) ink.insertBefore(own.wrap, next);
            before = own.wrap;
        }
        untracked(() => {
            name(last, wanted);
            if (focus && document.activeElement !== focus) keepFocus(last, focus);
        });
    });
    effect(() => {
        name(last, seen.value);
    });
    effect(() => {
        const id = toReveal.value;
        const group = seen.value.some((one) => one.id === id) ? last.get(id ?? "") : undefined;
        if (!group) return;
        requestAnimationFrame(() => reveal(glass, group.wrap));
        toReveal.value = null;
    });
    effect(() => {
        svg.setAttribute("aria-busy", s.shownSheet.value === s.sheet.value ? "false" : "true");
    });
    effect(() => {
        const way = marker(s.pointed.value?.way ?? s.marked.value);
        under.innerHTML = way;
        svg.classList.toggle("has-marker", way !== "");
        const event = s.come.value.find((one) => one.n === s.look.value);
        const spot = s.ringed.value[0] ?? event?.part ?? null;
        if (spot !== null) toReveal.value = spot;
    });
    effect(() => {
        over.innerHTML =
            rings(s.ringed.value) +
            chosenBox(s.chosen.value) +
            plusSign(s.plus.value) +
            underlines() +
            word(s.pointed.value?.tag ?? s.tag.value);
    });
    svg.addEventListener("click", (event) => {
        const id = idOf(event.target);
        if (id === null) return;
        last.get(id)?.press?.focus({ preventScroll: true });
        choose(id);
        // Its name turns the handle; its symbol is chosen, as everything else on the sheet.
        if (event.target instanceof Element && event.target.classList.contains("name")) pressAt(id);
    });
    attendPointing(svg, idOf);
    svg.addEventListener("focusin", (event) => {
        const id = idOf(event.target);
        if (id !== null && s.chosen.value !== id) s.chosen.value = id;
    });
}

export function idOf(target: EventTarget | null): string | null {
    const group = target instanceof Element ? target.closest<SVGGElement>("#drawing .ink > [data-id]") : null;
    return group?.dataset["id"] ?? null;
}

/** Scrolls the sheet, never the page, until a group can be seen. */
function reveal(glass: HTMLElement, group: SVGGElement | undefined): void {
    if (!group) return;
    const own = group.getBoundingClientRect();
    const room = glass.getBoundingClientRect();
    if (own.bottom > room.bottom) glass.scrollTop += own.bottom - room.bottom + 12;
    else if (own.top < room.top) glass.scrollTop -= room.top - own.top + 12;
    if (own.right > room.right) glass.scrollLeft += own.right - room.right + 12;
    else if (own.left < room.left) glass.scrollLeft -= room.left - own.left + 12;
}

/**
 * A group on the glass: its marks, and over them what is pressed and named. They are apart because
 * the name says a state in words and the marks carry other letters.
 */
interface Drawn {
    /** Its ink as on paper, the way that brought it onto the glass, its ink there. */
    paper: string;
    way: Fit | null;
    glass: string;
    /** Where it is pressed. */
    place: string;
    wrap: SVGGElement;
    marks: SVGGElement;
    press: SVGGElement | null;
}

function begun(group: Group): Drawn {
    const wrap = layer(group.kind);
    wrap.dataset["id"] = group.id;
    const marks = layer("marks");
    marks.setAttribute("aria-hidden", "true");
    wrap.append(marks);
    const can = group.kind === "part" || (group.kind === "wire" && group.id.startsWith("wire-"));
    const press = can ? layer("press") : null;
    if (press) {
        press.setAttribute("role", "button");
        press.setAttribute("tabindex", "-1");
        wrap.append(press);
    }
    return { paper: "", way: null, glass: "", place: "", wrap, marks, press };
}

function layer(name: string): SVGGElement {
    const made = document.createElementNS(NS, "g");
    made.setAttribute("class", name);
    return made;
}

/**
 * Another sheet came, or a part went: whoever stood there by keyboard stands on this sheet again, at
 * what stands in the way where that was asked, else at its first part.
 */
function keepFocus(drawn: Map<string, Drawn>, old: Element): void {
    const there = old.isConnected ? (old as SVGGElement) : null;
    const ringed = s.ringed.value.map((id) => drawn.get(id)?.press).find((press) => press);
    const reached = [...drawn.values()].find((one) => one.press?.getAttribute("tabindex") === "0")?.press;
    (there ?? ringed ?? reached)?.focus({ preventScroll: true });
}

/** How far beside a wire a finger still meets it, in millimetres. */
const REACH = 1.8;

/** A place large enough for a finger. */
function hit(group: Group, ink: string): string {
    if (group.kind === "part") {
        const { strokes } = boxes(ink);
        if (!strokes) return "";
        const x = Math.min(strokes.left, (strokes.left + strokes.right) / 2 - 5);
        // Rows may stand close: the wire between two parts must be met as well.
        const y = strokes.top + 0.4;
        const w = Math.max(strokes.right - strokes.left, 10);
        const h = Math.max(strokes.bottom - strokes.top - 0.8, 1);
        const symbol = `<rect class="hit" x="${x}" y="${y}" width="${w}" height="${h}"/>`;
        const called = partOf(group.id)?.handle ? names(ink) : [];
        if (called.length === 0) return symbol;
        const [left, top] = [Math.min(...called.map((box) => box.left)) - 0.6, Math.min(y, ...called.map((box) => box.top - 0.8))];
        const right = Math.max(...called.map((box) => box.right)) + 1;
        const bottom = Math.max(y + h, ...called.map((box) => box.bottom + 1));
        return `${symbol}<rect class="hit name" x="${left}" y="${top}" width="${right - left}" height="${bottom - top}"/>`;
    }
    if (group.kind === "wire" && group.id.startsWith("wire-")) {
        return lines(ink)
            .map((points) => {
                const xs = points.map(([x]) => x);
                const ys = points.map(([, y]) => y);
                const [left, top] = [Math.min(...xs) - REACH, Math.min(...ys) - REACH];
                return `<rect class="hit" x="${left}" y="${top}" width="${Math.max(...xs) + REACH - left}" height="${Math.max(...ys) + REACH - top}"/>`;
            })
            .join("");
    }
    return "";
}

/** Names, states and the one place that Tab reaches. */
function name(drawn: Map<string, Drawn>, all: Group[]): void {
    const picture = s.picture.value;
    const chosen = s.chosen.value;
    const live = s.readable.value;
    let first: SVGGElement | null = null;
    let reached = false;
    for (const group of all) {
        const press = drawn.get(group.id)?.press;
        if (!press) continue;
        const told = live ? (picture?.parts?.[group.id]?.words ?? picture?.wires?.[group.id]?.words) : null;
        set(press, "aria-label", told ?? group.title);
        const here = group.id === chosen;
        reached ||= here;
        set(press, "tabindex", here ? "0" : "-1");
        if (here) set(press, "aria-current", "true");
        else press.removeAttribute("aria-current");
        if (group.kind === "part") first ??= press;
    }
    if (!reached && first) set(first, "tabindex", "0");
}

function set(element: Element, name: string, value: string): void {
    if (element.getAttribute(name) !== value) element.setAttribute(name, value);
}

/** A way; where it was laid out for other symbols than those drawn, only the parts it passes. */
function marker(told: Way): string {
    const { across, at } = fitted.value;
    const number = s.shownSheet.value?.number;
    const stretches = s.samePlaces.value
        ? (told.marks ?? [])
              .filter((mark) => mark.sheet === number)
              .map(({ line: [x1, y1, x2, y2] }) => `M${across(x1)} ${at(y1)}L${across(x2)} ${at(y2)}`)
        : (told.ids ?? [])
              .filter((id) => id.startsWith("part-"))
              .map((id) => places.value.get(id)?.strokes)
              .map((box) => (box ? `M${(box.left + box.right) / 2} ${box.top}V${box.bottom}` : ""));
    const way = stretches.join("");
    return way ? `<path class="marker-edge" d="${way}"/><path class="marker" d="${way}"/>` : "";
}

function rings(ids: string[]): string {
    return ids
        .map((id) => places.value.get(id))
        .map((place) => {
            const box = place?.strokes;
            if (!place || !box) return "";
            const x = (box.left + box.right) / 2;
            const y = (box.top + box.bottom) / 2;
            const ry = (box.bottom - box.top) / 2 + 1.6;
            // Beside the name, not over it.
            const names = place.texts.filter((name) => name.left > x && name.bottom > y - ry && name.top < y + ry);
            const room = Math.min(...names.map((name) => name.left - x - 0.6));
            const rx = Math.max(1.8, Math.min((box.right - box.left) / 2 + 1.2, room));
            return `<ellipse class="ring" cx="${x}" cy="${y}" rx="${rx}" ry="${ry}"/>`;
        })
        .join("");
}

function whole(id: string): Box | null {
    const place = places.value.get(id);
    if (!place) return null;
    const all = [...(place.strokes ? [place.strokes] : []), ...place.texts];
    if (all.length === 0) return null;
    return {
        left: Math.min(...all.map((b) => b.left)),
        top: Math.min(...all.map((b) => b.top)),
        right: Math.max(...all.map((b) => b.right)),
        bottom: Math.max(...all.map((b) => b.bottom)),
    };
}

function chosenBox(id: string | null): string {
    const box = id === null ? null : whole(id);
    if (!box) return "";
    return `<rect class="chosen" x="${box.left - 1.2}" y="${box.top - 1.2}" width="${box.right - box.left + 2.4}" height="${box.bottom - box.top + 2.4}" rx="1.4"/>`;
}

/** A word beside a part or a piece of wire, over what is drawn there. */
function word(tag: s.Tag | null): string {
    const place = tag === null ? null : places.value.get(tag.id);
    const box = place?.strokes;
    if (!tag || !box) return "";
    const wide = tag.words.length * 1.75 + 2.4;
    // Names stand at the right of their parts.
    const { left, right } = fitted.value.box;
    const beside = tag.id.startsWith("part-") ? box.left - wide - 1.6 : box.right + 1.6;
    const x = Math.max(left + 1, Math.min(beside, right - wide - 1));
    const y = Math.min(Math.max((box.top + box.bottom) / 2, fitted.value.box.top + 4), fitted.value.box.bottom - 4);
    return `<g class="tag"><rect x="${x}" y="${y - 2.7}" width="${wide}" height="5.4" rx=".8"/><text x="${x + wide / 2}" y="${y + 1.25}" text-anchor="middle" font-size="3.57">${tag.words}</text></g>`;
}

function plusSign(id: string | null): string {
    const box = id === null ? null : places.value.get(id)?.strokes;
    if (!box) return "";
    const x = (box.left + box.right) / 2;
    const y = (box.top + box.bottom) / 2;
    return `<g class="plus"><rect x="${x - 3}" y="${y - 3}" width="6" height="6" rx="1"/><path d="M${x - 1.8} ${y}h3.6M${x} ${y - 1.8}v3.6"/></g>`;
}

/** A dotted line under the name of what a person can press. */
function underlines(): string {
    if (!s.readable.value) return "";
    return (s.shownSheet.value?.parts ?? [])
        .filter((part) => pressable(part) !== null)
        .map((part) => places.value.get(part.id)?.texts[0])
        .map((box) =>
            box
                ? `<path class="can-press" d="M${box.left} ${box.bottom - 0.4}H${box.right}"/>`
                : "",
        )
        .join("");
}

/** More sheets than words that fit in one line. */
const MANY = 8;

function turnTo(at: number): void {
    s.sheetNumber.value = at;
    s.chosen.value = null;
    void draw();
}

function headOf(): unknown {
    const sheets = s.sheets.value;
    const quiet = !s.readable.value && s.latest.value !== null;
    const slip = s.slips.value[0];
    return html`${quiet
        ? html`<p class="strip">
              <span><b>Drawn from the last text that could be read.</b> ${slip?.line ? `Line ${slip.line} can’t be read yet.` : ""}</span>
              ${slip?.line ? html`<button class="key" @click=${() => goToLine(slip.line ?? 1)}>Go to line ${slip.line}</button>` : nothing}
          </p>`
        : nothing}
    ${sheets.length > MANY
        ? html`<nav class="sheet-names" aria-label="Sheets">
              <label class="row"
                  >Sheet
                  <select @change=${(event: Event) => turnTo((event.target as HTMLSelectElement).selectedIndex)}>
                      ${sheets.map(
                          (sheet, at) =>
                              html`<option ?selected=${at === s.sheetNumber.value}>${sheet.number} ${sheet.title}</option>`,
                      )}
                  </select></label
              >
          </nav>`
        : nothing}
    ${sheets.length > 1 && sheets.length <= MANY
        ? html`<nav class="sheet-names" aria-label="Sheets">
              ${sheets.map(
                  (sheet, at) =>
                      html`<button
                          class="word"
                          aria-current=${at === s.sheetNumber.value ? "page" : nothing}
                          @click=${() => turnTo(at)}
                      >
                          ${sheet.title}
                      </button>`,
              )}
          </nav>`
        : nothing}`;
}
