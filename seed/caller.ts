/** A refusal of the service (RFC 9457). */
export interface ProblemDocument {
  type: string;
  title: string;
  status: number;
  detail: string;
  [extension: string]: unknown;
}

export type Outcome<T> =
  | { done: true; answer: T }
  | { done: false; slug: string; problem: ProblemDocument };

interface Page<T> {
  items: T[];
  next: string | null;
}

/** One holder of an API key: a station, a cell, a person. Speaks to the service over HTTP alone. */
export class Caller {
  #sent = 0;

  constructor(
    readonly address: string,
    readonly name: string,
    readonly roles: readonly string[],
    readonly token: string,
  ) {}

  /** Asks a question. @throws Error when the service does not answer it */
  async ask<T>(path: string): Promise<T> {
    const response = await fetch(`${this.address}${path}`, { headers: this.#headers() });
    const body = await response.json();
    if (!response.ok) throw refusal('GET', path, body as ProblemDocument);
    return body as T;
  }

  /** Every row of a table, over all its pages. */
  async askAll<T>(path: string): Promise<T[]> {
    const items: T[] = [];
    let next: string | null = `${path}${path.includes('?') ? '&' : '?'}limit=1000`;
    while (next !== null) {
      const page: Page<T> = await this.ask<Page<T>>(next);
      items.push(...page.items);
      next = page.next;
    }
    return items;
  }

  /** Sends a command that must succeed. @throws Error when it is refused */
  async tell<T>(path: string, body: unknown): Promise<T> {
    const outcome = await this.attempt<T>(path, body);
    if (!outcome.done) throw refusal('POST', path, outcome.problem);
    return outcome.answer;
  }

  /** Sends a command that may be refused. */
  attempt<T>(path: string, body: unknown): Promise<Outcome<T>> {
    return this.#post<T>(path, 'application/json', JSON.stringify(body), this.#newKey());
  }

  /** The scanner beeps twice: one command, sent twice under one key, carried out once. */
  async attemptTwice<T>(path: string, body: unknown): Promise<Outcome<T>> {
    const key = this.#newKey();
    const text = JSON.stringify(body);
    const first = await this.#post<T>(path, 'application/json', text, key);
    const second = await this.#post<T>(path, 'application/json', text, key);
    if (JSON.stringify(first) !== JSON.stringify(second)) {
      throw new Error(`POST ${path} was answered otherwise when it was sent again`);
    }
    return second;
  }

  /** Sends a CSV file. @throws Error when it is refused */
  async tellCsv<T>(path: string, text: string): Promise<T> {
    const outcome = await this.#post<T>(path, 'text/csv', text, this.#newKey());
    if (!outcome.done) throw refusal('POST', path, outcome.problem);
    return outcome.answer;
  }

  #newKey(): string {
    this.#sent += 1;
    return `${this.name.replaceAll(' ', '-')}-${String(this.#sent).padStart(6, '0')}`;
  }

  #headers(): Record<string, string> {
    return { Authorization: `Bearer ${this.token}` };
  }

  async #post<T>(path: string, type: string, body: string, key: string): Promise<Outcome<T>> {
    const response = await fetch(`${this.address}${path}`, {
      method: 'POST',
      headers: { ...this.#headers(), 'Content-Type': type, 'Idempotency-Key': key },
      body,
    });
    const answer = await response.json();
    if (response.ok) return { done: true, answer: answer as T };
    const problem = answer as ProblemDocument;
    return { done: false, slug: problem.type.replace('/problems/', ''), problem };
  }
}

function refusal(method: string, path: string, problem: ProblemDocument): Error {
  const more = problem.errors ? ` ${JSON.stringify(problem.errors)}` : '';
  return new Error(`${method} ${path}: ${problem.status} ${problem.type} ${problem.detail}${more}`);
}
