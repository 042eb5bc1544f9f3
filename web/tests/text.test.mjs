// The text: an error and its repair, an edit on the drawing with the comments kept, saving.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { browse, house, key, leaf, live, serve, verdict, visitor } from "./house.mjs";

let browser;
let home;
let served;
before(async () => {
    browser = await browse();
    home = await house("dunmarrow");
    served = await serve(home, [home.file("dunmarrow")]);
});
after(async () => {
    await browser?.close();
    await served?.kill();
    await home?.leave();
});

/** Replaces the first occurrence in the editor as somebody who types would. */
async function type(page, old, now) {
    await leaf(page, "Text").click();
    await page.locator(".cm-content").click();
    await page.keyboard.press("Control+f");
    await page.locator(".cm-search input[name=search]").fill(old);
    await page.keyboard.press("Enter");
    await page.keyboard.press("Escape");
    await page.keyboard.type(now);
}

test("a line that cannot be read is told below it, and repaired by a key", async () => {
    const person = await visitor(browser);
    const page = await person.open(served.address);
    await type(page, 'from="C2"', 'from="C9');
    await page.locator(".slip-words").first().waitFor();
    assert.ok(await page.getByText("Drawn from the last text that could be read.").isVisible());
    assert.ok(await key(page, "52CS close").isDisabled(), "the keys are off meanwhile");
    await page.locator(".slip-words .key", { hasText: /Write C/ }).first().click();
    await page.locator(".slip-words").waitFor({ state: "detached" });
    await page.getByText("All lines read").waitFor();
    assert.ok(await key(page, "52CS close").isEnabled());
    await page.locator(".cm-content").click();
    await page.keyboard.press("Control+z");
    await page.locator(".slip-words").first().waitFor();
    await person.leave();
});

test("a contact put in on the drawing stands in the file, and every comment stays", async () => {
    const old = await home.read("dunmarrow");
    const person = await visitor(browser);
    const page = await person.open(served.address);
    const ours = page.getByRole("button", { name: "Take the file’s text" });
    if (await ours.isVisible().catch(() => false)) await ours.click();
    await page.locator('#drawing [data-id^="wire-C1"] .press').first().click({ force: true });
    await page.getByRole("button", { name: "Put one in" }).click();
    await page.locator("#leaf .pick").first().click();
    await page.locator("#leaf .lines").waitFor();
    const lines = (await page.locator("#leaf .lines").innerText()).trim();
    assert.match(lines, /contact/, "the preview shows the line");
    await page.locator("#leaf .key.strong").click();
    await leaf(page, "Text").click();
    await page.getByText("All lines read · not saved").waitFor();
    await page.getByRole("button", { name: "Save" }).click();
    await page.getByText("All lines read · saved").waitFor();
    const now = await home.read("dunmarrow");
    for (const comment of old.match(/\/\/.*$/gm) ?? []) assert.ok(now.includes(comment), `kept: ${comment}`);
    assert.notEqual(now, old);
    assert.equal(now.split("\n").length, old.split("\n").length + 1, "one line more, nothing else");
    await person.leave();
});

test("moving the feed in the text repairs the pumping", async () => {
    const person = await visitor(browser);
    const page = await person.open(served.address);
    await leaf(page, /Must hold/).click();
    await verdict(page, /pumping/i, /fails/i);
    await type(page, 'from="C2"', 'from="C1"');
    await page.getByText(/All lines read/).waitFor();
    await leaf(page, /Must hold/).click();
    await verdict(page, /pumping/i, /holds/i);
    await person.leave();
});

test("our words are offered with a line about each, names too", async () => {
    const person = await visitor(browser);
    const page = await person.open(served.address);
    await leaf(page, "Text").click();
    await page.locator(".cm-content").click();
    await page.keyboard.press("Control+End");
    await page.keyboard.type("\nsup");
    await page.locator(".cm-tooltip-autocomplete li", { hasText: "supply" }).first().waitFor();
    await page.keyboard.press("Escape");
    await live(page);
    await person.leave();
});
