// Pointing, choosing, pressing by finger, sliding, units and symbols, letters that can be read.
import assert from "node:assert/strict";
import { after, before, test } from "node:test";
import { breakerIs, browse, caption, house, key, leaf, live, serve, visitor } from "./house.mjs";

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

const place = (page, id) => page.locator(`#drawing [data-id="${id}"]`);

test("pointing at a place tells the volts there on the way to its coil, and moves nothing", async () => {
    const person = await visitor(browser);
    const page = await person.open(served.address);
    await breakerIs(page, "open");
    const still = await page.locator("#drawing").boundingBox();
    await place(page, "wire-after-25-permit.1").locator(".press").hover();
    const tag = page.locator("#drawing .tag");
    await tag.waitFor();
    const before = await tag.textContent();
    assert.match(before, /^\d+(\.\d)? V$/);
    assert.match(await caption(page).innerText(), /52 close gets at least \d+\.\d V/);
    assert.ok((await page.locator("#drawing .marker").count()) > 0, "the way is marked");
    assert.deepEqual(await page.locator("#drawing").boundingBox(), still, "the drawing stays where it is");
    // Along the cable it falls.
    await place(page, "part-C4-1-1").locator(".hit").first().hover();
    await page.locator("#drawing .tag", { hasText: " to " }).waitFor();
    const [high, low] = (await tag.textContent()).match(/\d+(\.\d)?/g).map(Number);
    assert.ok(high > low, `it falls along the cable: ${high} to ${low}`);
    assert.equal(`${high} V`, before, "above the cable as before it");
    await page.mouse.move(4, 4);
    await tag.waitFor({ state: "detached" });
    assert.equal(await page.locator("#drawing .marker").count(), 0);
    // The same without a pointer, and it stays.
    await place(page, "part-C4-1-1").locator(".press").focus();
    await page.keyboard.press("p");
    await tag.waitFor();
    await page.keyboard.press("Escape");
    await tag.waitFor({ state: "detached" });
    await person.leave();
});

test("a contact's symbol is chosen, its name turns the handle", async () => {
    const person = await visitor(browser);
    const page = await person.open(served.address);
    await place(page, "part-43LR-local").locator(".hit").first().click();
    await caption(page).getByText("43LR local, ").waitFor();
    assert.equal(await page.locator(".event").count(), 0, "nothing was turned");
    await page.getByRole("button", { name: "Take out", exact: true }).waitFor();
    // What would go is told before anything does.
    await place(page, "part-25-permit").locator(".hit").first().click();
    await page.getByRole("button", { name: "Take out", exact: true }).click();
    await page.getByRole("heading", { name: "What goes" }).waitFor();
    assert.equal(await page.locator("#leaf .lines").innerText(), 'contact "25" "permit"');
    await page.getByRole("button", { name: "Leave as it was" }).click();
    await place(page, "part-43LR-local").locator(".hit.name").click();
    await place(page, "part-52CS-close").locator(".hit").first().click();
    await page.getByRole("button", { name: "Press 52CS close" }).click();
    await key(page, "52CS close · held").waitFor();
    await breakerIs(page, "closed");
    await person.leave();
});

test("by finger on a tablet: keys, names and wires can be met, nothing is cut off", async () => {
    const person = await visitor(browser, { viewport: { width: 820, height: 1180 }, hasTouch: true, isMobile: true });
    const page = await person.open(served.address);
    const low = await page.locator("#band .key, .tab, #top .word").evaluateAll((all) =>
        all.map((one) => one.getBoundingClientRect()).filter((box) => box.height < 40 || box.width < 24).length,
    );
    assert.equal(low, 0, "no key is too small for a finger");
    assert.ok(await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth), "nothing stands beside the page");
    await key(page, "43LR local").tap();
    await place(page, "part-52CS-close").locator(".hit.name").tap();
    await breakerIs(page, "closed");
    // Its number is counted by the drawing; what it is at is not.
    await place(page, "wire-after-86-b1.1").locator(".press").tap();
    await caption(page).getByText(/^Wire \S+ at plus, 125 V to DC1-/).waitFor();
    assert.equal(await page.locator("#drawing .tag").count(), 0, "a finger does not point");
    await page.locator(".event", { hasText: "52 closed" }).first().tap();
    await page.locator('.event[aria-selected="true"]').waitFor();
    await page.getByRole("button", { name: "Now", exact: true }).tap();
    await page.locator('.event[aria-selected="true"]').waitFor({ state: "detached" });
    await person.leave();

    const wide = await visitor(browser, { viewport: { width: 1180, height: 820 }, hasTouch: true, isMobile: true });
    const lying = await wide.open(served.address);
    const glass = await lying.locator(".glass").boundingBox();
    assert.ok(glass.height >= 300, `the sheet keeps its room: ${glass.height}`);
    const find = await lying.locator("#find").boundingBox();
    assert.ok(find.y >= 0, "the top line is not cut off");
    await wide.leave();
});

test("a slider dragged: what follows is told while it moves, the text waits to be told", async () => {
    const person = await visitor(browser);
    const page = await person.open(served.address);
    await leaf(page, "What if").click();
    const lever = page.locator(".lever", { hasText: "Length of C4-1" });
    await lever.waitFor();
    const coil = page.locator("#leaf .claim", { hasText: "52 close" }).first();
    await coil.waitFor();
    const declared = await coil.innerText();
    const slider = lever.locator("input");
    await slider.scrollIntoViewIfNeeded();
    const box = await slider.boundingBox();
    const from = await slider.evaluate((one) => (one.value - one.min) / (one.max - one.min));
    const y = box.y + box.height / 2;
    await page.mouse.move(box.x + 8 + from * (box.width - 16), y);
    await page.mouse.down();
    await page.mouse.move(box.x + box.width * 0.6, y, { steps: 4 });
    await page.waitForFunction(
        ([old]) => [...document.querySelectorAll("#leaf .claim")].some((one) => /52 close/.test(one.innerText) && one.innerText !== old),
        [declared],
    );
    await page.mouse.move(box.x + box.width - 9, y, { steps: 4 });
    await coil.getByText(/too little/).waitFor();
    await page.mouse.up();
    const long = Number((await lever.locator("output").innerText()).match(/[\d.]+/)[0]);
    assert.ok(long > 350, `the length follows the thumb: ${long}`);
    await page.getByRole("button", { name: "Back to the declared numbers" }).click();
    await page.waitForFunction(
        ([old]) => [...document.querySelectorAll("#leaf .claim")].some((one) => one.innerText === old),
        [declared],
    );
    await slider.focus();
    await page.keyboard.press("ArrowRight");
    await page.getByRole("button", { name: "Write these into the text" }).click();
    await leaf(page, "Text").click();
    await page.getByText("All lines read · not saved").waitFor();
    await page.getByRole("button", { name: "Undo" }).click();
    await page.getByText("All lines read · saved").waitFor();
    await person.leave();
});

test("units and symbols: cycles of either frequency, feet, arms and boxes", async () => {
    const person = await visitor(browser);
    const page = await person.open(served.address);
    await key(page, "43LR local").click();
    await key(page, "52CS close").click();
    await breakerIs(page, "closed");
    const when = async () => (await page.locator(".event", { hasText: "52 closed" }).first().locator(".when").innerText()).trim();
    const ms = Number((await when()).match(/^([\d.]+) ms$/)[1]);
    await page.getByRole("button", { name: "Units" }).click();
    let asked = 0;
    for (const hertz of [60, 50]) {
        const choice = page.getByRole("button", { name: `cycles at ${hertz} Hz` });
        // A program that tells the scheme's own frequency leaves one choice.
        if ((await choice.count()) === 0) continue;
        asked += 1;
        await choice.click();
        const cycles = Number((await when()).match(/^([\d.]+) cycles$/)[1]);
        assert.ok(Math.abs(cycles - (ms * hertz) / 1000) < 0.02, `${ms} ms are ${(ms * hertz) / 1000} cycles at ${hertz} Hz, not ${cycles}`);
    }
    assert.ok(asked > 0, "there is a choice of cycles");
    await page.getByRole("button", { name: "milliseconds" }).click();
    await page.getByRole("button", { name: "feet" }).click();

    const bars = await place(page, "part-52-close").locator(".marks circle").count();
    assert.ok(bars > 0, "a coil is a circle");
    await page.getByRole("button", { name: "arms and boxes" }).click();
    await page.waitForFunction(() => document.querySelectorAll('#drawing [data-id="part-52-close"] .marks circle').length === 0);
    await breakerIs(page, "closed");
    await page.locator(".event", { hasText: "52Y picks up" }).first().click();
    await page.locator("#drawing .marker").waitFor();
    // With these symbols the sheets are others: every mark still stands at a part that it names.
    await page.getByRole("navigation", { name: "Sheets" }).getByRole("button", { name: /^Trip 1, part 1/ }).click();
    await place(page, "part-52-trip-1").waitFor();
    await page.keyboard.press("Escape");
    await leaf(page, "What if").click();
    await page.locator(".lever output", { hasText: /\d ft$/ }).first().waitFor();
    await person.leave();
});

for (const [width, height, least] of [
    [1280, 720, 11],
    [1920, 1080, 11],
    [3840, 2160, 18],
]) {
    test(`letters can be read at ${width} by ${height}, and no names lie over each other`, async () => {
        const person = await visitor(browser, { viewport: { width, height } });
        const page = await person.open(served.address);
        await live(page);
        for (const sheet of ["Close", "Trip 1", "Trip 2"]) {
            await page.getByRole("navigation", { name: "Sheets" }).getByRole("button", { name: sheet, exact: true }).click();
            await page.waitForFunction((words) => document.querySelector("#drawing").getAttribute("aria-label") === `Drawing: ${words}`, sheet);
            const seen = await page.evaluate(() => {
                const svg = document.querySelector("#drawing");
                const scale = svg.getBoundingClientRect().width / svg.viewBox.baseVal.width;
                const letters = [...svg.querySelectorAll("text")].map((text) => Number(text.getAttribute("font-size")) * scale);
                // Names of parts and wires, and what is told about them.
                const names = [...svg.querySelectorAll(".ink .marks text")].map((text) => [text.textContent, text.getBoundingClientRect()]);
                const over = [];
                for (const [a, p] of names) {
                    for (const [b, q] of names) {
                        const wide = Math.min(p.right, q.right) - Math.max(p.left, q.left);
                        const tall = Math.min(p.bottom, q.bottom) - Math.max(p.top, q.top);
                        // Lines of one block touch by their empty rims.
                        if (p !== q && wide > 2 && tall > 0.45 * Math.min(p.height, q.height)) over.push(`${a} and ${b}`);
                    }
                }
                return { least: Math.min(...letters), over };
            });
            assert.ok(seen.least >= least, `letters of ${seen.least.toFixed(1)} px`);
            assert.deepEqual(seen.over, [], `${sheet}: names over each other`);
        }
        await person.leave();
    });
}

test("at 1280 by 720 the page itself never scrolls, and all its parts are seen", async () => {
    const person = await visitor(browser);
    const page = await person.open(served.address);
    const parts = ["#top", "#band", "#sheet", "#caption", "#happened", "#margin"];
    const look = async (when) => {
        const found = await page.evaluate((names) => {
            const { scrollWidth, scrollHeight } = document.documentElement;
            const outside = names.filter((name) => {
                const box = document.querySelector(name).getBoundingClientRect();
                return box.height < 20 || box.left < 0 || box.top < 0 || box.right > innerWidth || box.bottom > innerHeight;
            });
            scrollTo(50, 50);
            return { size: [scrollWidth, scrollHeight], moved: [scrollX, scrollY], outside };
        }, parts);
        assert.deepEqual(found, { size: [1280, 720], moved: [0, 0], outside: [] }, when);
    };
    await look("at first");
    await key(page, "43LR local").click();
    await key(page, "52CS close").click();
    await breakerIs(page, "closed");
    await look("after a closing");
    await page.locator(".event").first().click();
    await look("at an event");
    for (const name of ["What if", "Text"]) {
        await leaf(page, name).click();
        await look(name);
    }
    for (const name of ["Schemes", "Papers", "Units", "Keys"]) {
        await page.getByRole("button", { name, exact: true }).click();
        await look(name);
    }
    await person.leave();
});

test("on a tablet held upright, what was asked for comes into sight", async () => {
    const person = await visitor(browser, { viewport: { width: 820, height: 1180 }, hasTouch: true });
    const page = await person.open(served.address);
    const inSight = async (what) => {
        await page.waitForFunction((selector) => {
            const box = document.querySelector(selector)?.getBoundingClientRect();
            return box !== undefined && box.height > 0 && box.top >= 0 && box.top < innerHeight - 60;
        }, what);
    };
    await page.getByRole("button", { name: "Show me round" }).tap();
    await inSight(".guide");
    const card = await page.locator(".guide").boundingBox();
    assert.ok(card.y + card.height <= 1180, "all of the guide's words are seen");
    await page.locator(".guide").getByRole("button", { name: "Leave" }).tap();
    for (const name of ["Papers", "Units", "Keys", "Schemes"]) {
        await page.getByRole("button", { name, exact: true }).tap();
        await inSight("#leaf h3");
        await page.evaluate(() => scrollTo(0, 0));
    }
    await leaf(page, "Must hold").tap();
    await page.evaluate(() => scrollTo(0, 0));
    await place(page, "part-25-permit").locator(".hit").first().tap();
    await page.getByRole("button", { name: "Change this place" }).tap();
    await inSight("#leaf .pick");
    await page.getByRole("button", { name: "Leave as it was" }).tap();
    await person.leave();
});
