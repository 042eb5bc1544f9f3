/** The page: puts its parts into their places and opens the first scheme. */
import { bandView } from "./band";
import { captionView } from "./caption";
import { attend, open, schemes } from "./desk";
import { attendGuide, beginGuide } from "./guide";
import { happenedView } from "./happened";
import { attendKeys } from "./keys";
import { marginView } from "./margin";
import { newsView } from "./news";
import { attendPrinting } from "./papers";
import { told } from "./play";
import { sheetView } from "./sheet";
import * as s from "./state";
import { textView } from "./text";
import { topView } from "./top";
import { attendWhatIf } from "./whatif";

function place(id: string): HTMLElement {
    const found = document.getElementById(id);
    if (!found) throw new Error(`the page has no place ${id}`);
    return found;
}

topView(place("top"));
newsView(place("news"));
bandView(place("band"));
sheetView(place("sheet"));
captionView(place("caption"));
happenedView(place("happened"));
marginView(place("margin"));
textView(place("textside"));
attendPrinting(place("printed"));
attend();
attendKeys();
attendWhatIf();
attendGuide();
performance.mark("parts");

async function first(): Promise<void> {
    try {
        const list = await schemes();
        const last = s.kept("desk", "");
        const names = [...list.desks, ...list.examples, ...list.found].map((one) => one.name);
        const files = list.desks.filter((one) => one.file !== null);
        const only = files.length === 1 ? files[0]?.name : undefined;
        const name = only ?? (names.includes(last) ? last : names[0]);
        if (name !== undefined) await open(name);
        if (localStorage.getItem("fiftytwo.guide") === null && files.length === 0) beginGuide();
    } catch (trouble) {
        told(trouble);
        setTimeout(() => void first(), 1500);
    }
}
void first();
