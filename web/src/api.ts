/**
 * Questions to the program on this machine.
 *
 * In: a call's name and its body. Out: the answer, or `Gone` when the program does not run, or
 * `Refused` with the program's own sentence. Never here: what an answer means.
 */
import { signal } from "@preact/signals-core";

export class Gone extends Error {}
export class Refused extends Error {
    constructor(
        readonly status: number,
        readonly body: Record<string, unknown>,
    ) {
        super(String(body["error"] ?? `refused (${status})`));
    }
}

/** False while the program cannot be reached. */
export const running = signal(true);

const key = takeKey();

/** The key stands in the address once, then only in this tab's own memory. */
function takeKey(): string {
    const given = location.hash.slice(1);
    const kept = sessionStorage.getItem("key") ?? "";
    if (/^[0-9a-f]{16,}$/.test(given)) {
        sessionStorage.setItem("key", given);
        return given;
    }
    return kept;
}

async function post(name: string, body: unknown, stop?: AbortSignal): Promise<Response> {
    let answer: Response;
    try {
        answer = await fetch(`/api/${name}`, {
            method: "POST",
            headers: { "content-type": "application/json", "x-fiftytwo-key": key },
            body: JSON.stringify(body),
            signal: stop ?? null,
        });
    } catch (trouble) {
        throw broken(trouble);
    }
    running.value = true;
    if (!answer.ok) {
        const told = (await answer.json().catch(() => ({}))) as Record<string, unknown>;
        throw new Refused(answer.status, told);
    }
    return answer;
}

/** Why an answer did not come, or came only in part: it was given up here, or the program is gone. */
function broken(trouble: unknown): unknown {
    if (stopped(trouble)) return trouble;
    running.value = false;
    return new Gone();
}

export async function call<T>(name: string, body: unknown = {}, stop?: AbortSignal): Promise<T> {
    const answer = await post(name, body, stop);
    const words = await answer.text().catch((trouble: unknown) => {
        throw broken(trouble);
    });
    return JSON.parse(words) as T;
}

/** What the server called the texts that it was sent last. */
const known = new Map<string, string>();

/** A question about a text; the text itself goes only when the server does not remember it. */
export async function ask<T>(
    name: string,
    desk: string,
    text: string,
    body: object = {},
    stop?: AbortSignal,
): Promise<T> {
    const hash = known.get(text);
    const whole = { scheme: { desk, text }, ...body };
    if (hash !== undefined) {
        try {
            return await call<T>(name, { scheme: { desk, text_hash: hash }, ...body }, stop);
        } catch (trouble) {
            if (!(trouble instanceof Refused) || trouble.body["unknown_text"] !== true) throw trouble;
        }
    }
    const answer = await call<T>(name, whole, stop);
    const told = (answer as { text?: unknown }).text;
    if (typeof told === "string" && name === "read") {
        if (known.size > 20) known.clear();
        known.set(text, told);
    }
    return answer;
}

/** An answer that comes line by line. */
export async function* lines(
    name: string,
    body: unknown,
    stop: AbortSignal,
): AsyncGenerator<Record<string, unknown>> {
    const answer = await post(name, body, stop);
    const reader = answer.body?.getReader();
    if (!reader) return;
    const letters = new TextDecoder();
    let rest = "";
    for (;;) {
        const { done, value } = await reader.read().catch((trouble: unknown) => {
            throw broken(trouble);
        });
        if (value) rest += letters.decode(value, { stream: true });
        for (let end = rest.indexOf("\n"); end >= 0; end = rest.indexOf("\n")) {
            const line = rest.slice(0, end).trim();
            rest = rest.slice(end + 1);
            if (line) yield JSON.parse(line) as Record<string, unknown>;
        }
        if (done) return;
    }
}

/** Only the newest question of a kind counts: a newer one stops the older. */
export function newest(): () => AbortSignal {
    let last: AbortController | null = null;
    return () => {
        last?.abort();
        last = new AbortController();
        return last.signal;
    };
}

export function stopped(trouble: unknown): boolean {
    return trouble instanceof DOMException && trouble.name === "AbortError";
}
