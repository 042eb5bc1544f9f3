// A newcomer with the guide: finds that dunmarrow pumps and why, and repairs it on the drawing.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { breakerIs, browse, caption, house, key, leaf, serve, verdict, visitor } from "./house.mjs";

let browser;
let home;
let served;
before(async () => {
    browser = await browse();
    home = await house();
    served = await serve(home, []);
});
after(async () => {
    await browser?.close();
    await served?.kill();
    await home?.leave();
});

test("the guide's six steps, each by the person's own act, end with a repaired dunmarrow", async () => {
    const person = await visitor(browser, { seen: false });
    const page = await person.open(served.address);
    const card = page.locator(".guide");
    const step = (n) => card.getByText(`Step ${n} of 6`).waitFor();
    const goOn = async () => {
        await card.getByText("Done.").waitFor();
        await card.getByRole("button", { name: "Go on" }).click();
    };
    await step(1);
    await page.getByRole("heading", { level: 1, name: /Quillmere/ }).waitFor();
    await key(page, "43LR local").click();
    await key(page, "52CS close").click();
    await goOn();
    await step(2);
    await page.locator(".event", { hasText: "52 closed" }).first().click();
    await goOn();
    await step(3);
    await page.getByRole("heading", { level: 1, name: /Dunmarrow/ }).waitFor();
    await page.locator("#drawing .ink > .part").first().waitFor();
    await key(page, "52CS close").click();
    await goOn();
    await step(4);
    await leaf(page, /Must hold/).click();
    await (await verdict(page, /pumping/i, /fails/i)).click();
    await page.getByRole("button", { name: "Play the story" }).first().click();
    await goOn();
    await step(5);
    await leaf(page, "What if").click();
    await goOn();
    await step(6);
    // On the drawing: the leg's feed goes from behind 25 to before it.
    await page.locator('#drawing [data-id="wire-after-D1-2.1"] .press').click();
    await page.getByRole("button", { name: "Change this place" }).click();
    await page.getByRole("button", { name: "Move the leg’s feed" }).click();
    await page.getByLabel("From which wire").fill("C1");
    await page.locator("#leaf .lines", { hasText: 'from="C1"' }).waitFor();
    await page.locator("#leaf .key.strong").click();
    await card.getByText("Done.").waitFor();
    // The story was one of the text before: the repaired scheme begins anew, and nothing of it stays.
    await caption(page).getByText("Undo takes it back.").waitFor();
    await page.locator("#happened .count", { hasText: "nothing yet" }).waitFor();
    await breakerIs(page, "open");
    assert.equal(await page.locator("#caption").getByRole("button", { name: "Now" }).count(), 0);
    assert.match(await page.locator('#drawing [data-id="part-52-a1"] .press').getAttribute("aria-label"), /open now/);
    assert.match(await card.innerText(), /licensed engineer/, "the caution stands where somebody may act");
    await card.getByRole("button", { name: "Finish" }).click();
    await leaf(page, /Must hold/).click();
    await verdict(page, /pumping/i, /holds/i);
    await person.leave();
});

test("an edit while a claim's story is shown begins anew: old states never stand on the new scheme", async () => {
    const own = await house("dunmarrow");
    const alone = await serve(own, [own.file("dunmarrow")]);
    const person = await visitor(browser, { waits: { run: 300, picture: 900 } });
    const page = await person.open(alone.address);
    await (await verdict(page, /pumping/i, /fails/i)).click();
    await page.getByRole("button", { name: "Play the story" }).first().click();
    await page.locator(".event").first().waitFor();
    await page.getByRole("button", { name: "Now", exact: true }).waitFor();
    await leaf(page, "Text").click();
    await page.locator(".cm-content").click();
    await page.keyboard.press("Control+End");
    await page.keyboard.type("\n// a word\n");
    await caption(page).getByText("The text was changed: the run begins anew.").waitFor();
    assert.equal(await page.locator(".event").count(), 0, "no event of the old text");
    await breakerIs(page, "open");
    await key(page, "52CS close").click();
    await page.locator(".event", { hasText: "52 closed" }).first().waitFor();
    await caption(page).getByText("more is still under way").waitFor();
    await page.locator("#happened .followed", { hasText: "Followed for 5 s; more is under way:" }).waitFor();
    await person.leave();
    await alone.kill();
    await own.leave();
});

test("an answer that can't be read is told beside it, and what was typed stays", async () => {
    const person = await visitor(browser, { unclear: true });
    const page = await person.open(served.address);
    await page.getByRole("button", { name: "Schemes" }).click();
    await page.getByRole("button", { name: "Write a new one" }).click();
    const far = page.getByLabel(/How far is the breaker cabinet/);
    await far.fill("abc");
    await page.getByRole("button", { name: "Draw it" }).click();
    await page.locator(".asked", { has: page.locator('[aria-invalid="true"]') }).getByText("Change this answer.").waitFor();
    assert.equal(await far.inputValue(), "abc");
    await far.fill("140");
    await page.getByRole("button", { name: "Draw it" }).click();
    await page.getByText("A new scheme.").waitFor();
    await leaf(page, "Text").click();
    await page.locator(".cm-line", { hasText: "140 m" }).first().waitFor();
    await person.leave();
});

test("the guide can be left at once and does not come back", async () => {
    const person = await visitor(browser, { seen: false });
    const page = await person.open(served.address);
    await page.locator(".guide").getByRole("button", { name: "Leave" }).click();
    await page.reload();
    await page.locator("#drawing .ink > .part").first().waitFor();
    assert.equal(await page.locator(".guide").count(), 0);
    await person.leave();
});
