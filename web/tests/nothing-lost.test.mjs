// Nothing that was typed is lost, and nobody's file is overwritten.
import assert from "node:assert/strict";
import { writeFile } from "node:fs/promises";
import { after, before, test } from "node:test";
import { breakerIs, browse, house, key, leaf, live, serve, visitor } from "./house.mjs";

let browser;
before(async () => {
    browser = await browse();
});
after(async () => {
    await browser?.close();
});

async function write(page, words) {
    await leaf(page, "Text").click();
    await page.locator(".cm-content").click();
    await page.keyboard.press("Control+End");
    await page.keyboard.type(words);
}

test("the program is killed and comes back: the text is there, the page goes on", async () => {
    const home = await house("dunmarrow");
    let served = await serve(home, [home.file("dunmarrow")]);
    const person = await visitor(browser, { killed: true });
    const page = await person.open(served.address);
    await key(page, "line fault").click();
    await key(page, "52CS close").click();
    await breakerIs(page, "closed");
    await served.kill();
    await write(page, "\n// written while nothing ran\n");
    await page.getByText("fiftytwo is not running.").waitFor();
    assert.ok(await key(page, "52CS trip").isDisabled(), "nothing is pressed that would be done later unseen");
    assert.ok(await page.getByRole("button", { name: "Save" }).isDisabled());
    served = await serve(home, [home.file("dunmarrow")], served.port);
    await page.getByText("fiftytwo is not running.").waitFor({ state: "detached" });
    await page.getByRole("button", { name: "Save" }).click();
    await page.getByText("All lines read · saved").waitFor();
    assert.match(await home.read("dunmarrow"), /written while nothing ran/);
    await breakerIs(page, "closed");
    await person.leave();
    await served.kill();
    await home.leave();
});

test("a closed tab and a killed program: the draft comes back", async () => {
    const home = await house("dunmarrow");
    let served = await serve(home, [home.file("dunmarrow")]);
    const first = await visitor(browser, { killed: true });
    const page = await first.open(served.address);
    const kept = page.waitForResponse(
        (answer) => answer.url().endsWith("/api/keep") && answer.request().postData().includes("a thought not saved\\n"),
    );
    await write(page, "\n// a thought not saved\n");
    await kept;
    await first.leave();
    await served.kill();
    served = await serve(home, [home.file("dunmarrow")], served.port);
    // Another browser without any memory: the draft was kept by the program.
    const second = await visitor(browser);
    const again = await second.open(served.address);
    await again.getByText("Your text from before was kept.").waitFor();
    await leaf(again, "Text").click();
    await again.locator(".cm-content").click();
    await again.keyboard.press("Control+End");
    await again.getByText("a thought not saved").waitFor();
    assert.doesNotMatch(await home.read("dunmarrow"), /a thought not saved/);
    await again.getByRole("button", { name: "Take the file’s text" }).click();
    await again.getByText("All lines read · saved").waitFor();
    await second.leave();
    await served.kill();
    await home.leave();
});

test("a file changed by somebody else is not overwritten; both are shown", async () => {
    const home = await house("dunmarrow");
    const served = await serve(home, [home.file("dunmarrow")]);
    const person = await visitor(browser);
    const page = await person.open(served.address);
    await write(page, "\n// mine\n");
    const theirs = `${await home.read("dunmarrow")}\n// theirs\n`;
    await writeFile(home.file("dunmarrow"), theirs);
    await page.getByRole("button", { name: "Save" }).click();
    await page.getByText("Nothing is overwritten.").waitFor();
    assert.equal(await home.read("dunmarrow"), theirs);
    await page.getByRole("button", { name: "Show both" }).click();
    await page.locator(".both .differs", { hasText: "// theirs" }).waitFor();
    await page.locator(".both .differs", { hasText: "// mine" }).waitFor();
    await page.getByRole("button", { name: "Take theirs" }).click();
    await page.getByText("All lines read · saved").waitFor();
    await person.leave();
    await served.kill();
    await home.leave();
});

test("two tabs: one text, the last act in both", async () => {
    const home = await house("dunmarrow");
    const served = await serve(home, [home.file("dunmarrow")]);
    const person = await visitor(browser);
    const one = await person.open(served.address);
    const two = await person.open(served.address);
    await two.getByText("Open in another tab too").waitFor();
    await key(one, "line fault").click();
    await key(one, "52CS close").click();
    await breakerIs(one, "closed");
    await breakerIs(two, "closed");
    await write(one, "\n// seen in both\n");
    await leaf(two, "Text").click();
    await two.locator(".cm-content").click();
    await two.keyboard.press("Control+End");
    await two.getByText("seen in both").waitFor();
    await live(two);
    await person.leave();
    await served.kill();
    await home.leave();
});

test("a second tab has the verdicts of the first at once, the calculated ones among them", async () => {
    const home = await house("dunmarrow");
    const served = await serve(home, [home.file("dunmarrow")]);
    const person = await visitor(browser);
    const one = await person.open(served.address);
    const all = async (page) => {
        await page.locator(".claim-head", { hasText: "Nothing breaks what it can't" }).first().waitFor({ timeout: 120_000 });
        await page.locator(".claim.trying").waitFor({ state: "detached" });
        return page.locator(".claims:first-of-type .claim-head").allInnerTexts();
    };
    const told = await all(one);
    assert.ok(told.some((words) => words.includes("Two supplies stay apart")), "told though there is one supply");
    const asked = [];
    const two = await person.open(served.address);
    two.on("response", (answer) => answer.url().endsWith("/prove") && asked.push(answer));
    await two.reload();
    await live(two);
    const began = Date.now();
    assert.deepEqual((await all(two)).toSorted(), told.toSorted());
    const waited = Date.now() - began;
    const lines = (await asked.at(-1).text()).trim().split("\n");
    assert.ok(!lines.some((line) => line.startsWith('{"progress"')), `nothing is searched again (${waited} ms)`);
    await person.leave();
    await served.kill();
    await home.leave();
});
