// Everything by keyboard: regions, the drawing, an act, why, an edit, saving.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { breakerIs, browse, caption, house, serve, visitor } from "./house.mjs";

let browser;
let home;
let served;
before(async () => {
    browser = await browse();
    home = await house("quillmere");
    served = await serve(home, [home.file("quillmere")]);
});
after(async () => {
    await browser?.close();
    await served?.kill();
    await home?.leave();
});

const focused = (page) => page.evaluate(() => document.activeElement?.closest("[data-region]")?.id ?? "none");

test("no mouse: close at the drawing, ask why, put a contact in, save", async () => {
    const person = await visitor(browser);
    const page = await person.open(served.address);
    const regions = [];
    for (let press = 0; press < 6; press += 1) {
        await page.keyboard.press("F6");
        regions.push(await focused(page));
    }
    for (const region of ["top", "band", "sheet", "caption", "happened", "margin"]) {
        assert.ok(regions.includes(region), `F6 reaches ${region}: ${regions}`);
    }
    while ((await focused(page)) !== "sheet") await page.keyboard.press("F6");
    // Down the first leg until the handle's own contact is reached.
    const here = () => page.evaluate(() => document.activeElement?.getAttribute("aria-label") ?? "");
    for (let press = 0; press < 40 && !(await here()).startsWith("52CS close"); press += 1) {
        await page.keyboard.press(press % 8 === 7 ? "ArrowLeft" : press < 3 ? "ArrowUp" : "ArrowDown");
    }
    assert.match(await here(), /^52CS close/, "the arrows reach 52CS close");
    const outline = await page.locator("#drawing .chosen").count();
    assert.equal(outline, 1, "the place of the focus is seen");
    await page.keyboard.press("Enter");
    await page.locator(".event", { hasText: "52 closed" }).first().waitFor();
    await page.keyboard.press("w");
    await page.locator('.event[aria-selected="true"]').waitFor();
    await caption(page).getByText(/\d ms/).first().waitFor();
    await page.keyboard.press("Escape");
    await page.keyboard.press("n");
    await page.locator("#drawing .ring").first().waitFor();
    await page.keyboard.press("ArrowDown");
    await page.keyboard.press("Insert");
    await page.locator("#leaf .pick").first().waitFor();
    await page.locator("#leaf .pick").first().focus();
    await page.keyboard.press("Enter");
    await page.locator("#leaf .key.strong:not(:disabled)").waitFor();
    await page.locator("#leaf .key.strong").focus();
    await page.keyboard.press("Enter");
    await page.keyboard.press("Control+s");
    await page.waitForFunction(() => document.querySelector(".text-state")?.textContent?.includes("· saved"));
    await person.leave();
});

test("answers that come late never take the keyboard from the sheet", async () => {
    const person = await visitor(browser, { waits: { picture: 700, "why-not": 300, offers: 400 } });
    const page = await person.open(served.address);
    await breakerIs(page, "open");
    await page.getByRole("navigation", { name: "Sheets" }).getByRole("button", { name: "Trip 1" }).click();
    await page.locator('#drawing [data-id="part-52-a2"] .press').focus();
    // 52 is open: what stands in the way of closing is drawn on the first sheet.
    await page.keyboard.press("n");
    await page.locator('#drawing [data-id="part-52-close"]').waitFor();
    assert.equal(await focused(page), "sheet", "the sheet turned under the keyboard, the keyboard stays on it");
    await page.keyboard.press("ArrowDown");
    await page.keyboard.press("Insert");
    await page.locator("#leaf .pick").first().waitFor();
    await page.keyboard.press("Escape");
    assert.equal(await focused(page), "sheet", "leaving an edit comes back to its place");
    await person.leave();
});

test("Find leads to a part by its letters", async () => {
    const person = await visitor(browser);
    const page = await person.open(served.address);
    await page.locator("#drawing .part .press").first().focus();
    await page.keyboard.press("/");
    await page.keyboard.type("52Y b1");
    await page.keyboard.press("Enter");
    await page.waitForFunction(() => document.querySelector('#drawing [aria-current="true"]')?.getAttribute("aria-label")?.startsWith("52Y b1"));
    await person.leave();
});
