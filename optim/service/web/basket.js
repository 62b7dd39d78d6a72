/** The two candidates to look at side by side; kept for this tab. */

const KEY = "paretorque.side-by-side";

export class Basket {
  #items = JSON.parse(sessionStorage.getItem(KEY) ?? "[]");
  #counter;

  constructor(counter) {
    this.#counter = counter;
    this.#keep();
  }

  /** Items as `RUN:NUMBER`, at most two, the older first. */
  get items() {
    return [...this.#items];
  }

  has(run, number) {
    return this.#items.includes(`${run}:${number}`);
  }

  /** Put a candidate in or take it out; a third one takes the place of the oldest. */
  toggle(run, number) {
    const item = `${run}:${number}`;
    if (this.#items.includes(item)) this.#items = this.#items.filter((i) => i !== item);
    else this.#items = [...this.#items, item].slice(-2);
    this.#keep();
  }

  #keep() {
    sessionStorage.setItem(KEY, JSON.stringify(this.#items));
    this.#counter.textContent = this.#items.length ? `(${this.#items.length})` : "";
  }
}
