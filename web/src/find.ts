/** Find: devices, contacts, coils, wires, legs, claims, by a few letters. */
import { signal } from "@preact/signals-core";
import { html } from "lit-html";
import { goToLine, goToPart } from "./go";
import * as s from "./state";
import { choose } from "./choose";

export const wanted = signal("");

interface Found {
    name: string;
    about: string;
    go: () => void;
}

function everything(): Found[] {
    const found: Found[] = [];
    for (const sheet of s.sheets.value) {
        for (const part of sheet.parts) {
            found.push({
                name: part.part,
                about: `${part.what || part.kind}, sheet ${sheet.title}${part.line ? `, line ${part.line}` : ""}`,
                go: () => void goToPart(part.id).then(() => choose(part.id)),
            });
        }
        const wires = new Map(sheet.wires.map((wire) => [wire.wire, wire]));
        for (const [name, wire] of wires) {
            found.push({
                name,
                about: `wire, sheet ${sheet.title}${wire.line ? `, line ${wire.line}` : ""}`,
                go: () => void goToPart(wire.id).then(() => choose(wire.id)),
            });
        }
    }
    for (const device of s.reading.value?.devices ?? []) {
        for (const contact of device.contacts) {
            if (contact.used_line || contact.part) continue;
            found.push({
                name: `${device.name} ${contact.name}`,
                about: `${contact.what}, not used yet`,
                go: () => goToLine(device.line ?? 1),
            });
        }
        found.push({
            name: device.name,
            about: `${device.title || device.kind}${device.line ? `, line ${device.line}` : ""}`,
            go: () => goToLine(device.line ?? 1),
        });
    }
    for (const claim of s.reading.value?.claims ?? []) {
        found.push({ name: claim.title ?? claim.name ?? "", about: `must hold, line ${claim.line}`, go: () => goToLine(claim.line) });
    }
    return found;
}

export function findLeaf(): unknown {
    const letters = wanted.value.trim().toLowerCase();
    const all = everything();
    const hits =
        letters === ""
            ? []
            : all
                  .filter((one) => one.name.toLowerCase().includes(letters) || one.about.toLowerCase().includes(letters))
                  .toSorted((a, b) => score(b, letters) - score(a, letters))
                  .slice(0, 40);
    return html`<h3>Find</h3>
        ${letters === "" ? html`<p class="soft">Write a device, a contact, a wire: 52Y, C2, permit.</p>` : ""}
        ${letters !== "" && hits.length === 0 ? html`<p>Nothing of that name.</p>` : ""}
        <div class="found">
            ${hits.map((one) => html`<button class="pick" @click=${one.go}><b>${one.name}</b> <span class="soft">${one.about}</span></button>`)}
        </div>`;
}

function score(one: Found, letters: string): number {
    const name = one.name.toLowerCase();
    return name === letters ? 3 : name.startsWith(letters) ? 2 : name.includes(letters) ? 1 : 0;
}
