/** The colours of the text: our words, names and quantities, notes. */
import { HighlightStyle, StreamLanguage, syntaxHighlighting } from "@codemirror/language";
import { tags } from "@lezer/highlight";

interface Place {
    note: number;
    begins: boolean;
}

/** KDL as schemes use it: a word begins a line, then names in quotes, numbers, properties. */
export const kdl = StreamLanguage.define<Place>({
    name: "scheme",
    startState: () => ({ note: 0, begins: true }),
    token(stream, place) {
        if (place.note > 0) {
            while (!stream.eol()) {
                if (stream.match("/*")) place.note += 1;
                else if (stream.match("*/")) {
                    place.note -= 1;
                    if (place.note === 0) break;
                } else stream.next();
            }
            return "comment";
        }
        if (stream.sol()) place.begins = true;
        if (stream.eatSpace()) return null;
        if (stream.match("//")) {
            stream.skipToEnd();
            return "comment";
        }
        if (stream.match("/*")) {
            place.note = 1;
            return "comment";
        }
        if (stream.match("/-")) return "comment";
        if (stream.match(/^"(?:[^"\\]|\\.)*"?/)) {
            place.begins = false;
            return "string";
        }
        if (stream.match(/^[{};]/)) {
            place.begins = true;
            return "bracket";
        }
        if (stream.match(/^[\w-]+(?==)/)) {
            place.begins = false;
            return "propertyName";
        }
        if (stream.match(/^-?\d[\d_.]*/)) {
            place.begins = false;
            return "number";
        }
        if (stream.match(/^[^\s"{};=]+/)) {
            const first = place.begins;
            place.begins = false;
            return first ? "keyword" : "variableName";
        }
        stream.next();
        return null;
    },
    languageData: { commentTokens: { line: "//" }, closeBrackets: { brackets: ['"'] } },
    tokenTable: {},
});

export const ink = syntaxHighlighting(
    HighlightStyle.define([
        { tag: tags.keyword, color: "var(--ink)" },
        { tag: tags.string, color: "var(--minus)" },
        { tag: tags.number, color: "var(--minus)" },
        { tag: tags.propertyName, color: "var(--soft)" },
        { tag: tags.comment, color: "var(--soft)", fontStyle: "italic" },
        { tag: tags.bracket, color: "var(--soft)" },
    ]),
);
