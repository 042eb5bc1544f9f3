// What leaves the page: the printed sheet, papers as files, a new scheme from questions, several files.
import assert from "node:assert/strict";
import { readFile, stat } from "node:fs/promises";
import path from "node:path";
import { after, before, test } from "node:test";
import { breakerIs, browse, house, key, leaf, live, serve, turnTo, verdict, visitor } from "./house.mjs";

let browser;
let home;
let served;
before(async () => {
    browser = await browse();
    home = await house("dunmarrow", "quillmere");
    served = await serve(home, [home.file("dunmarrow"), home.file("quillmere")]);
});
after(async () => {
    await browser?.close();
    await served?.kill();
    await home?.leave();
});

test("the printer gets the sheet alone, with its moment and its cautions, black on white also by night", async () => {
    const person = await visitor(browser);
    const page = await person.open(served.address);
    await page.getByRole("button", { name: "Night" }).click();
    await turnTo(page, "dunmarrow");
    await key(page, "line fault").click();
    await key(page, "52CS close").click();
    await breakerIs(page, "closed");
    await page.emulateMedia({ media: "print" });
    await page.evaluate(() => dispatchEvent(new Event("beforeprint")));
    const sheet = page.locator("#printed svg");
    await sheet.waitFor();
    for (const place of ["#top", "#band", "#sheet", "#happened", "#margin"]) {
        assert.ok(await page.locator(place).isHidden(), `${place} is not printed`);
    }
    const box = await sheet.boundingBox();
    assert.ok(box.width > 900 && box.x >= 0 && box.x + box.width <= 1280, `as wide as the paper: ${JSON.stringify(box)}`);
    const words = (await sheet.locator("text").allTextContents()).join(" ");
    assert.match(words, /Caution: shows the scheme as written, not the equipment as built/);
    assert.match(words, /Prove every circuit dead/);
    assert.match(words, /Not at rest/, "it says that it shows a moment");
    assert.match(words, /Dunmarrow/, "the title block is there");
    const paper = await sheet.locator(".paper").evaluate((rect) => getComputedStyle(rect).fill);
    assert.equal(paper, "rgb(255, 255, 255)");
    const ink = await sheet.locator(".sm").first().evaluate((line) => getComputedStyle(line).stroke.match(/\d+/g).map(Number));
    assert.ok(Math.max(...ink.slice(0, 3)) < 90, `dark ink: ${ink}`);
    const pages = await page.pdf({ landscape: true, preferCSSPageSize: true });
    assert.equal(pages.toString("latin1").match(/\/Type \/Page\b/g).length, 1, "one sheet, one page");
    await page.evaluate(() => dispatchEvent(new Event("afterprint")));
    await page.emulateMedia({ media: "screen" });
    assert.equal(await page.locator("#printed svg").count(), 0);
    await person.leave();
});

test("sheets, timeline and report come as files", async () => {
    const person = await visitor(browser);
    const page = await person.open(served.address);
    await turnTo(page, "dunmarrow");
    await key(page, "line fault").click();
    await key(page, "52CS close").click();
    await breakerIs(page, "closed");
    await verdict(page, /pumping/i, /fails/i);
    await page.getByRole("button", { name: "Papers" }).click();
    const take = async (words) => {
        const coming = page.waitForEvent("download");
        await page.locator("#leaf .pick", { hasText: words }).click();
        const got = await coming;
        return { name: got.suggestedFilename(), bytes: await readFile(await got.path()) };
    };
    const pdf = await take("Sheets, PDF");
    assert.match(pdf.name, /dunmarrow.*\.pdf$/i);
    assert.equal(pdf.bytes.subarray(0, 5).toString(), "%PDF-");
    const dxf = await take("Sheets, DXF");
    assert.match(dxf.name, /\.dxf$/);
    assert.match(dxf.bytes.toString(), /^\s*(999|0)\s/);
    assert.match(dxf.bytes.toString(), /SECTION[\s\S]*ENTITIES[\s\S]*EOF\s*$/);
    const svg = await take("Sheets, SVG");
    assert.match(svg.bytes.toString(), /<svg[\s\S]*Dunmarrow[\s\S]*<\/svg>/);
    const timeline = await take("What happened, SVG");
    assert.match(timeline.bytes.toString(), /<svg[\s\S]*52[\s\S]*<\/svg>/);
    const report = await take("Report");
    const said = report.bytes.toString();
    assert.match(said, /fails: no pumping/i, "the report has the claims");
    assert.match(said, /52 close[\s\S]{0,400}\d+(\.\d+)? V/, "the report has volts");
    assert.match(report.bytes.toString(), /not measured|as built|licensed engineer/i, "the report carries a caution");
    await person.leave();
});

test("a new scheme from questions is drawn, moves, and becomes a file", async () => {
    const person = await visitor(browser);
    const page = await person.open(served.address);
    await page.getByRole("button", { name: "Schemes" }).click();
    await page.getByRole("button", { name: "Write a new one" }).click();
    await page.getByLabel("What is the breaker called?").fill("Larkmoor 69 kV, breaker 52-7");
    await page.getByLabel("Which battery voltage?").selectOption("48");
    await page.getByLabel("How many trip coils?").selectOption("1");
    await page.getByLabel("How far is the breaker cabinet").fill("40");
    await page.getByText("A beginning, not a design").waitFor();
    await page.getByRole("button", { name: "Draw it" }).click();
    await page.getByRole("heading", { level: 1, name: "Larkmoor 69 kV, breaker 52-7" }).waitFor();
    await live(page);
    await breakerIs(page, "open");
    await key(page, "52CS close").click();
    await page.locator(".event", { hasText: "52CS" }).first().waitFor();
    await page.getByLabel("Name of the file").first().fill("larkmoor");
    await page.getByRole("button", { name: "Keep as a file" }).first().click();
    await leaf(page, "Text").click();
    await page.getByText("All lines read · saved").waitFor();
    // It lies where the program was started or beside the first file.
    const places = [home.folder, path.join(home.folder, "dunmarrow")].map((folder) => path.join(folder, "larkmoor.kdl"));
    const found = [];
    for (const place of places) if (await stat(place).catch(() => null)) found.push(await readFile(place, "utf8"));
    assert.equal(found.length, 1, "one file was written");
    assert.match(found[0], /scheme "Larkmoor 69 kV, breaker 52-7"/);
    assert.match(found[0], /48 V DC/);
    await person.leave();
});

test("two files are open: each keeps its text and its run to itself", async () => {
    const person = await visitor(browser);
    const page = await person.open(served.address);
    await turnTo(page, "dunmarrow");
    await leaf(page, "Text").click();
    await page.locator(".cm-content").click();
    await page.keyboard.press("Control+End");
    await page.keyboard.type("\n// only in dunmarrow\n");
    await page.getByText("All lines read · not saved").waitFor();
    await turnTo(page, "quillmere");
    await leaf(page, "Text").click();
    await page.getByText("All lines read · saved").waitFor();
    assert.doesNotMatch(await page.locator(".cm-content").innerText(), /only in dunmarrow/);
    await page.locator('#drawing [data-id="part-86-b1"]').waitFor();
    await turnTo(page, "dunmarrow");
    await page.getByText("Your text from before was kept.").waitFor();
    await leaf(page, "Text").click();
    await page.getByText("All lines read · not saved").waitFor();
    await page.getByRole("button", { name: "Take the file’s text" }).click();
    await page.getByText("All lines read · saved").waitFor();
    assert.doesNotMatch(await home.read("dunmarrow"), /only in dunmarrow/);
    await person.leave();
});
