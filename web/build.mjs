// Builds the bundle in dist from src and static. Same input, same bytes.
import { build } from "esbuild";
import { cp, mkdir, readFile, readdir, rm, writeFile } from "node:fs/promises";

const dist = new URL("./dist/", import.meta.url);
const modules = new URL("./node_modules/", import.meta.url);

const fonts = [
    ["@fontsource/b612", "b612-latin-400-normal.woff2"],
    ["@fontsource/b612", "b612-latin-700-normal.woff2"],
    ["@fontsource/b612-mono", "b612-mono-latin-400-normal.woff2"],
    ["@fontsource/barlow-semi-condensed", "barlow-semi-condensed-latin-400-normal.woff2"],
    ["@fontsource/barlow-semi-condensed", "barlow-semi-condensed-latin-600-normal.woff2"],
];

await rm(dist, { recursive: true, force: true });
await mkdir(dist, { recursive: true });
const made = await build({
    entryPoints: [new URL("./src/page.ts", import.meta.url).pathname],
    outfile: new URL("page.js", dist).pathname,
    bundle: true,
    minify: true,
    format: "esm",
    target: "es2022",
    legalComments: "none",
    charset: "utf8",
    metafile: true,
    logLevel: "warning",
});
await build({
    entryPoints: [new URL("./src/page.css", import.meta.url).pathname],
    outfile: new URL("page.css", dist).pathname,
    bundle: true,
    minify: true,
    charset: "utf8",
    external: ["*.woff2"],
    logLevel: "warning",
});
for (const name of (await readdir(new URL("./static/", import.meta.url))).sort()) {
    await cp(new URL(`./static/${name}`, import.meta.url), new URL(name, dist));
}
for (const [from, name] of fonts) {
    await cp(new URL(`${from}/files/${name}`, modules), new URL(name, dist));
}
await writeFile(new URL("LICENSES.txt", dist), await licences(made.metafile));

/** The licence texts of every package whose code or letters are in the bundle. */
async function licences(metafile) {
    const used = new Set(fonts.map(([from]) => from));
    for (const input of Object.keys(metafile.inputs)) {
        const found = /node_modules\/((?:@[^/]+\/)?[^/]+)\//.exec(input);
        if (found) used.add(found[1]);
    }
    const parts = [
        "What others made and this folder carries. Each text below is the licence of the packages",
        "named above it; fiftytwo itself is MIT or Apache-2.0.",
    ];
    const byText = new Map();
    for (const name of [...used].sort()) {
        const folder = new URL(`${name}/`, modules);
        const about = JSON.parse(await readFile(new URL("package.json", folder), "utf8"));
        const file = (await readdir(folder)).find((entry) => /^licen[cs]e/i.test(entry));
        if (!file) throw new Error(`${name} has no licence text`);
        const text = (await readFile(new URL(file, folder), "utf8")).replaceAll("\r\n", "\n").trim();
        const names = byText.get(text) ?? [];
        names.push(`${name} ${about.version} (${about.license})`);
        byText.set(text, names);
    }
    for (const [text, names] of byText) parts.push("", "=".repeat(72), ...names, "", text);
    return parts.join("\n") + "\n";
}
