// A general-purpose audit for accessibility finds nothing serious, by day and by night, in each state.
import assert from "node:assert/strict";
import { readFile } from "node:fs/promises";
import { createRequire } from "node:module";
import { after, afterEach, before, beforeEach, test } from "node:test";
import { breakerIs, browse, house, key, leaf, serve, verdict, visitor } from "./house.mjs";

const axe = await readFile(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");

let browser;
let home;
let served;
before(async () => {
    browser = await browse();
});
// A draft of one test would come back in the next.
beforeEach(async () => {
    home = await house("dunmarrow", "quillmere");
    served = await serve(home, [home.file("dunmarrow"), home.file("quillmere")]);
});
afterEach(async () => {
    await served?.kill();
    await home?.leave();
});
after(async () => {
    await browser?.close();
});

async function audit(page, state) {
    // Through the debugger: the page's own policy lets no script in.
    const found = await page.evaluate(
        `(() => { ${axe}; return axe.run(document, { resultTypes: ["violations"] }); })()`,
    );
    const serious = found.violations
        .filter((one) => ["serious", "critical"].includes(one.impact))
        .map((one) => `${state}: ${one.id}: ${one.help}: ${one.nodes.slice(0, 3).map((node) => node.html.slice(0, 160)).join(" | ")}`);
    assert.deepEqual(serious, []);
}

for (const light of ["day", "night"]) {
    test(`the audit finds nothing serious by ${light}`, async () => {
        const person = await visitor(browser);
        const page = await person.open(served.address);
        if (light === "night") await page.getByRole("button", { name: "Night" }).click();
        await audit(page, "before the first event");
        await key(page, "line fault").click();
        await key(page, "52CS close").click();
        await breakerIs(page, "closed");
        await page.locator(".event").nth(1).click();
        await audit(page, "why");
        await leaf(page, /Must hold/).click();
        await (await verdict(page, /pumping/i, /fails/i)).click();
        await audit(page, "a claim");
        await leaf(page, "What if").click();
        await page.locator(".lever input").first().waitFor();
        await audit(page, "what if");
        for (const word of ["Schemes", "Papers", "Units", "Keys"]) {
            await page.getByRole("button", { name: word, exact: true }).click();
            await audit(page, word);
        }
        await page.locator('#drawing [data-id="part-52-close"] .press').focus();
        await page.keyboard.press("s");
        await page.locator("#leaf .asked input").fill("33 ohm");
        await page.locator("#leaf .lines").waitFor();
        await audit(page, "a value");
        await page.getByRole("button", { name: "Leave as it was" }).click();
        await leaf(page, "Text").click();
        await page.locator(".cm-content").click();
        await page.keyboard.press("Control+Home");
        await page.keyboard.type("nonsense here\n");
        await page.locator(".slip-words").first().waitFor();
        await audit(page, "a line that cannot be read");
        await page.keyboard.press("Control+z");
        await person.leave();
    });
}

test("states can be told without colour", async () => {
    const person = await visitor(browser, { forcedColors: "active" });
    const page = await person.open(served.address);
    await key(page, "line fault").click();
    await key(page, "52CS close").click();
    await breakerIs(page, "closed");
    const names = await page.locator("#drawing .part .press").evaluateAll((parts) => parts.map((part) => part.getAttribute("aria-label")));
    assert.ok(names.some((name) => /closed now/.test(name)) && names.some((name) => /open now/.test(name)), names.join("; "));
    // Wires at plus, at minus and between differ by how they are drawn: by widths and dashes, whatever the colours.
    const looks = await page.locator("#drawing").evaluate((drawing) => {
        const strokes = [...drawing.querySelectorAll("[data-id^='wire-'] :is(path, polyline, line)")];
        const look = (stroke) => {
            const style = getComputedStyle(stroke);
            return `${style.strokeWidth} ${style.strokeDasharray}`;
        };
        return [...new Set(strokes.map(look))];
    });
    assert.ok(looks.length >= 2, looks.join("; "));
    await person.leave();
});

test("nothing moves by itself for those who asked for rest", async () => {
    const person = await visitor(browser, { reducedMotion: "reduce", pace: "slowly" });
    const page = await person.open(served.address);
    await key(page, "line fault").click();
    const events = page.locator("#happened .event");
    await events.first().waitFor();
    const before = await events.count();
    await key(page, "52CS close").click();
    // Slowly would show one event after another: all are there with the first of the second move.
    await events.nth(before).waitFor();
    const first = await events.count();
    await page.waitForTimeout(1500);
    assert.equal(await events.count(), first, "no event came later by itself");
    await breakerIs(page, "closed");
    await person.leave();
});
