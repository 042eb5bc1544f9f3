// What every browser test needs: the program on a free port with a state folder of its own, copied
// examples, a browser that lists every request, and the first moments of a visit.
import assert from "node:assert/strict";
import { spawn } from "node:child_process";
import { cp, mkdtemp, readFile, rm } from "node:fs/promises";
import { createServer } from "node:net";
import { tmpdir } from "node:os";
import path from "node:path";
import { createInterface } from "node:readline";
import { fileURLToPath } from "node:url";
import { chromium } from "playwright-core";

const root = path.resolve(fileURLToPath(new URL("../..", import.meta.url)));
const program = process.env.FIFTYTWO_PROGRAM ?? path.join(root, "target/release/fiftytwo");

/** Budgets of the page, in milliseconds, and how much slower a busy machine may be. */
export const budget = { firstPaint: 1000, actToPicture: 50, editToPicture: 150 };
export const patience = Number(process.env.FIFTYTWO_PATIENCE ?? 6);

/**
 * A poor machine, to find what only works on a quick one: how many times slower the page computes,
 * and by how much at most each answer of the program is late, call by call by another measure.
 */
const slow = Number(process.env.FIFTYTWO_SLOW ?? 1);
const late = Number(process.env.FIFTYTWO_LATE ?? 0);
let turn = Number(process.env.FIFTYTWO_LATE_FROM ?? 1);

/** The same measures in every run that begins at the same number. */
function lateness() {
    turn = (turn * 48271) % 2147483647;
    return (late * (turn % 1000)) / 1000;
}

async function freePort() {
    return new Promise((resolve, reject) => {
        const ask = createServer();
        ask.once("error", reject);
        ask.listen(0, "127.0.0.1", () => {
            const { port } = ask.address();
            ask.close(() => resolve(port));
        });
    });
}

/** A folder with copies of examples, and a state folder; both gone at the end. */
export async function house(...examples) {
    const folder = await mkdtemp(path.join(tmpdir(), "fiftytwo-page-"));
    for (const name of examples) {
        await cp(path.join(root, "examples", name), path.join(folder, name), { recursive: true });
    }
    return {
        folder,
        state: path.join(folder, "state"),
        file: (name) => path.join(folder, name, "scheme.kdl"),
        read: (name) => readFile(path.join(folder, name, "scheme.kdl"), "utf8"),
        leave: () => rm(folder, { recursive: true, force: true }),
    };
}

/** The program, serving these files; the same port again after it was killed. */
export async function serve(home, files, port = undefined) {
    const own = port ?? (await freePort());
    const child = spawn(program, ["open", ...files, "--port", String(own), "--no-browser"], {
        env: { ...process.env, XDG_STATE_HOME: home.state },
        stdio: ["ignore", "pipe", "pipe"],
        cwd: home.folder,
    });
    // A test that failed must not wait for it.
    child.unref();
    child.stdout.unref?.();
    child.stderr.unref?.();
    process.once("exit", () => child.kill("SIGKILL"));
    let complaint = "";
    child.stderr.on("data", (bytes) => (complaint += bytes));
    const address = await new Promise((resolve, reject) => {
        createInterface({ input: child.stdout }).once("line", resolve);
        child.once("exit", (code) => reject(new Error(`the program ended with ${code}: ${complaint}`)));
        child.once("error", reject);
    });
    assert.match(address, /^http:\/\/127\.0\.0\.1:\d+\/#[0-9a-f]{32}$/, "the first line is the address");
    return {
        address,
        port: own,
        kill: () =>
            new Promise((resolve) => {
                child.removeAllListeners("exit");
                child.once("exit", resolve);
                child.kill("SIGKILL");
            }),
    };
}

export async function browse() {
    const named = process.env.FIFTYTWO_BROWSER ?? "chromium";
    const executablePath = named.includes("/") ? named : await which(named);
    return chromium.launch({
        executablePath,
        args: [
            "--no-sandbox",
            "--disable-gpu",
            "--disable-quic",
            "--no-first-run",
            "--disable-background-networking",
            "--disable-component-update",
            "--disable-sync",
        ],
    });
}

async function which(name) {
    for (const folder of (process.env.PATH ?? "").split(path.delimiter)) {
        const file = path.join(folder, name);
        try {
            await readFile(file);
            return file;
        } catch {
            // The next folder.
        }
    }
    throw new Error(`${name} is not in the path`);
}

/** A person's browser: every request and every complaint of the page is kept. */
export async function visitor(browser, options = {}) {
    const { seen = true, pace = "once", killed = false, unclear = false, waits = {}, ...rest } = options;
    // The browser's own words about a program that ended; a page that breaks over it is a complaint.
    const ended = /net::ERR_(CONNECTION_RESET|EMPTY_RESPONSE|INCOMPLETE_CHUNKED_ENCODING)/;

    const context = await browser.newContext({ viewport: { width: 1280, height: 720 }, ...rest });
    context.setDefaultTimeout(60_000);
    const foreign = [];
    const complaints = [];
    context.on("request", (request) => {
        const { protocol, hostname } = new URL(request.url());
        if (!["data:", "blob:"].includes(protocol) && hostname !== "127.0.0.1") foreign.push(request.url());
    });
    // While the page is written: a bundle that is not built into the program yet.
    const bundle = process.env.FIFTYTWO_BUNDLE;
    if (bundle) {
        await context.route(
            (address) => !address.pathname.startsWith("/api/"),
            async (route) => {
                const { pathname } = new URL(route.request().url());
                const file = path.join(bundle, pathname === "/" ? "index.html" : pathname);
                await route.fulfill({ path: file });
            },
        );
    }
    // A visitor may ask for answers that wait so many milliseconds: { picture: 800 }.
    if (late > 0 || Object.keys(waits).length > 0) {
        await context.route("**/api/*", async (route) => {
            const name = new URL(route.request().url()).pathname.split("/").at(-1);
            await new Promise((resolve) => setTimeout(resolve, waits[name] ?? lateness()));
            // A question that was given up meanwhile has no route any more.
            await route.continue().catch(() => undefined);
        });
    }
    await context.addInitScript(
        ([guide, pace]) => {
            if (guide && localStorage.getItem("fiftytwo.guide") === null) localStorage.setItem("fiftytwo.guide", "seen");
            if (localStorage.getItem("fiftytwo.pace") === null) localStorage.setItem("fiftytwo.pace", pace);
        },
        [seen, pace],
    );
    return {
        context,
        /** Opens the page and waits for the live drawing. */
        async open(address) {
            const page = await context.newPage();
            if (slow > 1) {
                const debug = await context.newCDPSession(page);
                await debug.send("Emulation.setCPUThrottlingRate", { rate: slow });
            }
            page.on("pageerror", (trouble) => complaints.push(String(trouble.stack || trouble)));
            page.on("console", (message) => {
                if (message.type() !== "error") return;
                const words = message.text();
                if (/ERR_CONNECTION_REFUSED|409|404 \(Not Found\)/.test(words) || (unclear && /400 \(Bad Request\)/.test(words)) || (killed && ended.test(words))) return;
                complaints.push(words);
            });
            await page.goto(address);
            await live(page);
            return page;
        },
        /** No request left the machine and nothing broke. */
        async leave() {
            await context.close();
            assert.deepEqual(foreign, [], "requests left the machine");
            assert.deepEqual(complaints, [], "the page complained");
        },
    };
}

export async function live(page) {
    await page.locator("#drawing .ink > .part").first().waitFor();
}

/** Opens one of the schemes by its folder: done when the page shows it, also if it did before. */
export async function turnTo(page, folder) {
    await page.getByRole("button", { name: "Schemes" }).click();
    await page.locator("#leaf .pick").filter({ hasText: new RegExp(`\\b${folder}[/\\\\]scheme`) }).first().click();
    await page.getByRole("tab", { name: /Must hold/, selected: true }).waitFor();
    await live(page);
}

/** A key of the band by the name that a screen reader gives. */
export function key(page, name) {
    return page.locator("#band").getByRole("button", { name, exact: true });
}

export function leaf(page, name) {
    return page.getByRole("tab", { name });
}

/** The sentence of the caption. */
export function caption(page) {
    return page.locator("#caption .words");
}

export async function breakerIs(page, word) {
    await page.getByRole("img", { name: new RegExp(`^Breaker \\S+ ${word}$`) }).waitFor();
}

/** How often the breaker closed in what happened so far. */
export async function closings(page) {
    return page.locator(".event", { hasText: /52 closed/ }).count();
}

export async function verdict(page, title, word) {
    const found = page.locator("#leaf .claim-head", { hasText: title }).filter({ hasText: word }).first();
    await found.waitFor({ timeout: 120_000 });
    return found;
}
