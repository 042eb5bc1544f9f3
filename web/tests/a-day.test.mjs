// A person's first hour: closing, tripping, a standing close, the story of the scheme that pumps.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { breakerIs, browse, caption, closings, house, key, leaf, serve, turnTo, verdict, visitor } from "./house.mjs";

let browser;
let home;
let served;
before(async () => {
    browser = await browse();
    home = await house("quillmere", "dunmarrow", "dunmarrow-repaired");
    served = await serve(home, [home.file("dunmarrow-repaired"), home.file("dunmarrow"), home.file("quillmere")]);
});
after(async () => {
    await browser?.close();
    await served?.kill();
    await home?.leave();
});

test("the breaker closes and trips by its handle", async () => {
    const person = await visitor(browser);
    const page = await person.open(served.address);
    await turnTo(page, "dunmarrow-repaired");
    await breakerIs(page, "open");
    await key(page, "line fault").click();
    await key(page, "52CS close").click();
    await breakerIs(page, "closed");
    await key(page, "52CS close · held").click();
    await key(page, "52CS trip").click();
    await breakerIs(page, "open");
    await person.leave();
});

test("a trip on a standing close does not pump in the repaired scheme", async () => {
    const person = await visitor(browser);
    const page = await person.open(served.address);
    await turnTo(page, "dunmarrow-repaired");
    // It begins with a fault on the line, as its story does.
    await key(page, "52CS close").click();
    await page.locator(".event", { hasText: "52 open" }).first().waitFor();
    await breakerIs(page, "open");
    assert.equal(await closings(page), 1, "one order, one closing");
    await person.leave();
});

test("who waits sees the spring charged, and the standing order does not close again", async () => {
    const person = await visitor(browser);
    const page = await person.open(served.address);
    await turnTo(page, "quillmere");
    await key(page, "line fault").click();
    await key(page, "52CS close").click();
    await page.locator(".event", { hasText: "52 open" }).first().waitFor();
    await page.locator("#happened .followed", { hasText: "52 spring charged" }).waitFor();
    const next = page.getByRole("button", { name: "Next event" });
    const charged = page.locator(".event", { hasText: "52 spring charged" });
    for (let waits = 0; waits < 100 && (await charged.count()) === 0; waits += 1) {
        if (await next.isEnabled()) await next.click();
        await page.waitForTimeout(200);
    }
    await charged.first().waitFor();
    await breakerIs(page, "open");
    assert.equal(await closings(page), 1, "one order, one closing, charged or not");
    await person.leave();
});

test("what if gives no margin that was found with other numbers", async () => {
    const person = await visitor(browser);
    const page = await person.open(served.address);
    await turnTo(page, "dunmarrow-repaired");
    await leaf(page, "What if").click();
    // Opened before the claims are decided, and looked at again after.
    await leaf(page, /Must hold/).click();
    await verdict(page, /pumping/i, /tolerances/i);
    await leaf(page, "What if").click();
    const race = page.locator("#leaf .claim", { hasText: "52Y picks up" });
    await race.getByText("20 ms to spare").waitFor();
    const opens = page.locator(".lever", { hasText: "52 opens within" }).locator("input");
    await opens.focus();
    await page.keyboard.press("Home");
    await race.getByText("not asked with these numbers").waitFor();
    assert.equal(await race.getByText("to spare").count(), 0);
    await page.getByRole("button", { name: "Back to the declared numbers" }).click();
    await race.getByText("20 ms to spare").waitFor();
    await person.leave();
});

test("a story that comes otherwise than it expects says so", async () => {
    const person = await visitor(browser);
    const page = await person.open(served.address);
    await turnTo(page, "dunmarrow");
    await page.getByRole("button", { name: "A standing close on to a fault" }).click();
    await page.locator("#happened .followed", { hasText: /The story expects .*it happened \d+ times/ }).waitFor();
    await person.leave();
});

test("dunmarrow pumps: seen by holding the order, and told by its story", async () => {
    const person = await visitor(browser);
    const page = await person.open(served.address);
    await turnTo(page, "dunmarrow");
    await key(page, "52CS close").click();
    await page.locator(".event", { hasText: "52 closed" }).nth(1).waitFor();
    assert.ok((await closings(page)) >= 2, "it closes again under one order");

    await leaf(page, /Must hold/).click();
    const claim = await verdict(page, /pumping/i, /fails/i);
    await claim.click();
    await page.getByRole("button", { name: "Play the story" }).first().click();
    await page.locator('.event[aria-selected="true"]').waitFor();
    await caption(page).getByText(/\d ms/).first().waitFor();
    assert.ok((await page.locator("#drawing .marker").count()) > 0, "the way is marked on the drawing");
    await page.getByRole("button", { name: "First cause" }).click();
    await page.locator('.event[aria-selected="true"]').waitFor();
    await page.getByRole("button", { name: "Now", exact: true }).click();
    await page.locator('.event[aria-selected="true"]').waitFor({ state: "detached" });
    await person.leave();
});

test("why not: what stands in the way of closing is ringed and named", async () => {
    const person = await visitor(browser);
    const page = await person.open(served.address);
    await turnTo(page, "dunmarrow");
    await page.getByRole("button", { name: /Why doesn’t 52 close/ }).click();
    await page.locator("#drawing .ring").first().waitFor();
    assert.match(await caption(page).innerText(), /52CS .*close/, "the contact in the way is named");
    await page.getByRole("button", { name: "Take the rings off" }).click();
    assert.equal(await page.locator("#drawing .ring").count(), 0);
    await person.leave();
});

test("a supply lost stops the close, and comes back", async () => {
    const person = await visitor(browser);
    const page = await person.open(served.address);
    await turnTo(page, "dunmarrow");
    await key(page, "line fault").click();
    await key(page, "DC1 lost").click();
    await key(page, "52CS close").click();
    await page.locator(".event", { hasText: "52CS" }).first().waitFor();
    await breakerIs(page, "open");
    assert.equal(await closings(page), 0);
    await key(page, "DC1 live").click();
    await breakerIs(page, "closed");
    await person.leave();
});
